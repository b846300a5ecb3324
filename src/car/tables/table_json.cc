#include "car/tables/table_json.h"

#include <fmt/format.h>

#include <nlohmann/json.hpp>

#include "car/tables/internal/decimal.h"
#include "car/tables/internal/json_reading.h"
#include "car/tables/internal/part_json.h"
#include "car/tables/internal/shown.h"

namespace fuelwright::car {
namespace {

using internal::axis_json;
using internal::Json;
using internal::member;
using internal::numbers;
using internal::shown;
using internal::text;

constexpr const char* kFormat = "fuelwright tables 1";
constexpr std::size_t kLargestFile = std::size_t{4} << 20U;

Error bad(const std::string& where, const std::string& message) {
  return {ErrorCode::bad_input, where, message};
}

UnitInfo one() { return *find_unit("-", Kind::ratio); }

Result<Axis> axis_from(const Json& table, const std::string& table_where, const char* key) {
  FW_TRY(const Json* json, member(table, table_where, key));
  const std::string where = fmt::format("{}, {}", table_where, key);
  FW_TRY(const std::string name, text(*json, where, "name"));
  const auto kind = axis_kind_named(name);
  if (!kind) {
    return bad(where, fmt::format("\"{}\" is no axis; expected engine_speed, map_absolute, vacuum "
                                  "or throttle",
                                  shown(name)));
  }
  if ((*kind == AxisKind::engine_speed) != (std::string_view(key) == "x")) {
    return bad(where, fmt::format("{} came; engine speed belongs on x and the load on y",
                                  label_of(*kind)));
  }
  FW_TRY(const std::string unit_text, text(*json, where, "unit"));
  const bool plain = *kind == AxisKind::throttle && unit_text == "1";
  auto unit = plain ? Result<UnitInfo>(one()) : internal::axis_unit_named(*kind, unit_text);
  if (!unit) return Error{unit.error().code, where, unit.error().message};
  FW_TRY(auto points, numbers(*json, where, "values", *unit));
  auto axis = Axis::make(*kind, std::move(points));
  if (!axis) return Error{axis.error().code, where, axis.error().message};
  return axis;
}

const char* unit_name(TableWhat what) { return unit_of(what).symbol; }

// The unit that a table's values stand in, if `text` may be it.
std::optional<UnitInfo> table_unit(TableWhat what, const std::string& text) {
  if (text == unit_name(what)) return one();
  if (text == "%" && internal::percent_shift(what) != 0) return *find_unit("%", Kind::ratio);
  return std::nullopt;
}

Status read_table_entry(const Json& json, std::size_t number, Calibration& out) {
  std::string where = fmt::format("table {}", number);
  FW_TRY(const std::string name, text(json, where, "name"));
  const auto what = table_named(name);
  if (!what) {
    return bad(where,
               fmt::format("\"{}\" is no table; expected ve, lambda_target, correction or spark",
                           shown(name)));
  }
  where = "table " + name;
  FW_TRY(const std::string unit_text, text(json, where, "unit"));
  const auto unit = table_unit(*what, unit_text);
  if (!unit) {
    return Error{ErrorCode::unknown_unit, where,
                 fmt::format("\"{}\" is no unit for it", shown(unit_text))};
  }
  FW_TRY(Axis x, axis_from(json, where, "x"));
  FW_TRY(Axis y, axis_from(json, where, "y"));
  Grid grid{std::move(x), std::move(y)};
  FW_TRY(auto values, numbers(json, where, "values", *unit));
  if (values.size() != grid.size()) {
    return bad(where, fmt::format("{} values came; expected {} ({} by {})", values.size(),
                                  grid.size(), grid.y.size(), grid.x.size()));
  }
  if (!out.tables.emplace(*what, Surface{std::move(grid), std::move(values)}).second) {
    return bad(where, "came twice");
  }
  return internal::read_origin(json, where, *what, out);
}

}  // namespace

std::string write_tables_json(const Revision& revision, std::optional<What> only) {
  const Calibration& c = revision.calibration;
  const auto wanted = [&](const What& what) { return !only || *only == what; };
  Json out{{"format", kFormat},
           {"provenance",
            {{"revision", revision.number},
             {"reason", revision.reason},
             {"author", revision.author},
             {"when", revision.when}}},
           {"tables", Json::array()}};
  for (const auto& [what, s] : c.tables) {
    if (!wanted(what)) continue;
    Json table{{"name", name_of(what)},
               {"unit", unit_name(what)},
               {"x", axis_json(s.grid.x)},
               {"y", axis_json(s.grid.y)},
               {"values", s.values}};
    internal::add_origin(table, c.origin(what));
    out["tables"].push_back(std::move(table));
  }
  for (const auto& [what, curve] : c.curves) {
    if (wanted(what)) out["curves"].push_back(internal::curve_json(what, curve, c.origin(what)));
  }
  for (const auto& [what, value] : c.settings) {
    if (wanted(what))
      out["settings"].push_back(internal::setting_json(what, value, c.origin(what)));
  }
  return out.dump(2, ' ', false, Json::error_handler_t::replace) + "\n";
}

Result<Calibration> read_tables_json(std::string_view bytes) {
  if (bytes.size() > kLargestFile) {
    return Error{ErrorCode::too_large, "tables",
                 fmt::format("{} bytes came; expected at most {}", bytes.size(), kLargestFile)};
  }
  const Json json = Json::parse(bytes, nullptr, false);
  if (json.is_discarded()) return bad("tables", "is not JSON");
  FW_TRY(const std::string format, text(json, "tables", "format"));
  if (format != kFormat) {
    return bad("tables",
               fmt::format("format \"{}\" came; expected \"{}\"", shown(format), kFormat));
  }
  FW_TRY(const Json* tables, member(json, "tables", "tables"));
  if (!tables->is_array()) return bad("tables", "\"tables\" is no list");
  Calibration out;
  for (std::size_t i = 0; i < tables->size(); ++i) {
    FW_CHECK(read_table_entry((*tables)[i], i + 1, out));
  }
  FW_CHECK(internal::read_curves(json, out));
  FW_CHECK(internal::read_settings(json, out));
  if (same_numbers(out, {})) return bad("tables", "holds no table, curve or setting");
  FW_CHECK(validate(out));
  return out;
}

}  // namespace fuelwright::car
