/// Where the engine stands without load: idle, and 2000 to 2500 rpm where a new flat-tappet cam is
/// run in. What the manifold pressure will be, how the table in force feeds the engine there, and
/// how sure that is.
///
///   lambda_k = target VE_k(n, p_k)/VE_table(n, p_k) * f                           (first_start.5)
///   chance(lean) = mean over engines of Phi((ln lambda_k - ln limit)/s_f)         (first_start.6)
///
/// p_k: manifold pressure at which engine k of the ensemble just turns; f: ln-normal doubt of
/// injectors, pressures, fuel and dead time (s_f), from the tolerances of the sheet and 0.35 kPa of
/// the pressure sensor. Where driving has shown the table (evidence) VE_k is that, with its own sd.
#pragma once

#include <cstdint>
#include <optional>
#include <vector>

#include "advice/prediction/prediction.h"
#include "car/tables/evidence.h"

namespace fuelwright::advice {

inline constexpr double kRunInFrom_rpm = 2000, kRunInTo_rpm = 2500;  // common practice, no source

struct RunningOptions {
  /// Leaner than this the engine runs hot and uneven at the speed of the run-in. 0.85..1.10.
  car::Lambda lean_limit = car::lambda(1.0);
  car::Lambda idle_limit = car::lambda(1.05);  ///< leaner a warm idle stumbles (common practice)
  double lean_chance = 0.01;                   ///< of being leaner that is taken, 0.0005..0.2
  bool run_in = false;                         ///< also the speeds of the run-in
  std::optional<Temperature> start;            ///< of the engine; none: warm alone
  const car::Evidence* evidence = nullptr;     ///< of VE, of this engine as it stands
  std::uint64_t seed = 1;
};

/// What comes of the table in force at a place.
struct TableThere {
  car::Lambda target;
  physics::Interval lambda{};  ///< that will be there, 95 %
  double half_width = 0;       ///< 95 %, of ln lambda [-]
  car::Lambda limit;
  double chance_lean = 0;           ///< of being leaner than the limit
  double chance_taken = 0;          ///< RunningOptions::lean_chance
  double richer = 0;                ///< share of fuel to add so that no more is left of it; 0: none
  physics::Interval lambda_then{};  ///< with it, 95 %
};

struct PlaceWithoutLoad {
  EngineSpeed speed;
  double runs = 0;                               ///< share of the engines that hold it
  std::optional<physics::Interval> map_pa;       ///< warm; where more than half do
  std::optional<physics::Interval> cold_map_pa;  ///< with the oil at the start's temperature
  physics::Interval air_kg_s{};
  double residual = 0;
  std::optional<TableThere> table;  ///< none without a VE table in force
  bool known() const { return runs > 0.8 && map_pa.has_value(); }
};

struct Running {
  int engines = 0;
  bool by_driving = false;  ///< the table was judged by evidence, not by the parts
  PlaceWithoutLoad idle;
  std::vector<PlaceWithoutLoad> run_in;  ///< 2000, 2250, 2500 rpm; empty if it was not asked for
};

/// Errors: those of no_load(); out_of_range for options outside their bounds.
Result<Running> running_of(const car::Sheet& sheet, const physics::Ensemble& ensemble,
                           const car::Calibration& calibration, const RunningOptions& options);

/// The same place of some engines over one table, for whoever has members already.
struct MembersThere {
  std::vector<double> map_pa, ve;  ///< of each engine that holds it
  double fuel_sd = 0;              ///< s_f
  double own_sd = 0;               ///< of ln VE beside the spread of `ve`
};
/// (first_start.5), (first_start.6). `table`, `target`: over one operating point's axes; not empty.
TableThere table_there(const MembersThere& members, const car::Surface& table,
                       const car::Surface* target, car::Lambda otherwise, EngineSpeed speed,
                       AbsolutePressure ambient, car::Lambda limit, double lean_chance);

/// s_f at this much fuel for one squirt: flow, pressures, density and stoichiometry of the sheet,
/// dead time over the effective pulse, 0.35 kPa of manifold pressure.
double fuel_doubt(const car::Sheet& sheet, Mass squirt, AbsolutePressure map);

/// Friction of cold oil over that of a warm engine, as the calibration's idle air takes it; 1 where
/// the calibration has no such curve.
double cold_friction(const car::Calibration& calibration, Temperature start);

}  // namespace fuelwright::advice
