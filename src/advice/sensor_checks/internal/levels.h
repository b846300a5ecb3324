/// The level of the mixture over time, what depends on the place taken out.
///
///   y_i = sum_k phi_k(n_i, p_i) place_k + c_1 ln(T_in/mean) + c_2 ln(T_cool/mean) + level_j + e_i
///   place_k ~ N(0, 0.10^2), c ~ N(0, 0.5^2), var e = sd^2 VIF                     (sensor_checks.12)
///
/// phi: shares of the nodes of a grid over speed and load (a wrong table); c: how the unit takes
/// the charge's temperature; level j: a block of driving. All at once by least squares, so that the
/// covariance says how well a level is told apart from the places that were visited then. Scaled by
/// what is left over, block by block and place by place.
///
///   S = covariance + s^2 e^(-|t_j - t_k|/tau),   s 0.6 %, tau 120 s: sound sensors wander
///   y = a + size h(t):   size = h' P y/(h' P h),   var = 1/(h' P h)            (sensor_checks.15)
///
/// P = S^-1 with the constant a projected out; h a step at some time, or a line.
#pragma once

#include <Eigen/Core>
#include <optional>
#include <vector>

#include "advice/sensor_checks/internal/looking.h"

namespace fuelwright::advice {

struct Levels {
  std::vector<double> t;  ///< middle of each block [s]
  Eigen::VectorXd level;  ///< ln
  Eigen::MatrixXd S;      ///< covariance, wander of a sound sensor included
  double last() const { return t.back(); }
};

/// ln(lambda/target) + ln(1 + correction) of one bank; none with fewer than `least` blocks.
std::optional<Levels> levels_of(const Looking& l, int bank, std::size_t least);

struct Change {
  double size = 0, sd = 1;
  double t = 0;  ///< of a step
  double z() const { return std::abs(size) / sd; }
};

/// Shapes along which levels can change.
class Changes {
 public:
  explicit Changes(const Levels& levels);
  /// From the first block to the last.
  Change line() const;
  /// The strongest step with three blocks or more on either side; none if there are too few.
  std::optional<Change> strongest_step() const;

 private:
  Change along(const Eigen::VectorXd& h) const;
  const Levels& levels_;
  Eigen::MatrixXd P_;
};

}  // namespace fuelwright::advice
