/// A recorded pull's rail pressure: what it says of regulator and pump.
///
/// While the rail holds, it says the setting, and of the pump only that it is strong enough; where
/// it falls, pump and injectors are in balance, and what the injectors pass at the recorded
/// pressure is what the pump sends there (with its own wiring, filter and hose):
///
///   Q_i = Q_need sqrt(dp_i/dp_set),  k_i = Q_i/Q_pump(p_i + losses(Q_i); k = 1) (supply.21)
///
/// A pump of strength k then leaves the rail at p(k) = min(set, p_i + (k - k_i) dp/dk), and k and
/// set have the density
///
///   exp(-1/2 sum ((p(k, set) - p_i)/s)^2) times their prior (supply.24)
///
/// s 0.5 % of the rail, 500 Pa or more; prior of ln k the rating's, with one part in twenty of it
/// 0.4 wide (pumps wear); prior of the setting 5 %. One k and set are drawn for every system that
/// could be this one, so that its rail is the recorded one. The weight of a system's other parts is
/// left as it was. k gathers whatever weakens the pump: a trace alone cannot tell a worn pump from
/// thin wires.
#pragma once

#include <optional>
#include <span>
#include <vector>

#include "base/result.h"
#include "physics/supply/system.h"

namespace fuelwright::physics::supply {

/// Series of one pull at full throttle, in the order of time.
struct RailTrace {
  std::vector<EngineSpeed> speed;
  std::vector<GaugePressure> rail;
  std::vector<AbsolutePressure> manifold;
};

struct RailBin {
  EngineSpeed speed;
  AbsolutePressure manifold;
  GaugePressure rail;  ///< mean of the samples in it
  int samples = 0;
};
/// The trace in at most 12 bins of speed. Errors: bad_input for other sizes, numbers that are not
/// finite, or fewer than 8 samples; out_of_range unless the speeds span 500 rpm or more.
Result<std::vector<RailBin>> binned(const RailTrace& trace);

struct StrengthPrior {
  double ln_middle = 0;  ///< of pump.strength
  double sd = 0.1;       ///< of its logarithm
};
/// Where in its distribution a value is taken, each 0..1; the means if there is no draw.
struct TraceDraw {
  double strength = 0.5, setting = 0.5;
  PressureStep sensor{};  ///< common error of the gauge: reads so much too high
};
/// Sets pump.strength and regulator.setting by (supply.24). `needs`: fuel over speed of the same
/// engine, between them straight; bins outside their speeds are left out (all: nothing is done).
void fit_to(System* s, std::span<const RailBin> bins, std::span<const Need> needs,
            const StrengthPrior& prior, const std::optional<TraceDraw>& draw);

}  // namespace fuelwright::physics::supply
