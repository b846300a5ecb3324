#include "car/tables/axis.h"

#include <fmt/format.h>

#include <array>

#include "base/numerics/interpolate.h"

namespace fuelwright::car {
namespace {

struct AxisRow {
  AxisKind kind;
  const char* name;
  const char* label;
  Kind number;
  double lowest;
  double highest;
};

constexpr std::array<AxisRow, 8> kAxisRows{{
    {AxisKind::engine_speed, "engine_speed", "engine speed", Kind::engine_speed, 0, 20000},
    {AxisKind::map_absolute, "map_absolute", "manifold pressure (absolute)",
     Kind::absolute_pressure, 0, 500e3},
    {AxisKind::vacuum, "vacuum", "manifold vacuum", Kind::pressure_step, -400e3, 105e3},
    {AxisKind::throttle, "throttle", "throttle opening", Kind::ratio, 0, 1},
    {AxisKind::coolant_temperature, "coolant_temperature", "coolant temperature", Kind::temperature,
     200, 450},
    {AxisKind::intake_temperature, "intake_temperature", "intake air temperature",
     Kind::temperature, 200, 500},
    {AxisKind::battery_voltage, "battery_voltage", "battery voltage", Kind::voltage, 4, 20},
    {AxisKind::map_rate, "map_rate", "rise of manifold pressure", Kind::pressure_step, 0, 5e6},
}};

const AxisRow& row(AxisKind kind) {
  for (const AxisRow& r : kAxisRows) {
    if (r.kind == kind) return r;
  }
  broken_contract("an axis kind of the table", __FILE__, __LINE__);
}

}  // namespace

const char* name_of(AxisKind kind) { return row(kind).name; }
Kind number_kind(AxisKind kind) { return row(kind).number; }
const char* label_of(AxisKind kind) { return row(kind).label; }

bool is_of_curves(AxisKind kind) {
  return kind == AxisKind::coolant_temperature || kind == AxisKind::intake_temperature ||
         kind == AxisKind::battery_voltage || kind == AxisKind::map_rate;
}

Result<AxisKind> axis_kind_named(std::string_view name) {
  for (const AxisRow& r : kAxisRows) {
    if (name == r.name && !is_of_curves(r.kind)) return r.kind;
  }
  return Error{ErrorCode::bad_input, "",
               fmt::format("unknown axis \"{}\"; expected engine_speed, map_absolute, vacuum or "
                           "throttle",
                           name)};
}

Result<Axis> Axis::make(AxisKind kind, std::vector<double> points) {
  const AxisRow& r = row(kind);
  if (points.empty() || points.size() > kMaxBreakpoints) {
    return Error{
        ErrorCode::out_of_range, r.label,
        fmt::format("{} breakpoints came; expected 1 to {}", points.size(), kMaxBreakpoints)};
  }
  if (!strictly_increasing(points)) {
    return Error{ErrorCode::out_of_range, r.label,
                 "breakpoints must increase from one to the next"};
  }
  if (points.front() < r.lowest || points.back() > r.highest) {
    const double bad = points.front() < r.lowest ? points.front() : points.back();
    return Error{
        ErrorCode::out_of_range, r.label,
        fmt::format("breakpoint {} is outside {} to {}", format(bad, r.number, UnitSystem::metric),
                    format(r.lowest, r.number, UnitSystem::metric),
                    format(r.highest, r.number, UnitSystem::metric))};
  }
  return Axis(kind, std::move(points));
}

Axis Axis::even(AxisKind kind, double first, double last, std::size_t count) {
  EXPECTS(count >= 1);
  std::vector<double> points(count, first);
  for (std::size_t i = 1; i < count; ++i) {
    points[i] = first + (last - first) * static_cast<double>(i) / static_cast<double>(count - 1);
  }
  auto axis = make(kind, std::move(points));
  EXPECTS(axis.ok());
  return *axis;
}

double Axis::coordinate(const OperatingPoint& at) const {
  switch (kind_) {
    case AxisKind::engine_speed:
      return at.speed.rpm;
    case AxisKind::map_absolute:
      return at.map.from_zero.si;
    case AxisKind::vacuum:
      return (at.ambient - at.map).si;
    case AxisKind::throttle:
      return at.throttle;
    case AxisKind::coolant_temperature:
      return at.coolant.from_zero.si;
    case AxisKind::intake_temperature:
      return at.intake_air.from_zero.si;
    case AxisKind::battery_voltage:
      return at.battery.si;
    case AxisKind::map_rate:
      return at.map_rate_pa_s;
  }
  broken_contract("an axis kind", __FILE__, __LINE__);
}

std::string Axis::format_point(std::size_t i, UnitSystem system) const {
  EXPECTS(i < size());
  if (kind_ == AxisKind::throttle) return fmt::format("{:.1f} %", 100 * points_[i]);
  if (kind_ == AxisKind::map_rate) return fmt::format("{:.0f} kPa/s", points_[i] / 1e3);
  return format(points_[i], number_kind(kind_), system);
}

}  // namespace fuelwright::car
