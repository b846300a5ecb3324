/// MDF 4 merge: the time stamps of several groups become one time base.
#pragma once

#include <cstddef>
#include <vector>

#include "signals/recording/internal/mdf4_records.h"

namespace fuelwright::signals::mdf4 {

struct TimeBase {
  std::vector<double> time_s;  ///< [row]
  std::vector<RowOf> row_of;   ///< [group]
  bool falls_differ = false;   ///< time falls back in some groups more often than in others
};

/// The union of the stamps: equal stamps of different groups share a row, stamps of one group never
/// do. Where time falls back within a group an epoch ends; rows are in order of epoch, then time
/// (mdf4.3).
/// Stamps that are no finite number get no row. Stops short with more than `most` rows.
TimeBase merge(const std::vector<std::vector<double>>& stamps_s, std::size_t most);

}  // namespace fuelwright::signals::mdf4
