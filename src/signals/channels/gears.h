/// Gears: where engine speed over road speed gathers, a recording was driven in a gear.
///
/// With the clutch closed, rpm per km/h is fixed by gear, axle and tyre; so its histogram has one
/// peak per gear used. Slip of a clutch or a converter, and values that were not taken in one
/// instant, widen the peaks.
#pragma once

#include <span>
#include <string>
#include <vector>

namespace fuelwright::signals {

struct Gear {
  double rpm_per_kmh = 0;  ///< where the peak stands: median of its rows, (recordings.1)
  double spread = 0;       ///< relative, half the width that holds the middle 68 % of its rows
  double share = 0;        ///< of the moving rows
  std::size_t rows = 0;
};

struct Gears {
  std::vector<Gear> gears;  ///< tallest gear (fewest rpm per km/h) first
  std::size_t moving_rows = 0;
  std::string reason;  ///< how many, or why there are none
};

/// Peaks of the smoothed histogram of ln(rpm per km/h), over rows faster than 10 km/h and 600 rpm
/// (or 1.2 times the idle speed, where the recording shows one: slower, the car rolls with the
/// clutch open). A peak counts if it stands at least 1.5 times as high as the valleys beside it and
/// holds 1 % of the moving rows, 60 at least; of two nearer than 17 % the higher counts.
/// engine_speed_rpm and road_speed_si (m/s): one value a row, NaN for a gap, of equal length.
Gears find_gears(std::span<const double> engine_speed_rpm, std::span<const double> road_speed_si);

}  // namespace fuelwright::signals
