/// What earlier recordings show of the car on its road: pressure at idle, and by how much the road
/// load asks for more or less pressure than computed.
///
///   factor = median of p recorded / p by (drive_plan.2), rows of steady speed (drive_plan.8)
///
/// The gear is not needed: engine over road speed says the ratio. No recording with a road speed,
/// or loads that no road explains (a dyno's: the middle half of the ratios further apart than 0.4
/// of their median): the factor stays 1.
#pragma once

#include <optional>
#include <span>

#include "car/build/sheet.h"
#include "car/tables/surface.h"
#include "signals/channels/channel.h"

namespace fuelwright::advice {

struct Seen {
  std::optional<AbsolutePressure> idle;  ///< median, standing and warm
  double factor = 1;                     ///< 0.6 to 1.7
  Duration steady{};                     ///< driving behind the factor
};
Seen seen_in(std::span<const signals::Recording* const> recordings, const car::Sheet& sheet,
             const car::Surface* ve);

}  // namespace fuelwright::advice
