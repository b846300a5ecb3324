/// The ensemble: what is believed about an engine's volumetric efficiency before it has run.
///
///   FW_TRY(Drawn drawn, draw_engines(sheet, places, {}));
///   const Ensemble ensemble(std::move(drawn), {});
///   ensemble.ve(i);  ensemble.sd_log(i);  ensemble.covariance();      // of ln VE over the nodes
///
/// ln VE = mean + sum_k c_k (component k) + discrepancy (ensemble.3) Nodes are [y][x]: pressure by
/// pressure, speeds within. Where more than a fifth of the members misfire a node is *unknown*:
/// nothing but a wide guess stands there, to be learned by driving. Theory:
/// docs/theory/ensemble.md.
#pragma once

#include <Eigen/Core>
#include <memory>
#include <span>
#include <string>
#include <vector>

#include "car/tables/surface.h"
#include "physics/ensemble/drawing.h"

namespace fuelwright::physics {

/// What the model itself is wrong by, beside its inputs: smooth over the map, standard deviations
/// of ln VE. Source of the full-throttle figures: one engine, a 1.9-litre four
/// (docs/theory/ensemble.md); they are no more than a first guess for others.
struct Discrepancy {
  double full_level = 0.05;        ///< common to all of full throttle
  double full_shape = 0.06;        ///< changing with speed at full throttle
  double full_length_rpm = 700;    ///< over which it changes
  double full_length_load = 0.35;  ///< of manifold over ambient pressure
  double full_from = 0.55;         ///< of ambient pressure: below it nothing of these two is left
  double full_at = 0.90;           ///< from here on all of it
  double smooth = 0.015;           ///< everywhere
  double smooth_length_ln_speed = 0.35;
  double smooth_length_load = 0.35;

  /// What is always kept where truth and model share one code: the everywhere part alone.
  static Discrepancy only_smooth() { return {.full_level = 0, .full_shape = 0}; }
};

/// A direction that an engine outside its family could lie in (suspects.h).
struct Suspect {
  std::string part;        ///< Part::id; empty: no part of the sheet
  std::string name;        ///< "runner length (less)", "a cylinder that takes no air"
  Eigen::VectorXd change;  ///< of ln VE, [node], at the most it is looked for
};

struct EnsembleSettings {
  Discrepancy discrepancy = {};
  /// ln(whole-engine VE / one-cylinder VE) at the nodes, added to the mean; empty: that of
  /// Drawn::whole where both forms burn and settle, at most 25 %, if it is there.
  std::vector<double> structure = {};
  double structure_doubt = 0.3;  ///< share of it that stays in doubt (one standard deviation)
  double scale_sd = 0.04;  ///< common error of whatever observes VE (injectors, sensor), of ln
  double components_share = 0.995;
  int most_components = 30;
  std::vector<Suspect> suspects = {};  ///< computed ones (suspects.h); empty: the parts' steps
};

class Ensemble {
 public:
  /// `drawn`: 8 members or more, all over the same places. Broken contracts otherwise.
  explicit Ensemble(Drawn drawn, const EnsembleSettings& settings = {});

  const Drawn& drawn() const { return *drawn_; }
  const EnsembleSettings& settings() const { return settings_; }
  Eigen::Index nodes() const { return mean_.size(); }
  Eigen::Index members() const { return drawn_->z.rows(); }

  /// Median of VE: exp of the mean of ln VE. For an unknown node a guess.
  double ve(Eigen::Index node) const;
  double sd_log(Eigen::Index node) const;  ///< all of it: members, structure, discrepancy
  bool known(Eigen::Index node) const { return known_[static_cast<std::size_t>(node)]; }
  double reachable_share(Eigen::Index node) const { return reachable_[node]; }

  const Eigen::VectorXd& mean() const { return mean_; }              ///< of ln VE, structure in it
  const Eigen::MatrixXd& components() const { return components_; }  ///< [node][k], sd in them
  double components_hold() const { return held_; }  ///< share of the members' variance
  /// Of ln VE: components, what they leave out (on the diagonal), structure, discrepancy. Positive
  /// definite.
  const Eigen::MatrixXd& covariance() const { return covariance_; }
  /// The part of it that comes from the members alone.
  Eigen::MatrixXd covariance_of_members() const;
  /// Deviations of the members from the mean, ln VE, [member][node]; 0 at unknown nodes.
  const Eigen::MatrixXd& deviations() const { return deviations_; }
  /// Change of ln VE when one part alone moves by z = +1, [part][node]; 0 rows if there are no
  /// steps, 0 at unknown nodes.
  const Eigen::MatrixXd& sensitivities() const { return sensitivities_; }

  /// ln VE of `count` engines that could be this one, [draw][node].
  Eigen::MatrixXd draws(int count, std::uint64_t seed) const;
  /// The members as they would be with structure and one draw of the discrepancy each: VE and
  /// trapped masses are moved, the rest is as computed. For curves (torque, airflow) with honest
  /// intervals.
  std::vector<AirMap> honest_members(std::uint64_t seed) const;

 private:
  void take_members();
  void take_steps();
  void take_covariance();
  Eigen::MatrixXd discrepancy() const;

  std::shared_ptr<const Drawn> drawn_;
  EnsembleSettings settings_;
  std::vector<bool> known_;
  Eigen::VectorXd reachable_, mean_, left_out_, structure_;
  Eigen::MatrixXd deviations_, components_, sensitivities_, covariance_;
  double held_ = 1;
};

/// Weights that carry ln VE from the ensemble's nodes to the nodes of a grid, [grid node][ensemble
/// node]: bilinear, edges hold. Axes: engine speed against manifold pressure or vacuum. Errors:
/// bad_input for a throttle axis (the air through a throttle is not in the ensemble).
Result<Eigen::MatrixXd> weights_onto(const Ensemble& ensemble, const car::Grid& grid);

/// The value below which a share of the values lies, 0 <= share <= 1: linear between order
/// statistics, value i (of n, sorted) at share (i + 0.5)/n (Hazen). `values` not empty; NaN is a
/// broken contract.
double quantile(std::span<const double> values, double share);
struct Interval {
  double low = 0, middle = 0, high = 0;
};
/// 2.5, 50 and 97.5 % of the values.
Interval interval_of(std::span<const double> values);

}  // namespace fuelwright::physics
