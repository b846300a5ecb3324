/// A speed cycle: how fast to drive at each second, as text of two columns.
///
///   FW_TRY(const Cycle cycle, read_cycle("time_s,speed_mps\n0,0\n1,0.5\n", "town.csv"));
///   cycle.speed_at(0.5 * second);      // between the points, linear
#pragma once

#include <string_view>
#include <vector>

#include "base/result.h"
#include "base/units/points.h"

namespace fuelwright::sim::virtual_car {

struct Cycle {
  std::vector<double> time_s;     ///< increasing, from 0
  std::vector<double> speed_mps;  ///< [m/s], one a time

  Duration length() const { return {time_s.empty() ? 0.0 : time_s.back()}; }
  /// Linear between the points; the end values hold.
  Speed speed_at(Duration time) const;
};

/// The first two columns are time in seconds and speed; further ones are passed over. The header
/// says the unit of the speed: a name with m/s or mps, km/h or kph, mph. Lines beginning with #
/// are passed over.
///
/// Errors, with file and line: needs_answer without a unit; bad_input (no number, fewer than two
/// points), out_of_range (time that does not increase, speed outside 0..100 m/s), too_large (over
/// 100,000 points).
Result<Cycle> read_cycle(std::string_view text, std::string_view file_name);

}  // namespace fuelwright::sim::virtual_car
