/// From the joint posterior to nodes, marks and words.
#pragma once

#include "advice/dynamic_estimate/internal/normal_equations.h"
#include "advice/dynamic_estimate/known.h"

namespace fuelwright::advice {

/// `x`: mean of all states; `C`: their covariance; `prior_sd`: of the nodes, before all driving.
MapEstimate outcome(const car::Surface& start, car::TableWhat what, const DynamicLayout& layout,
                    const Eigen::VectorXd& x, const Eigen::MatrixXd& C, const NodeDriving& nodes,
                    const Eigen::VectorXd& prior_sd, double repetition,
                    const DynamicOptions& options);
/// The whole answer from what is known: table, dynamics, notes, verdict.
DynamicEstimate describe_known(const car::Surface& start, car::TableWhat what,
                               const DynamicLayout& layout, const Known& known,
                               const HeldPoint& point, const Eigen::VectorXd& prior_sd,
                               const DynamicOptions& options);

}  // namespace fuelwright::advice
