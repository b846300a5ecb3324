/// Members of a JSON object, each with one clear line where it is missing or of another kind.
#pragma once

#include <fmt/format.h>

#include <nlohmann/json.hpp>
#include <string>
#include <vector>

#include "base/result.h"
#include "base/units/number.h"
#include "car/tables/axis.h"
#include "car/tables/internal/decimal.h"

namespace fuelwright::car::internal {

using Json = nlohmann::ordered_json;

inline Error bad_json(const std::string& where, const std::string& message) {
  return {ErrorCode::bad_input, where, message};
}

inline Result<const Json*> member(const Json& json, const std::string& where, const char* key) {
  if (!json.is_object()) return bad_json(where, "is not a JSON object");
  const auto it = json.find(key);
  if (it == json.end()) return bad_json(where, fmt::format("\"{}\" is missing", key));
  return &*it;
}

inline Result<std::string> text(const Json& json, const std::string& where, const char* key) {
  FW_TRY(const Json* value, member(json, where, key));
  if (!value->is_string()) return bad_json(where, fmt::format("\"{}\" is not a text", key));
  return value->get<std::string>();
}

/// Numbers in a unit, as SI: by their shortest digits, so that 60.1 kPa is the double of 60100 Pa.
inline Result<std::vector<double>> numbers(const Json& json, const std::string& where,
                                           const char* key, const UnitInfo& unit) {
  FW_TRY(const Json* list, member(json, where, key));
  if (!list->is_array()) return bad_json(where, fmt::format("\"{}\" is not a list", key));
  std::vector<double> out;
  for (const Json& number : *list) {
    const auto si = number.is_number() ? parse_in(number.dump(), unit) : std::nullopt;
    if (!si) {
      return bad_json(where, fmt::format("\"{}\", entry {}, is not a number", key, out.size() + 1));
    }
    out.push_back(*si);
  }
  return out;
}

/// {"name": ..., "unit": ..., "values": [...]}, in SI.
Json axis_json(const Axis& axis);

}  // namespace fuelwright::car::internal
