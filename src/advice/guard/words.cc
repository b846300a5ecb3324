// Firings and limits as a person reads them.
#include <fmt/format.h>

#include "advice/guard/guard.h"

namespace fuelwright::advice {
namespace {

// Manifold pressure is read in inHg where people read inches; format() keeps absolute ones in kPa.
std::string in_unit(double si, Kind kind, UnitSystem units, int digits = 3) {
  const bool absolute_us = kind == Kind::absolute_pressure && units == UnitSystem::us;
  return format(si, absolute_us ? Kind::pressure_step : kind, units, digits);
}

}  // namespace

std::string shown(RuleKind rule, double si, UnitSystem units) {
  switch (rule) {
    case RuleKind::lean_under_load:
      return fmt::format("lambda {:.2f}", si);
    case RuleKind::fuel_pressure:
    case RuleKind::duty:
      return fmt::format("{:.0f} %", 100 * si);
    default:
      return in_unit(si, words_of(rule).unit, units, 4);
  }
}

std::string shown_condition(const Rule& rule, UnitSystem units) {
  return in_unit(rule.while_above, words_of(rule.kind).condition, units);
}

std::string in_words(const Firing& f, UnitSystem units) {
  const RuleWords& w = words_of(f.rule);
  std::string text = fmt::format("{} at {:.1f} s", w.label, f.began.si);
  if (w.bounded) {
    text += fmt::format(": {} {}, limit {}", label_of(f.signal), shown(f.rule, f.value, units),
                        shown(f.rule, f.limit, units));
  } else {
    text += fmt::format(": {}", label_of(f.signal));
    if (f.rule == RuleKind::sensor_fault && !std::isnan(f.value)) {
      text += fmt::format(" {}", in_unit(f.value, kind_of(f.signal), units));
    }
  }
  text += fmt::format(", for {:.1f} s", f.lasted().si);
  if (f.speed.rpm > 0 && f.map.from_zero.si > 0) {
    text += fmt::format(" ({:.0f} rpm, {})", f.speed.rpm,
                        in_unit(f.map.from_zero.si, Kind::absolute_pressure, units));
  }
  return text + ". " + w.instruction;
}

}  // namespace fuelwright::advice
