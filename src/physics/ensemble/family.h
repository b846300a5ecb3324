/// Does the engine belong to the ensemble of its sheet at all?
///
///   const FamilyTest test = family_test(ensemble, observed);
///   if (!test.may_extrapolate()) ...       // the parts on the sheet are not those in the car
///
/// It is told of the kinds of engine that a sheet can be wrong about (suspects.h), and names the
/// one it looks like most. What acts at full throttle alone cannot be seen from light load by any
/// test: advice/outlook checks each step of the ladder.
///
/// What was observed is taken apart into modes, those first that the members differ by most, each
/// standard normal for an engine of the family. How surprising it is is not read from a table of
/// chi-squared but from the members themselves: each is judged in turn by all the others, with
/// noise, common error and discrepancy drawn, and `chance` is the share of them that look worse.
/// Theory: docs/theory/ensemble.md, family test.
#pragma once

#include <Eigen/Core>
#include <string>

#include "physics/ensemble/ensemble.h"

namespace fuelwright::physics {

struct Observed {
  Eigen::MatrixXd rows;   ///< H, [observation][node]: the shares of the nodes it saw
  Eigen::VectorXd ln_ve;  ///< y
  /// R, covariance of y's own errors (the common one left out), positive definite
  Eigen::MatrixXd noise;
};

enum class Family { inside, doubtful, outside };
const char* name_of(Family verdict);

/// Marks of one residual, each about 1 for an engine of the family, and what they come to.
struct FamilyTest {
  double chi2_per_cell = 0;  ///< r' S^-1 r over the number of observations
  int cells = 0;
  double freedom = 0;    ///< how many things the members could differ by, as seen (ensemble.8)
  double taken_up = 0;   ///< what the members had to be stretched for, per freedom
  double left_over = 0;  ///< what no member can be stretched to, per observation beyond it
  int strong = 0;        ///< modes in which the members differ by more than all the rest
  double in_strong = 0;  ///< per one of them; 0 if there are none
  /// What it looks like most of all that an engine outside its family could be, and by how many
  /// standard deviations (ensemble.14); empty and 0 where nothing of the kind would be seen.
  std::string suspect;
  double suspect_sd = 0;
  double worst_mark() const;  ///< of the four that are about 1 each
  double chance = 1;  ///< that an engine of the family looks as bad, all marks taken together
  Family verdict = Family::inside;
  /// False: nothing outside the observed places may be believed.
  bool may_extrapolate() const { return verdict != Family::outside; }
  std::string says() const;  ///< one line for people
};

/// Of engines of the family at most so many are called doubtful or outside, and outside; and no
/// engine is outside whose worst mark is not this many times what it should be.     (ensemble.12)
inline constexpr double kDoubtfulChance = 0.05, kOutsideChance = 0.01, kOutsideMark = 2;

/// At least one observation, finite, `noise` a covariance, sizes that fit: contracts (condition.h
/// checks what comes from the world). Same input, same answer: draws are seeded.
/// Cost: one eigenproblem of the observations, then some thousand products of the observations.
FamilyTest family_test(const Ensemble& ensemble, const Observed& observed);

}  // namespace fuelwright::physics
