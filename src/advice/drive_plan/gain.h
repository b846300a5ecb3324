/// What driving somewhere will teach, known before it is driven: a Gaussian's variance does not
/// depend on what is read.
///
///   y_k = phi_k' delta + b + e_k,   var e_k = sd^2 VIF/(rate t_k),   var b = sd_b^2 (drive_plan.4)
///   S = Phi' C Phi + diag(var e) + sd_b^2 1 1',   C <- C - C Phi S^-1 Phi' C (drive_plan.5) gain =
///   tr(G C) - tr(G C') = tr(S^-1 Phi' C G C Phi)                              (drive_plan.6)
///
/// phi_k shares of the nodes at a visited point, t_k the seconds there, VIF what neighbouring
/// readings repeat, b what all readings of one step share (drift of the sensor), G the use of the
/// car: sum of weight phi phi'. By hand, one node of 5 %, four seconds of readings each to 2 %:
/// sd^2/n = 1e-4, C' = 25e-4 1e-4/(26e-4) = 0.9615e-4, 0.98 %. Source: conditioning of a Gaussian,
/// textbook; choosing measurements by the expected fall of variance, MacKay 1992 (from memory).
#pragma once

#include <Eigen/Core>
#include <vector>

#include "car/tables/surface.h"

namespace fuelwright::advice {

/// Readings of the mixture, as they come while nothing moves.
struct Readings {
  double sd = 0.006;  ///< of one, ln [-]; as DynamicOptions::h0
  double rows_per_second = 20;
  double repetition = 8;     ///< VIF; 6 to 9 at 20 Hz (docs/theory/dynamic_estimate.md)
  double shared_sd = 0.006;  ///< what one step's readings have in common; as its drift

  double level_sd = 0;  ///< what all readings have in common, however long one drives

  /// Variance of the mean of so many seconds of driving; `moving`: factor on the noise.
  double variance(Duration time, double moving) const;
};

/// A place that a step visits.
struct Visit {
  car::NodeShares shares;
  Duration time;         ///< that teaches
  double moving = 1;     ///< noise there over the noise of a steady hold [-]
  double shared_sd = 0;  ///< more of what the step's readings have in common, from this place on
};

/// How well each node is known, as a plan goes on.
class Knowing {
 public:
  /// covariance: of ln(true/table), [node][node]; floor_sd: what no driving takes away, one a node.
  Knowing(Eigen::MatrixXd covariance, Eigen::VectorXd floor_sd, const Readings& readings);

  /// Fall of tr(G C). G as prepared by look().
  double gain(const std::vector<Visit>& visits) const;
  /// To be called with the use before gain(), and again after take().
  void look(const Eigen::MatrixXd& use);
  /// The visits are driven.
  void take(const std::vector<Visit>& visits);

  const Eigen::MatrixXd& covariance() const { return C_; }
  /// Of a place, floor included; never under the level that all readings share, where the place
  /// was not better known before.
  double sd(const car::NodeShares& at) const;
  double floor(const car::NodeShares& at) const;

 private:
  Eigen::MatrixXd innovation(const std::vector<Visit>& visits) const;

  Eigen::MatrixXd C_, CGC_;
  Eigen::VectorXd floor_sd_, kept_;  // kept_: variance that readings of one level leave
  Readings readings_;
};

}  // namespace fuelwright::advice
