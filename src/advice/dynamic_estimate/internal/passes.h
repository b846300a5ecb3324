/// What every pass of Gauss and Newton does once its rows are summed up.
#pragma once

#include "advice/dynamic_estimate/internal/normal_equations.h"

namespace fuelwright::advice {

/// Passes in which residuals are still the table's error, not noise, and what noise and VIF are
/// held to meanwhile, as they usually come out at 20 Hz.
inline constexpr int kEarlyPasses = 3;
inline constexpr double kEarlyRepetition = 10;
inline constexpr double kEarlyScale = 1.5;

/// Mean and covariance of all states before the driving that is looked at.
struct Before {
  Eigen::VectorXd mu;
  Eigen::MatrixXd K;
};
/// known: of earlier driving; nullptr: the priors of the options.
Before before_driving(const DynamicLayout& layout, const car::Grid& grid,
                      const DynamicOptions& options, const Known* known);

/// Residuals against (dynamic.6), pulled towards 1.
double noise_scale_of(double weighted_squares, long samples, const DynamicOptions& options);

/// The step from x. A theta that would go further than one prior standard deviation, or to what
/// cannot be, is held at that limit, and everything else is solved again as if it were known to be
/// there.
struct Step {
  Eigen::VectorXd to;
  double moved = 0;  ///< the table, rms over its nodes
};
Step take_step(const Before& before, Information information, const Eigen::VectorXd& x,
               const DynamicLayout& layout, const DynamicOptions& options);

}  // namespace fuelwright::advice
