// Rules as JSON: values with their unit beside them.
#include <fmt/format.h>

#include <nlohmann/json.hpp>

#include "advice/guard/rules.h"

namespace fuelwright::advice {
namespace {

using Json = nlohmann::ordered_json;
constexpr const char* kFormat = "fuelwright guard rules 1";
constexpr std::size_t kLargest = 64 << 10;

const char* si_unit(Kind kind) {
  switch (kind) {
    case Kind::absolute_pressure:
    case Kind::gauge_pressure:
    case Kind::pressure_step:
      return "Pa";
    case Kind::temperature:
    case Kind::temperature_step:
      return "K";
    case Kind::voltage:
      return "V";
    case Kind::engine_speed:
      return "rpm";
    case Kind::crank_angle:
      return "rad";
    case Kind::time:
      return "s";
    default:
      return "";
  }
}

Json with_unit(double si, Kind kind) { return {{"value", si}, {"unit", si_unit(kind)}}; }

Status read_value(const Json& rule, const char* key, Kind kind, std::string_view name,
                  double& into) {
  const auto found = rule.find(key);
  if (found == rule.end()) return Done{};
  const std::string where = fmt::format("guard rule {}.{}", name, key);
  if (!found->is_object() || !found->contains("value") || !(*found)["value"].is_number()) {
    return Error{ErrorCode::bad_input, where, "expected {\"value\": number, \"unit\": text}"};
  }
  const double value = (*found)["value"].get<double>();
  const std::string unit = found->contains("unit") && (*found)["unit"].is_string()
                               ? (*found)["unit"].get<std::string>()
                               : std::string();
  if (unit == si_unit(kind)) {
    into = value;
    return Done{};
  }
  const auto known = find_unit(unit, kind);
  if (!known) {
    return Error{ErrorCode::unknown_unit, where,
                 fmt::format("\"{}\" came; expected one of {}", unit, units_of(kind))};
  }
  into = value * known->factor + known->offset;
  return Done{};
}

Status read_rule(const Json& json, Rules& rules) {
  if (!json.is_object() || !json.contains("rule") || !json["rule"].is_string()) {
    return Error{ErrorCode::bad_input, "guard rules", "a rule without its name came"};
  }
  const auto name = json["rule"].get<std::string>();
  const RuleWords* words = nullptr;
  for (const RuleWords& w : all_rules()) {
    if (name == w.name) words = &w;
  }
  if (!words) {
    return Error{
        ErrorCode::bad_input, "guard rules",
        fmt::format("\"{}\" is no rule; expected lean_under_load, knock, ...", name.substr(0, 40))};
  }
  Rule& r = rules.of(words->kind);
  if (json.contains("on")) {
    if (!json["on"].is_boolean()) {
      return Error{ErrorCode::bad_input, "guard rule " + name, "\"on\" must be true or false"};
    }
    r.on = json["on"].get<bool>();
  }
  FW_CHECK(read_value(json, "limit", words->unit, name, r.limit));
  FW_CHECK(read_value(json, "back_by", words->step, name, r.back_by));
  FW_CHECK(read_value(json, "while_above", words->condition, name, r.while_above));
  FW_CHECK(read_value(json, "dwell", Kind::time, name, r.dwell.si));
  FW_CHECK(read_value(json, "settled", Kind::time, name, r.settled.si));
  return Done{};
}

}  // namespace

std::string write_rules_json(const Rules& rules) {
  Json list = Json::array();
  for (const Rule& r : rules.list) {
    const RuleWords& w = words_of(r.kind);
    Json one{{"rule", w.name}, {"on", r.on}};
    if (w.bounded) {
      one["limit"] = with_unit(r.limit, w.unit);
      one["back_by"] = with_unit(r.back_by, w.step);
    }
    if (w.conditional) one["while_above"] = with_unit(r.while_above, w.condition);
    one["dwell"] = with_unit(r.dwell.si, Kind::time);
    if (r.settled.si > 0) one["settled"] = with_unit(r.settled.si, Kind::time);
    list.push_back(std::move(one));
  }
  return Json{{"format", kFormat}, {"rules", std::move(list)}}.dump(2);
}

Result<Rules> read_rules_json(std::string_view text, const Rules& otherwise) {
  const auto bad = [](std::string message) {
    return Error{ErrorCode::bad_input, "guard rules", std::move(message)};
  };
  if (text.size() > kLargest) {
    return Error{ErrorCode::too_large, "guard rules", "more than 64 KiB came"};
  }
  const Json json = Json::parse(text, nullptr, false);
  if (!json.is_object()) return bad("not JSON, or no object");
  if (!json.contains("format") || json["format"] != kFormat) {
    return bad(fmt::format("expected \"format\": \"{}\"", kFormat));
  }
  if (!json.contains("rules") || !json["rules"].is_array()) return bad("\"rules\" is no list");
  Rules rules = otherwise;
  for (const Json& one : json["rules"]) FW_CHECK(read_rule(one, rules));
  FW_CHECK(validate(rules));
  return rules;
}

}  // namespace fuelwright::advice
