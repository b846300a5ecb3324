/// What the engine asks of its fuel system, engine by engine of the ensemble; and how far knock is.
///
///   FW_TRY(const Asked asked, fuel_demand(sheet, ensemble));
///   FW_TRY(const SupplyAnswer a, physics::supply::size_supply(sheet, asked.demand, {}));
///
/// Air and power over speed are those of full_throttle(), the idle is that of idle_of(): the same
/// engines as a prediction shows.
#pragma once

#include <optional>

#include "advice/prediction/prediction.h"
#include "physics/supply/demand.h"

namespace fuelwright::advice {

struct Asked {
  physics::supply::Demand demand;
  FullThrottle full;
  Idle idle;
};
/// An idle that less than half of the engines hold leaves demand.idle empty. Errors: those of
/// full_throttle() and idle_of().
Result<Asked> fuel_demand(const car::Sheet& sheet, const physics::Ensemble& ensemble,
                          const PredictionSettings& settings = {});

/// Compression and octane against the knock model, full throttle of the engine as the sheet has it,
/// at the speed from 2000 rpm on where knock takes most of the work.
struct KnockRoom {
  EngineSpeed speed{};
  double mbt_deg = 0, limit_deg = 0, limit_half_width_deg = 0;  ///< before top dead centre
  double torque_lost = 0;  ///< by the spark held back from MBT, share of indicated work [-]
  double compression = 0;  ///< as the sheet has it [-]
  double octane = 0;       ///< research octane number of the fuel
  /// Least octane with MBT within the limit, and highest compression that this fuel burns at MBT;
  /// none: beyond 120, below 6.
  std::optional<double> octane_needed, compression_free;
  /// Spark left is too little for any such engine: below it the heat goes into the exhaust
  /// (practice: 10 deg).
  bool too_much_compression() const { return limit_deg < 10; }
};
/// Errors: those of burner_of() and working_gas(); out_of_range where the engine burns at no speed.
Result<KnockRoom> knock_room(const car::Sheet& sheet, const physics::AirMap& centre);

}  // namespace fuelwright::advice
