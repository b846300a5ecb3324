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
#include <string>

#include "physics/ensemble/ensemble.h"

namespace fuelwright::physics {

struct Observed {
  Eigen::MatrixXd rows;   ///< H, [observation][node]: the shares of the nodes it saw
  Eigen::VectorXd ln_ve;  ///< y
  Eigen::MatrixXd
      noise;  ///< R, covariance of y's own errors (the common one left out), positive definite
};

enum class Family { inside, doubtful, outside };
const char* name_of(Family verdict);

/// Chi-squared of the observations against what the ensemble had predicted, r' S^-1 r with
/// S = H K H' + R; and its two parts: what the ensemble was asked to take up, over the number of
/// things it could take up, and what it left, over the rest. Each is about 1 for an engine of the
/// family.
struct FamilyTest {
  double chi2_per_cell = 0;  ///< all of it over the number of observations
  int cells = 0;
  double freedom = 0;   ///< tr(S^-1 H K H'): how many things the observations can tell (ensemble.8)
  double taken_up = 0;  ///< per freedom
  double left_over = 0;  ///< per observation beyond it
  double chance = 1;     ///< that an engine of the family does worse, of the worst of the three
  Family verdict = Family::inside;
  /// False: nothing outside the observed places may be believed.
  bool may_extrapolate() const { return verdict != Family::outside; }
  std::string says() const;  ///< one line for people
};

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

/// The same, and held to its own verdict. For an engine outside the family, nodes that were not
/// seen stay as the ensemble had them. Nodes that were seen (by shares of kSeen or more in all)
/// follow what was seen of them, f + s: every node is given a roughness of its own, just enough for
/// chi2/n = 1 (ensemble.10). Engine and scale are then not told apart (scale 0, its sd 0). `family`
/// says what the test said.
Result<Narrowed> narrow(const Ensemble& ensemble, const Observed& observed);
inline constexpr double kSeen = 0.5;

}  // namespace fuelwright::physics
