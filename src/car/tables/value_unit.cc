#include "car/tables/value_unit.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "car/tables/internal/shown.h"

namespace fuelwright::car {
namespace {

// Degrees of the crank are not turned into radians here; see value_unit.h.
UnitInfo degrees() { return {"deg", Kind::crank_angle, 1.0, 0.0}; }

}  // namespace

UnitInfo shown_unit(const ValueUnit& unit, UnitSystem system) {
  if (unit.kind == Kind::crank_angle) return degrees();
  const bool own_us = system == UnitSystem::us && *unit.shown_us != '\0';
  if (const char* name = own_us ? unit.shown_us : unit.shown; *name != '\0') {
    const auto shown = find_unit(name, unit.kind);
    EXPECTS(shown.has_value());
    return *shown;
  }
  return display_unit(unit.kind, system);
}

Result<UnitInfo> unit_named(const ValueUnit& unit, std::string_view text) {
  if (unit.kind == Kind::crank_angle) {
    if (text == "deg") return degrees();
  } else if (text == unit.symbol) {
    return UnitInfo{unit.symbol, unit.kind, 1.0, 0.0};
  } else if (const auto found = find_unit(text, unit.kind); found && !text.empty()) {
    return *found;
  }
  return Error{ErrorCode::unknown_unit, "",
               fmt::format("\"{}\" is no unit for it; expected {}", internal::shown(text),
                           unit.kind == Kind::crank_angle ? "deg" : units_of(unit.kind))};
}

std::string format_value(double value, const ValueUnit& unit, UnitSystem system, int digits) {
  const UnitInfo u = shown_unit(unit, system);
  const double shown = (value - u.offset) / u.factor;
  const bool whole = unit.kind == Kind::engine_speed;
  const int before = shown == 0 ? 1 : static_cast<int>(std::floor(std::log10(std::abs(shown)))) + 1;
  const int decimals = whole ? 0 : std::clamp(digits - before, 0, 4);
  const std::string number = fmt::format("{:.{}f}", shown, decimals);
  return u.symbol.empty() || u.symbol == "-" ? number : number + " " + u.symbol;
}

}  // namespace fuelwright::car
