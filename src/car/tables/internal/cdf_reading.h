/// What reading tables and curves of a CDF file has in common.
#pragma once

#include <fmt/format.h>

#include <string>
#include <vector>

#include "base/result.h"
#include "car/tables/cdf.h"
#include "car/tables/internal/decimal.h"
#include "car/tables/internal/shown.h"

namespace fuelwright::car::internal {

inline std::string place_of(const CdfInstance& i) { return "CDF " + shown(i.name); }

inline Error bad(const CdfInstance& i, const std::string& message) {
  return {ErrorCode::bad_input, place_of(i), message};
}

inline Error at(const CdfInstance& i, Error e) {
  e.where = place_of(i) + (e.where.empty() ? "" : ": " + e.where);
  return e;
}

inline Result<std::vector<double>> numbers(const CdfInstance& i, const std::vector<std::string>& texts,
                                    const UnitInfo& unit) {
  std::vector<double> out;
  for (const std::string& text : texts) {
    const auto v = parse_in(text, unit);
    if (!v) return bad(i, fmt::format("\"{}\" is not a number", shown(text)));
    out.push_back(*v);
  }
  return out;
}

}  // namespace fuelwright::car::internal
