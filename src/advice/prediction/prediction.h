/// What is predicted of an engine before it runs: full throttle, idle, and the map for the first
/// calibration, each with the interval in which 95 of 100 engines of this sheet lie.
///
///   FW_TRY(const Prediction p, predict_engine(sheet, ensemble, {}));
///   p.full.peak_power_w.middle;      // and .low, .high
///   FW_TRY(const FirstCalibration first, first_calibration(sheet, p.air));
///
/// Air from the ensemble, burn and friction from physics/combustion with their own unknowns drawn
/// beside it. Theory: docs/theory/prediction.md.
#pragma once

#include <optional>
#include <vector>

#include "advice/first_calibration/first_calibration.h"
#include "advice/prediction/charge.h"
#include "physics/ensemble/ensemble.h"

namespace fuelwright::advice {

/// Over the speeds of full throttle; SI.
struct FullThrottle {
  std::vector<EngineSpeed> speeds;
  std::vector<AbsolutePressure> pressures;  ///< manifold pressure taken there
  std::vector<physics::Interval> ve, torque_nm, power_w, fuel_kg_s, bsfc_kg_j, spark_deg, exhaust_k;
  std::vector<double> knock_limited;  ///< share of the engines whose spark the fuel limits
  physics::Interval peak_torque_nm, peak_torque_rpm, peak_power_w, peak_power_rpm;
  double air_half_width =
      0;  ///< 95 %, of ln air, rms over the speeds: how well full-throttle fuel is known
  /// [engine][speed]: air through the intake valves, power; 0 where an engine does not burn.
  std::vector<std::vector<double>> air_of_kg_s, power_of_w;
};

/// Where an engine turns with nothing to drive but itself and what hangs on it.
struct NoLoad {
  EngineSpeed speed;
  car::Lambda mixture;
  double friction = 1;         ///< over that of a warm engine that has run in [-]
  double below_best_deg = 12;  ///< spark short of best torque; idle keeps so much in hand
};

/// Warm idle at the wished speed, or another place without load.
struct Idle {
  EngineSpeed speed;
  double runs = 0;                          ///< share of the engines that hold it at some pressure
  std::optional<physics::Interval> map_pa;  ///< of those that do, where more than half do
  physics::Interval air_kg_s{};
  std::vector<double> air_of_kg_s;     ///< of each of those that hold it
  std::vector<double> map_of_pa;       ///< the same, manifold pressure
  std::vector<std::size_t> engine_of;  ///< which of the members each is
  double residual = 0;                 ///< mean of those
  double spark_deg = 0;                ///< taken
  bool known() const { return runs > 0.8 && map_pa.has_value(); }
};

/// What another mixture costs at one place.
struct MixtureChoice {
  std::string where;  ///< "full throttle at 5400 rpm"
  car::Lambda from, to;
  double torque = 0, fuel = 0, bsfc = 0;  ///< change, shares of 1
  double torque_half_width = 0;
};

struct Prediction {
  AirPrediction air;  ///< on the unit's own axes
  FullThrottle full;
  Idle idle;
  std::vector<MixtureChoice> mixtures;
};

/// Draws that must not move together take their numbers from different seeds, this far from
/// PredictionSettings::seed; the engines have the seed itself.
inline constexpr std::uint64_t kOfDiscrepancy = 1'000'003, kOfBurn = 2'000'003;

struct PredictionSettings {
  std::uint64_t seed = 1;
  double fine_axes = true;  ///< also VE on a fine grid, for the breakpoints
};

/// Places at which the air is computed for this sheet: speeds from below idle to above the rev
/// limit, pressures from deep overrun to ambient (or as high as the unit's axis goes).
physics::MapPlaces places_for(const car::Sheet& sheet);

/// Errors: those of burner_of(); bad_input for a throttle axis.
Result<Prediction> predict_engine(const car::Sheet& sheet, const physics::Ensemble& ensemble,
                                  const PredictionSettings& settings = {});

/// Manifold pressure behind the open throttle, without boost: what ducts and throttles usually
/// lose, growing with the flow.
AbsolutePressure open_throttle(const car::Sheet& sheet, EngineSpeed speed);

/// Full throttle of some engines that differ in their air, burn and friction; `members` over the
/// same places.
Result<FullThrottle> full_throttle(const car::Sheet& sheet,
                                   const std::vector<physics::AirMap>& members, std::uint64_t seed);
/// Burn and friction as they could be, one for each of `count` engines: the spreads of
/// physics/combustion.
std::vector<physics::CombustionUnstated> drawn_combustion(int count, std::uint64_t seed);

/// Idle by energy: the manifold pressure at which the burn carries friction and pumping,
/// accessories included.
Result<Idle> idle_of(const car::Sheet& sheet, const std::vector<physics::AirMap>& members,
                     std::uint64_t seed);
/// The same anywhere without load.
Result<Idle> no_load(const car::Sheet& sheet, const std::vector<physics::AirMap>& members,
                     std::uint64_t seed, const NoLoad& at);

}  // namespace fuelwright::advice
