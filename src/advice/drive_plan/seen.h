/// What earlier recordings show of the car on its road: pressure at idle, and by how much more or
/// less pressure the road load asks for than computed.
///
///   p recorded - p by (drive_plan.2) = low w + high (1 - w),   w = (60 kPa - p)/30 kPa in 0..1
///                                                                                (drive_plan.8)
///
/// fitted to the medians over 5 kPa of rows of steady speed; believed before: 0 with 6 kPa each. So
/// light load alone moves light load alone. The gear is not needed: engine over road speed says the
/// ratio. No recording with a road speed, or loads that no road explains (a dyno's: the middle half
/// of the ratios further apart than 0.4 of their median): both stay 0.
#pragma once

#include <optional>
#include <span>

#include "car/build/sheet.h"
#include "car/tables/surface.h"
#include "signals/channels/channel.h"

namespace fuelwright::advice {

struct Seen {
  std::optional<AbsolutePressure> idle;  ///< median, standing and warm
  PressureStep low{}, high{};            ///< at 30 and 60 kPa computed; -12 to 15 kPa
  Duration steady{};                     ///< driving behind these two
};
Seen seen_in(std::span<const signals::Recording* const> recordings, const car::Sheet& sheet,
             const car::Surface* ve);

}  // namespace fuelwright::advice
