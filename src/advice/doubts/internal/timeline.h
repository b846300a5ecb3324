/// A recording as columns without gaps, and what a correcting unit would have made of them.
#pragma once

#include <vector>

#include "car/build/sheet.h"
#include "car/tables/surface.h"
#include "signals/recording/recording.h"

namespace fuelwright::advice::doubts {

/// One value a row, SI; NaN where nothing is known. A gap holds the value before it for a while.
struct Timeline {
  Timeline(const signals::Recording& recording, const car::Sheet& sheet);

  const signals::Recording& recording;
  double step_s = 0;  ///< 0: no clock
  std::vector<double> rpm, map, coolant, intake, lambda, target, correction, battery, pulse, baro,
      throttle, maf;
  std::vector<double> since_moved_s;    ///< since manifold pressure moved as in a transient
  std::vector<double> since_rose_s;     ///< since it rose so that a unit may have added tip-in fuel
  std::vector<double> since_stirred_s;  ///< since it changed as fast as that, up or down
  std::vector<double> since_cut_s;      ///< since a fuel cut showed

  std::size_t rows() const { return recording.rows; }
  car::OperatingPoint at(std::size_t row) const;
  /// From the rows about it, its own and the next ones left out: where the reading of pressure is
  /// in what is explained, its noise must not be in the place too.
  car::OperatingPoint about(std::size_t row) const;
  /// Whether units in general would correct here (common practice, no source): warm, part load,
  /// target near lambda 1, not just after a cut.
  bool loop_works(std::size_t row) const;
};

/// I: lambda/target - 1 integrated over each window from 0 [s]; 0 outside. `window`: its number row
/// by row, -1 for none.
std::vector<double> integral_in(const Timeline& t, const std::vector<int>& window);
/// L (doubts.6): what a unit that takes the whole correction into its table in one minute would
/// have learned at the row's place [min].
std::vector<double> learned_column(const Timeline& t, const car::Grid& grid);

}  // namespace fuelwright::advice::doubts
