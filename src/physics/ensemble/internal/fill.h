/// Missing values of members, and the smooth covariance of what the model is wrong by.
#pragma once

#include <Eigen/Core>

#include "physics/ensemble/ensemble.h"

namespace fuelwright::physics::internal {

struct Filled {
  Eigen::VectorXd mean;        ///< per column
  Eigen::MatrixXd deviations;  ///< [row][column], complete
  Eigen::VectorXd
      filled_variance;  ///< per column: what the filled values would still scatter by, averaged
};
/// NaN in `values` is missing: replaced by its mean given the row's other values, from the
/// covariance of the rows themselves, until it settles (expectation-maximisation with a small
/// ridge).
Filled fill_missing(const Eigen::MatrixXd& values);

/// Matern 5/2 of a scaled distance: twice differentiable.
double matern52(double distance);
/// Covariance of the discrepancy over the places, [node][node].                        (ensemble.5)
Eigen::MatrixXd discrepancy_covariance(const Discrepancy& d, const MapPlaces& places);

}  // namespace fuelwright::physics::internal
