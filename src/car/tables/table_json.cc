#include "car/tables/table_json.h"

#include <fmt/format.h>

#include <nlohmann/json.hpp>

#include "car/tables/internal/decimal.h"
#include "car/tables/internal/shown.h"

namespace fuelwright::car {
namespace {

using Json = nlohmann::ordered_json;
using internal::shown;

constexpr const char* kFormat = "fuelwright tables 1";
constexpr std::size_t kLargestFile = std::size_t{4} << 20U;

const char* si_unit(AxisKind kind) {
  switch (kind) {
    case AxisKind::engine_speed:
      return "rpm";
    case AxisKind::map_absolute:
    case AxisKind::vacuum:
      return "Pa";
    case AxisKind::throttle:
      return "1";
  }
  broken_contract("an axis kind", __FILE__, __LINE__);
}

Json axis_json(const Axis& axis) {
  return {{"name", name_of(axis.kind())},
          {"unit", si_unit(axis.kind())},
          {"values", std::vector<double>(axis.points().begin(), axis.points().end())}};
}

Error bad(const std::string& where, const std::string& message) {
  return {ErrorCode::bad_input, where, message};
}

Result<const Json*> member(const Json& json, const std::string& where, const char* key) {
  if (!json.is_object()) return bad(where, "is not a JSON object");
  const auto it = json.find(key);
  if (it == json.end()) return bad(where, fmt::format("\"{}\" is missing", key));
  return &*it;
}

Result<std::string> text(const Json& json, const std::string& where, const char* key) {
  FW_TRY(const Json* value, member(json, where, key));
  if (!value->is_string()) return bad(where, fmt::format("\"{}\" is not a text", key));
  return value->get<std::string>();
}

// Numbers in a unit, as SI: by their shortest digits, so that 60.1 kPa is the double of 60100 Pa.
Result<std::vector<double>> numbers(const Json& json, const std::string& where,
                                    const UnitInfo& unit) {
  FW_TRY(const Json* list, member(json, where, "values"));
  if (!list->is_array()) return bad(where, "\"values\" is not a list");
  std::vector<double> out;
  for (const Json& number : *list) {
    const auto si = number.is_number() ? internal::parse_in(number.dump(), unit) : std::nullopt;
    if (!si) {
      return bad(where, fmt::format("\"values\", entry {}, is not a number", out.size() + 1));
    }
    out.push_back(*si);
  }
  return out;
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
  FW_TRY(auto points, numbers(*json, where, *unit));
  auto axis = Axis::make(*kind, std::move(points));
  if (!axis) return Error{axis.error().code, where, axis.error().message};
  return axis;
}

Result<std::pair<TableWhat, Surface>> table_from(const Json& json, std::size_t number) {
  std::string where = fmt::format("table {}", number);
  FW_TRY(const std::string name, text(json, where, "name"));
  const auto what = table_named(name);
  if (!what) {
    return bad(where, fmt::format("\"{}\" is no table; expected ve, lambda_target or correction",
                                  shown(name)));
  }
  where = "table " + name;
  FW_TRY(const std::string unit_text, text(json, where, "unit"));
  const bool percent = unit_text == "%" && *what != TableWhat::lambda_target;
  if (!percent && unit_text != (*what == TableWhat::lambda_target ? "lambda" : "1")) {
    return Error{ErrorCode::unknown_unit, where,
                 fmt::format("\"{}\" is no unit for it", shown(unit_text))};
  }
  FW_TRY(Axis x, axis_from(json, where, "x"));
  FW_TRY(Axis y, axis_from(json, where, "y"));
  Grid grid{std::move(x), std::move(y)};
  FW_TRY(auto values, numbers(json, where, percent ? *find_unit("%", Kind::ratio) : one()));
  if (values.size() != grid.size()) {
    return bad(where, fmt::format("{} values came; expected {} ({} by {})", values.size(),
                                  grid.size(), grid.y.size(), grid.x.size()));
  }
  return std::pair{*what, Surface{std::move(grid), std::move(values)}};
}

}  // namespace

std::string write_tables_json(const Revision& revision, std::optional<TableWhat> only) {
  Json out{{"format", kFormat},
           {"provenance",
            {{"revision", revision.number},
             {"reason", revision.reason},
             {"author", revision.author},
             {"when", revision.when}}},
           {"tables", Json::array()}};
  for (const auto& [what, s] : revision.calibration.tables) {
    if (only && *only != what) continue;
    out["tables"].push_back({{"name", name_of(what)},
                             {"unit", what == TableWhat::lambda_target ? "lambda" : "1"},
                             {"x", axis_json(s.grid.x)},
                             {"y", axis_json(s.grid.y)},
                             {"values", s.values}});
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
  if (!tables->is_array() || tables->empty())
    return bad("tables", "\"tables\" is no list with entries");
  Calibration out;
  for (std::size_t i = 0; i < tables->size(); ++i) {
    FW_TRY(auto table, table_from((*tables)[i], i + 1));
    const char* name = name_of(table.first);
    if (!out.tables.emplace(std::move(table)).second) {
      return bad(fmt::format("table {}", name), "came twice");
    }
  }
  FW_CHECK(validate(out));
  return out;
}

}  // namespace fuelwright::car
