/// What one recording says, row by row, in the two forms that doubts are tested on.
#pragma once

#include <optional>
#include <vector>

#include "advice/doubts/doubts.h"
#include "advice/doubts/internal/fit.h"
#include "advice/doubts/internal/timeline.h"

namespace fuelwright::advice::doubts {

/// Rows with the row of the recording each came from.
struct Witness {
  std::vector<FitRow> rows;
  std::vector<std::size_t> from;
  bool empty() const { return rows.empty(); }
};

/// Columns of a ratio that are there whatever is wrong: level, charge temperature (two), dead time
/// over voltage, dead time, intake temperature.
std::vector<Column> usual_columns();

/// ln(fuel by pulse width / fuel by the unit's table and target), the correction *not* taken out;
/// empty if the pulse width, the target or the table is not there, or stands over throttle. Without
/// the moments after a rising pressure, where units add fuel of their own.
Witness fuel_ratio(const Asked& asked, const Timeline& t);
/// ln(lambda/target), the correction not added back; relative to the unit's table. The reading is
/// set beside the moment `delay_s` before it.
Witness mixture(const Asked& asked, const Timeline& t, double delay_s);
/// The same with the delay, of a few, that leaves the least.
Witness mixture(const Asked& asked, const Timeline& t, const Eigen::MatrixXd& table);

/// How large a smooth field over the nodes may be.
Eigen::MatrixXd field(const car::Grid& grid, double sd);

}  // namespace fuelwright::advice::doubts
