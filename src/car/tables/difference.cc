#include "car/tables/difference.h"

namespace fuelwright::car {

TableDifference difference(TableWhat what, const Surface* before, const Surface* after) {
  TableDifference out;
  out.what = what;
  if (before) out.before = *before;
  if (after) out.after = *after;
  if (!before || !after) return out;
  out.other_axes = before->grid != after->grid;
  if (out.other_axes) {
    auto read_off = resample(*after, before->grid);
    if (!read_off) return out;  // other kinds of axes
    out.after = std::move(read_off->surface);
  }
  const Grid& grid = before->grid;
  for (std::size_t iy = 0; iy < grid.y.size(); ++iy) {
    for (std::size_t ix = 0; ix < grid.x.size(); ++ix) {
      const NodeDifference d{ix, iy, before->node(ix, iy), out.after->node(ix, iy)};
      if (d.before == d.after) continue;
      ++out.changed;
      const bool rise = d.after > d.before;
      auto& largest = rise ? out.largest_rise : out.largest_fall;
      if (!largest || (rise ? d.share() > largest->share() : d.share() < largest->share())) {
        largest = d;
      }
    }
  }
  return out;
}

std::vector<TableDifference> differences(const Calibration& before, const Calibration& after) {
  std::vector<TableDifference> out;
  for (const TableWhat what : {TableWhat::ve, TableWhat::lambda_target, TableWhat::correction}) {
    const Surface* a = before.find(what);
    const Surface* b = after.find(what);
    if (!a && !b) continue;
    TableDifference d = difference(what, a, b);
    if (d.any()) out.push_back(std::move(d));
  }
  return out;
}

}  // namespace fuelwright::car
