#include "car/tables/difference.h"

#include <cmath>

namespace fuelwright::car {

namespace {

double size(TableWhat what, const NodeDifference& d) {
  return changes_by_share(what) ? d.share() : d.change();
}

}  // namespace

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
      if (!largest || std::abs(size(what, d)) > std::abs(size(what, *largest))) largest = d;
    }
  }
  return out;
}

std::vector<TableDifference> differences(const Calibration& before, const Calibration& after) {
  std::vector<TableDifference> out;
  for (const TableWhat what : all_tables()) {
    const Surface* a = before.find(what);
    const Surface* b = after.find(what);
    if (!a && !b) continue;
    TableDifference d = difference(what, a, b);
    if (d.any()) out.push_back(std::move(d));
  }
  return out;
}

CurveDifference difference(CurveWhat what, const Curve* before, const Curve* after) {
  CurveDifference out;
  out.what = what;
  if (before) out.before = *before;
  if (after) out.after = *after;
  if (!before || !after) return out;
  out.other_axis = before->axis != after->axis;
  if (out.other_axis) {
    out.after->axis = before->axis;
    out.after->values.clear();
    for (const double x : before->axis.points()) out.after->values.push_back(after->at(x));
  }
  for (std::size_t i = 0; i < before->values.size(); ++i) {
    const PointDifference d{i, before->values[i], out.after->values[i]};
    if (d.before == d.after) continue;
    ++out.changed;
    if (!out.largest || std::abs(d.change()) > std::abs(out.largest->change())) out.largest = d;
  }
  return out;
}

std::vector<CurveDifference> curve_differences(const Calibration& before,
                                               const Calibration& after) {
  std::vector<CurveDifference> out;
  for (const CurveWhat what : all_curves()) {
    CurveDifference d = difference(what, before.find(what), after.find(what));
    if (d.any()) out.push_back(std::move(d));
  }
  return out;
}

std::vector<SettingDifference> setting_differences(const Calibration& before,
                                                   const Calibration& after) {
  std::vector<SettingDifference> out;
  for (const SettingWhat what : all_settings()) {
    const double* a = before.find(what);
    const double* b = after.find(what);
    if ((!a && !b) || (a && b && *a == *b)) continue;
    SettingDifference d{what, std::nullopt, std::nullopt};
    if (a) d.before = *a;
    if (b) d.after = *b;
    out.push_back(d);
  }
  return out;
}

}  // namespace fuelwright::car
