#include "car/build/internal/shown.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace fuelwright::car {
namespace {

constexpr int kDigits = 4;      // significant, of a value
constexpr int kStepDigits = 2;  // of a tolerance

std::string digits_of(double value, int digits, bool trim) {
  const int before = value == 0 ? 1 : static_cast<int>(std::floor(std::log10(std::abs(value)))) + 1;
  std::string out = fmt::format("{:.{}f}", value, std::clamp(digits - before, 0, 12));
  if (trim && out.find('.') != std::string::npos) {
    out.erase(out.find_last_not_of('0') + 1);
    if (out.back() == '.') out.pop_back();
  }
  return out;
}

bool plain(Kind kind) { return kind == Kind::ratio || kind == Kind::count; }

UnitInfo unit_for(const Key& key, const Sheet& sheet, UnitSystem system) {
  const auto unit = find_unit(shown_unit(key, sheet, system), kind_of(key, sheet));
  EXPECTS(unit.has_value());
  return *unit;
}

std::string joined(std::string number, const std::string& unit) {
  return unit.empty() ? number : number + " " + unit;
}

std::string number_in(double si, const UnitInfo& unit, bool trim) {
  const bool whole = unit.kind == Kind::engine_speed || unit.kind == Kind::count;
  const double value = (si - unit.offset) / unit.factor;
  return whole ? fmt::format("{:.0f}", value) : digits_of(value, kDigits, trim);
}

}  // namespace

std::string shown(double si, const Key& key, const Sheet& sheet, UnitSystem system) {
  const UnitInfo unit = unit_for(key, sheet, system);
  return joined(number_in(si, unit, plain(unit.kind)), unit.symbol);
}

std::string shown_list(const std::vector<double>& si, const Key& key, const Sheet& sheet,
                       UnitSystem system) {
  const UnitInfo unit = unit_for(key, sheet, system);
  std::string out;
  for (const double value : si) out += (out.empty() ? "" : ", ") + number_in(value, unit, true);
  return joined(out, unit.symbol);
}

std::string shown_step(double step, const Key& key, const Sheet& sheet, UnitSystem system) {
  UnitInfo unit = unit_for(key, sheet, system);
  if (unit.kind == Kind::temperature) unit = display_unit(Kind::temperature_step, system);
  for (const std::string_view point : {" gauge", " absolute"}) {
    if (unit.symbol.ends_with(point)) unit.symbol.resize(unit.symbol.size() - point.size());
  }
  return joined(digits_of(step / unit.factor, kStepDigits, true), unit.symbol);
}

std::string shown_limits(const Key& key, const Sheet& sheet, UnitSystem system) {
  const bool number = key.at.form == Form::number || key.at.form == Form::numbers;
  if (!number || !(key.low < key.high)) return "";
  if (key.mixture) {
    const MixtureScale scale = sheet.wishes.scale.value;
    return format(lambda(key.low), scale) + " to " + format(lambda(key.high), scale);
  }
  const UnitInfo unit = unit_for(key, sheet, system);
  const auto end = [&](double limit) {
    return number_in(to_si(limit, kind_of(key, sheet), unit_of(key, sheet)), unit, true);
  };
  return joined(end(key.low) + " to " + end(key.high), unit.symbol);
}

}  // namespace fuelwright::car
