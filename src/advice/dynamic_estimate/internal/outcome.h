/// From the joint posterior to nodes, marks and words.
#pragma once

#include "advice/dynamic_estimate/internal/normal_equations.h"

namespace fuelwright::advice {

/// What driving showed about the nodes themselves.
struct NodeDriving {
  Eigen::VectorXd seconds;  ///< used, by share
  Eigen::VectorXd all;      ///< used or not: how the car is used
  Eigen::VectorXd settled;  ///< of `seconds`: high load that had lasted
  double ln_open_load = 0;  ///< mean of ln(VE p / (PW - d0)): where an injector opens how long
  double inverse_open = 0;  ///< mean of 1/(PW - d0) [1/s]
  double weight = 0;        ///< rows in the two means
};

/// `mu_x`: mean of all states; `C`: their covariance.
MapEstimate outcome(const car::Surface& start, car::TableWhat what, const DynamicLayout& layout,
                    const Eigen::VectorXd& mu_x, const Eigen::MatrixXd& C, const NodeDriving& nodes,
                    double repetition, const DynamicOptions& options);
/// Verdict and reason, once samples and seconds are known.
void judge_outcome(MapEstimate& out);

}  // namespace fuelwright::advice
