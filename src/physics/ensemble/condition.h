/// Narrowing an ensemble by what has been measured, and whether the engine belongs to it at all.
///
///   FW_TRY(const Narrowed now, narrow(ensemble, {rows, ln_ve, noise}));
///   if (!now.family.may_extrapolate()) ...          // the parts on the sheet are not those in the
///   car
///
/// Observations are y = H f + s 1 + noise: f ln VE at the nodes, s one error common to all of them
/// (injectors, sensor). f and s are learned together, exactly (Gaussian); f alone is the engine's
/// VE, f + s is what the tables of this car must say to get the fuel right with these injectors.
#pragma once

#include <Eigen/Core>

#include "physics/ensemble/family.h"

namespace fuelwright::physics {

struct Narrowed {
  Eigen::VectorXd mean;  ///< of ln VE
  Eigen::MatrixXd covariance;
  double scale = 0;  ///< s, ln: more fuel or less than meant, seen everywhere alike
  double scale_sd = 0;
  Eigen::VectorXd with_scale;  ///< covariance of s with every node
  FamilyTest family;

  Eigen::VectorXd fuelled() const;  ///< mean of f + s
  Eigen::MatrixXd fuelled_covariance() const;
  Eigen::VectorXd sd_log() const { return covariance.diagonal().cwiseMax(0.0).cwiseSqrt(); }
  Eigen::VectorXd fuelled_sd_log() const {
    return fuelled_covariance().diagonal().cwiseMax(0.0).cwiseSqrt();
  }
};

/// Exact conditioning, whatever the family test says. Errors: out_of_range if an observation is not
/// a finite number or the noise is no covariance. No rows: the ensemble as it is. Rows of other
/// sizes are broken contracts. An engine outside the family is no error.
Result<Narrowed> conditioned(const Ensemble& ensemble, const Observed& observed);

/// The same, and held to its own verdict. Of a doubtful engine all variances are widened by its
/// worst mark (ensemble.13). For an engine outside the family, nodes that were not seen stay as the
/// ensemble had them. Nodes that were seen (by shares of kSeen or more in all) follow what was seen
/// of them, f + s: every node is given a roughness of its own, just enough for chi2/n = 1
/// (ensemble.10). Engine and scale are then not told apart (scale 0, its sd 0). `family` says what
/// the test said.
Result<Narrowed> narrow(const Ensemble& ensemble, const Observed& observed);
inline constexpr double kSeen = 0.5;

}  // namespace fuelwright::physics
