// From an instance of a CDF file to a curve or a setting: curve_of, setting_of.
#include <fmt/format.h>

#include <algorithm>

#include "car/tables/axis_unit.h"
#include "car/tables/cdf.h"
#include "car/tables/internal/cdf_reading.h"
#include "car/tables/internal/decimal.h"
#include "car/tables/internal/shown.h"

namespace fuelwright::car {

using internal::at;
using internal::bad;
using internal::numbers;

namespace {

Result<UnitInfo> unit_in(const CdfInstance& i, const ValueUnit& unit) {
  const UnitInfo shown = shown_unit(unit, UnitSystem::metric);
  if (i.unit.empty() || (i.unit == "-" && unit.kind == Kind::ratio)) {
    return i.unit == "-" ? *find_unit("-", Kind::ratio) : shown;
  }
  auto found = unit_named(unit, i.unit);
  if (!found) return at(i, found.error());
  return found;
}

Status check(const CdfInstance& i, const Calibration& c) {
  const auto valid = validate(c);
  if (!valid) return at(i, valid.error());
  return valid;
}

}  // namespace

Result<Curve> curve_of(const CdfInstance& i, CurveWhat what) {
  if (!i.unusable.empty()) return bad(i, i.unusable);
  if (i.kind != CdfKind::curve || i.axes.size() != 1 || i.values.size() != 1) {
    return bad(i, fmt::format("is no curve (category \"{}\", {} axes); expected one over {}",
                              internal::shown(i.category), i.axes.size(), label_of(axis_of(what))));
  }
  const CdfAxis& along = i.axes[0];
  if (along.values.empty() || along.values.size() > kMaxBreakpoints ||
      along.values.size() != i.values[0].size()) {
    return bad(i, fmt::format("{} values came for {} breakpoints; expected 1 to {}, one for each",
                              i.values[0].size(), along.values.size(), kMaxBreakpoints));
  }
  const auto along_unit = along.unit.empty()
                              ? Result<UnitInfo>(axis_unit(axis_of(what), UnitSystem::metric))
                              : internal::axis_unit_named(axis_of(what), along.unit);
  if (!along_unit) return at(i, along_unit.error());
  FW_TRY(const UnitInfo unit, unit_in(i, unit_of(what)));
  FW_TRY(auto points, numbers(i, along.values, *along_unit));
  FW_TRY(auto values, numbers(i, i.values[0], unit));
  if (points.front() > points.back()) {
    std::reverse(points.begin(), points.end());
    std::reverse(values.begin(), values.end());
  }
  auto axis = Axis::make(axis_of(what), std::move(points));
  if (!axis) return at(i, axis.error());
  Calibration c;
  c.curves.emplace(what, Curve{std::move(*axis), std::move(values)});
  FW_CHECK(check(i, c));
  return std::move(c.curves.at(what));
}

Result<double> setting_of(const CdfInstance& i, SettingWhat what) {
  if (!i.unusable.empty()) return bad(i, i.unusable);
  if (i.kind != CdfKind::value || i.values.size() != 1 || i.values[0].size() != 1) {
    return bad(i, fmt::format("is no single value (category \"{}\")", internal::shown(i.category)));
  }
  FW_TRY(const UnitInfo unit, unit_in(i, unit_of(what)));
  FW_TRY(const auto values, numbers(i, i.values[0], unit));
  Calibration c;
  c.settings.emplace(what, values[0]);
  FW_CHECK(check(i, c));
  return values[0];
}

}  // namespace fuelwright::car
