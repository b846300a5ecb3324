// Curves, settings and origins in JSON. Tables: table_json.cc.
#include "car/tables/internal/part_json.h"

#include <fmt/format.h>

#include "car/tables/internal/shown.h"

namespace fuelwright::car::internal {
namespace {

constexpr std::size_t kLongestReason = 2000;

const char* si_unit(AxisKind kind) {
  switch (kind) {
    case AxisKind::engine_speed:
      return "rpm";
    case AxisKind::map_absolute:
    case AxisKind::vacuum:
      return "Pa";
    case AxisKind::throttle:
      return "1";
    case AxisKind::coolant_temperature:
    case AxisKind::intake_temperature:
      return "K";
    case AxisKind::battery_voltage:
      return "V";
    case AxisKind::map_rate:
      return "Pa/s";
  }
  broken_contract("an axis kind", __FILE__, __LINE__);
}

Result<UnitInfo> unit_from(const Json& json, const std::string& where, const ValueUnit& unit) {
  FW_TRY(const std::string name, text(json, where, "unit"));
  auto found = unit_named(unit, name);
  if (!found) return Error{found.error().code, where, found.error().message};
  return found;
}

Result<Axis> curve_axis_from(const Json& json, const std::string& where, AxisKind kind) {
  FW_TRY(const Json* axis, member(json, where, "x"));
  const std::string here = where + ", x";
  FW_TRY(const std::string name, text(*axis, here, "name"));
  if (name != name_of(kind)) {
    return bad_json(here, fmt::format("\"{}\" came; expected {}", shown(name), name_of(kind)));
  }
  FW_TRY(const std::string unit_text, text(*axis, here, "unit"));
  const auto unit = axis_unit_named(kind, unit_text);
  if (!unit) return Error{unit.error().code, here, unit.error().message};
  FW_TRY(auto points, numbers(*axis, here, "values", *unit));
  auto made = Axis::make(kind, std::move(points));
  if (!made) return Error{made.error().code, here, made.error().message};
  return made;
}

Status read_curve(const Json& json, std::size_t number, Calibration& out) {
  std::string where = fmt::format("curve {}", number);
  FW_TRY(const std::string name, text(json, where, "name"));
  const auto what = curve_named(name);
  if (!what) return bad_json(where, what.error().message);
  where = "curve " + name;
  FW_TRY(const UnitInfo unit, unit_from(json, where, unit_of(*what)));
  FW_TRY(Axis axis, curve_axis_from(json, where, axis_of(*what)));
  FW_TRY(auto values, numbers(json, where, "values", unit));
  if (values.size() != axis.size()) {
    return bad_json(where, fmt::format("{} values came; expected {}", values.size(), axis.size()));
  }
  if (!out.curves.emplace(*what, Curve{std::move(axis), std::move(values)}).second) {
    return bad_json(where, "came twice");
  }
  return read_origin(json, where, *what, out);
}

Status read_setting(const Json& json, std::size_t number, Calibration& out) {
  std::string where = fmt::format("setting {}", number);
  FW_TRY(const std::string name, text(json, where, "name"));
  const auto what = setting_named(name);
  if (!what) return bad_json(where, what.error().message);
  where = "setting " + name;
  FW_TRY(const UnitInfo unit, unit_from(json, where, unit_of(*what)));
  FW_TRY(const Json* value, member(json, where, "value"));
  const auto v = value->is_number() ? parse_in(value->dump(), unit) : std::nullopt;
  if (!v) return bad_json(where, "\"value\" is not a number");
  if (!out.settings.emplace(*what, *v).second) return bad_json(where, "came twice");
  return read_origin(json, where, *what, out);
}

Status read_list(const Json& file, const char* key, Calibration& out,
                 Status (*read)(const Json&, std::size_t, Calibration&)) {
  const auto list = file.find(key);
  if (list == file.end()) return Done{};
  if (!list->is_array()) return bad_json("tables", fmt::format("\"{}\" is no list", key));
  for (std::size_t i = 0; i < list->size(); ++i) FW_CHECK(read((*list)[i], i + 1, out));
  return Done{};
}

}  // namespace

Json axis_json(const Axis& axis) {
  return {{"name", name_of(axis.kind())},
          {"unit", si_unit(axis.kind())},
          {"values", std::vector<double>(axis.points().begin(), axis.points().end())}};
}

void add_origin(Json& entry, const Origin* origin) {
  if (!origin) return;
  if (!origin->reason.empty()) entry["reason"] = origin->reason;
  if (!origin->half_width.empty()) entry["half_width"] = origin->half_width;
}

Json curve_json(CurveWhat what, const Curve& curve, const Origin* origin) {
  Json out{{"name", name_of(what)},
           {"unit", unit_of(what).symbol},
           {"x", axis_json(curve.axis)},
           {"values", curve.values}};
  add_origin(out, origin);
  return out;
}

Json setting_json(SettingWhat what, double value, const Origin* origin) {
  Json out{{"name", name_of(what)}, {"unit", unit_of(what).symbol}, {"value", value}};
  add_origin(out, origin);
  return out;
}

Status read_curves(const Json& file, Calibration& out) {
  return read_list(file, "curves", out, read_curve);
}

Status read_settings(const Json& file, Calibration& out) {
  return read_list(file, "settings", out, read_setting);
}

Status read_origin(const Json& entry, const std::string& where, const What& what,
                   Calibration& out) {
  Origin origin;
  if (entry.contains("reason")) {
    FW_TRY(origin.reason, text(entry, where, "reason"));
    if (origin.reason.size() > kLongestReason) {
      return bad_json(where, fmt::format("\"reason\" has {} bytes; expected at most {}",
                                         origin.reason.size(), kLongestReason));
    }
  }
  if (entry.contains("half_width")) {
    const UnitInfo plain = *find_unit("-", Kind::ratio);
    FW_TRY(origin.half_width, numbers(entry, where, "half_width", plain));
  }
  if (origin != Origin{}) out.origins.insert_or_assign(what, std::move(origin));
  return Done{};
}

}  // namespace fuelwright::car::internal
