#include "service/job/calibration_json.h"

#include <fmt/format.h>

#include <array>
#include <cmath>
#include <nlohmann/json.hpp>

namespace fuelwright::service {
namespace {

using Json = nlohmann::json;

constexpr std::array kMarks{car::NodeMark::measured, car::NodeMark::inferred,
                            car::NodeMark::prior_only};

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

Result<std::vector<double>> numbers(const Json& json, const std::string& where, const char* key) {
  FW_TRY(const Json* value, member(json, where, key));
  if (!value->is_array()) return bad(where, fmt::format("\"{}\" is not a list", key));
  std::vector<double> out;
  out.reserve(value->size());
  for (const Json& number : *value) {
    if (!number.is_number()) {
      return bad(where, fmt::format("\"{}\", entry {}, is not a number", key, out.size() + 1));
    }
    out.push_back(number.get<double>());
  }
  return out;
}

Json json_of(const car::Axis& axis) {
  return {{"kind", car::name_of(axis.kind())},
          {"points", std::vector<double>(axis.points().begin(), axis.points().end())}};
}

Result<car::Axis> axis_from(const Json& json, const std::string& where, const char* key) {
  FW_TRY(const Json* axis, member(json, where, key));
  const std::string here = fmt::format("{}, axis {}", where, key);
  FW_TRY(const std::string name, text(*axis, here, "kind"));
  const auto kind = car::axis_kind_named(name);
  if (!kind) return bad(here, kind.error().message);
  FW_TRY(auto points, numbers(*axis, here, "points"));
  auto made = car::Axis::make(*kind, std::move(points));
  if (!made) return Error{made.error().code, here, made.error().message};
  return made;
}

Result<car::Grid> grid_from(const Json& json, const std::string& where) {
  FW_TRY(car::Axis x, axis_from(json, where, "x"));
  FW_TRY(car::Axis y, axis_from(json, where, "y"));
  return car::Grid{std::move(x), std::move(y)};
}

Result<car::NodeMark> mark_named(const std::string& name) {
  for (const car::NodeMark mark : kMarks) {
    if (name == car::name_of(mark)) return mark;
  }
  return bad("evidence", fmt::format("\"mark\": \"{}\" is no mark of a node", name));
}

Result<std::vector<car::NodeMark>> marks_from(const Json& json) {
  FW_TRY(const Json* list, member(json, "evidence", "mark"));
  if (!list->is_array()) return bad("evidence", "\"mark\" is not a list");
  std::vector<car::NodeMark> out;
  for (const Json& name : *list) {
    if (!name.is_string()) return bad("evidence", "\"mark\": an entry is not a text");
    FW_TRY(const car::NodeMark mark, mark_named(name.get<std::string>()));
    out.push_back(mark);
  }
  return out;
}

Result<Json> parsed(std::string_view bytes, const char* where) {
  Json json = Json::parse(bytes, nullptr, false);
  if (json.is_discarded()) return bad(where, "is not JSON");
  return json;
}

}  // namespace

namespace {

Json curves_json(const car::Calibration& c) {
  Json out = Json::object();
  for (const auto& [what, curve] : c.curves) {
    const auto points = curve.axis.points();
    out[car::name_of(what)] = {{"points", std::vector<double>(points.begin(), points.end())},
                               {"values", curve.values}};
  }
  return out;
}

Json settings_json(const car::Calibration& c) {
  Json out = Json::object();
  for (const auto& [what, value] : c.settings) out[car::name_of(what)] = value;
  return out;
}

Json origins_json(const car::Calibration& c) {
  Json out = Json::object();
  for (const auto& [what, origin] : c.origins) {
    Json& entry = out[car::name_of(what)] = {{"reason", origin.reason}};
    if (!origin.half_width.empty()) entry["half_width"] = origin.half_width;
  }
  return out;
}

// A member that older calibrations do not have; null where it is missing.
Result<const Json*> object_if_there(const Json& json, const char* key) {
  const auto it = json.find(key);
  if (it == json.end()) return static_cast<const Json*>(nullptr);
  if (!it->is_object()) return bad("calibration", fmt::format("\"{}\" is not a JSON object", key));
  return &*it;
}

Status read_curves(const Json& json, car::Calibration& out) {
  FW_TRY(const Json* curves, object_if_there(json, "curves"));
  if (!curves) return Done{};
  for (const auto& [name, curve] : curves->items()) {
    const std::string where = "curve " + name;
    const auto what = car::curve_named(name);
    if (!what) return bad(where, what.error().message);
    FW_TRY(auto points, numbers(curve, where, "points"));
    FW_TRY(auto values, numbers(curve, where, "values"));
    auto axis = car::Axis::make(car::axis_of(*what), std::move(points));
    if (!axis) return Error{axis.error().code, where, axis.error().message};
    if (values.size() != axis->size()) {
      return bad(where, fmt::format("{} values came, expected {}", values.size(), axis->size()));
    }
    out.curves.emplace(*what, car::Curve{std::move(*axis), std::move(values)});
  }
  return Done{};
}

Status read_settings(const Json& json, car::Calibration& out) {
  FW_TRY(const Json* settings, object_if_there(json, "settings"));
  if (!settings) return Done{};
  for (const auto& [name, value] : settings->items()) {
    const auto what = car::setting_named(name);
    if (!what) return bad("setting " + name, what.error().message);
    if (!value.is_number()) return bad("setting " + name, "is not a number");
    out.settings.emplace(*what, value.get<double>());
  }
  return Done{};
}

Status read_origins(const Json& json, car::Calibration& out) {
  FW_TRY(const Json* origins, object_if_there(json, "origins"));
  if (!origins) return Done{};
  for (const auto& [name, entry] : origins->items()) {
    const std::string where = "origin of " + name;
    const auto what = car::part_named(name);
    if (!what) return bad(where, what.error().message);
    car::Origin origin;
    FW_TRY(origin.reason, text(entry, where, "reason"));
    if (entry.contains("half_width")) {
      FW_TRY(origin.half_width, numbers(entry, where, "half_width"));
    }
    out.origins.emplace(*what, std::move(origin));
  }
  return Done{};
}

}  // namespace

Json json_of(const car::Calibration& calibration) {
  Json tables = Json::object();
  for (const auto& [what, surface] : calibration.tables) {
    tables[car::name_of(what)] = {
        {"x", json_of(surface.grid.x)}, {"y", json_of(surface.grid.y)}, {"values", surface.values}};
  }
  Json out{{"tables", std::move(tables)}};
  if (!calibration.curves.empty()) out["curves"] = curves_json(calibration);
  if (!calibration.settings.empty()) out["settings"] = settings_json(calibration);
  if (!calibration.origins.empty()) out["origins"] = origins_json(calibration);
  return out;
}

Result<car::Calibration> calibration_from(const Json& json) {
  FW_TRY(const Json* tables, member(json, "calibration", "tables"));
  if (!tables->is_object()) return bad("calibration", "\"tables\" is not a JSON object");
  car::Calibration out;
  for (const auto& [name, table] : tables->items()) {
    const std::string where = "table " + name;
    const auto what = car::table_named(name);
    if (!what) return bad(where, what.error().message);
    FW_TRY(car::Grid grid, grid_from(table, where));
    FW_TRY(auto values, numbers(table, where, "values"));
    if (values.size() != grid.size()) {
      return bad(where, fmt::format("{} values came, expected {}", values.size(), grid.size()));
    }
    out.tables.emplace(*what, car::Surface{std::move(grid), std::move(values)});
  }
  FW_CHECK(read_curves(json, out));
  FW_CHECK(read_settings(json, out));
  FW_CHECK(read_origins(json, out));
  FW_CHECK(car::validate(out));
  return out;
}

Json json_of(const car::Evidence& evidence) {
  Json marks = Json::array();
  for (const car::NodeMark mark : evidence.mark) marks.push_back(car::name_of(mark));
  return {{"what", car::name_of(evidence.what)},
          {"x", json_of(evidence.grid.x)},
          {"y", json_of(evidence.grid.y)},
          {"estimate", evidence.estimate},
          {"sd_log", evidence.sd_log},
          {"seconds", evidence.seconds},
          {"mark", std::move(marks)}};
}

Result<car::Evidence> evidence_from(const Json& json) {
  FW_TRY(const std::string name, text(json, "evidence", "what"));
  const auto what = car::table_named(name);
  if (!what) return bad("evidence", what.error().message);
  FW_TRY(car::Grid grid, grid_from(json, "evidence"));
  FW_TRY(auto estimate, numbers(json, "evidence", "estimate"));
  FW_TRY(auto sd_log, numbers(json, "evidence", "sd_log"));
  FW_TRY(auto seconds, numbers(json, "evidence", "seconds"));
  FW_TRY(auto marks, marks_from(json));
  car::Evidence out{.what = *what,
                    .grid = std::move(grid),
                    .estimate = std::move(estimate),
                    .sd_log = std::move(sd_log),
                    .seconds = std::move(seconds),
                    .mark = std::move(marks)};
  FW_CHECK(validate(out));
  return out;
}

Result<car::Calibration> read_calibration(std::string_view bytes) {
  FW_TRY(const Json json, parsed(bytes, "calibration"));
  return calibration_from(json);
}

Result<car::Evidence> read_evidence(std::string_view bytes) {
  FW_TRY(const Json json, parsed(bytes, "evidence"));
  return evidence_from(json);
}

Status validate(const car::Evidence& e) {
  const std::size_t n = e.grid.size();
  const auto wrong = [&](const std::string& message) {
    return Error{ErrorCode::out_of_range, fmt::format("evidence of table {}", car::name_of(e.what)),
                 message};
  };
  for (const std::size_t size :
       {e.estimate.size(), e.sd_log.size(), e.seconds.size(), e.mark.size()}) {
    if (size != n) return wrong(fmt::format("{} entries came for {} nodes", size, n));
  }
  const auto amount = [](double v) { return std::isfinite(v) && v >= 0; };
  for (std::size_t i = 0; i < n; ++i) {
    if (amount(e.estimate[i]) && e.estimate[i] > 0 && amount(e.sd_log[i]) && amount(e.seconds[i])) {
      continue;
    }
    return wrong(fmt::format("node {}: estimate {}, deviation {}, {} s cannot be", i, e.estimate[i],
                             e.sd_log[i], e.seconds[i]));
  }
  return Done{};
}

}  // namespace fuelwright::service
