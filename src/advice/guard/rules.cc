#include "advice/guard/rules.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace fuelwright::advice {
namespace {

using K = Kind;
using R = RuleKind;

constexpr double kLongest_s = 60;
constexpr double kPsi_pa = 6894.757293168;

// kind, name, label, instruction, bounded, below, unit, step, conditional, condition, lowest,
// highest
constexpr std::array<RuleWords, kRules> kWords{{
    {R::lean_under_load, "lean_under_load", "lean under load",
     "Lift off the throttle now. Add fuel here before the next pull.", true, false, K::ratio,
     K::ratio, true, K::absolute_pressure, 0.7, 1.3},
    {R::knock, "knock", "knock", "Lift off now. Take spark out here, or use more octane.", true,
     false, K::crank_angle, K::crank_angle, false, K::ratio, 0.0, 0.6},
    {R::fuel_pressure, "fuel_pressure", "fuel pressure below demand",
     "Lift off now and stop. Check pump, filter, wiring and regulator; fuel under pressure burns.",
     true, false, K::ratio, K::ratio, false, K::ratio, 0.02, 0.6},
    {R::duty, "duty", "injector duty",
     "Do not go faster in this load: the injectors are at their end.", true, false, K::ratio,
     K::ratio, false, K::ratio, 0.5, 1.0},
    {R::coolant, "coolant", "coolant temperature",
     "Drive gently, heater on full; stop if it climbs. Do not open the hot cooling system.", true,
     false, K::temperature, K::temperature_step, false, K::ratio, 333.15, 413.15},
    {R::oil_pressure, "oil_pressure", "oil pressure", "Switch the engine off now.", true, true,
     K::gauge_pressure, K::pressure_step, true, K::engine_speed, 0.1e5, 3e5},
    {R::intake_temperature, "intake_temperature", "intake air temperature",
     "No more full throttle until it has cooled: hot air knocks.", true, false, K::temperature,
     K::temperature_step, false, K::ratio, 303.15, 423.15},
    {R::battery_low, "battery_low", "battery voltage low",
     "Stop pulling: pump and injectors get weaker. Check the alternator, its belt and the earths.",
     true, true, K::voltage, K::voltage, false, K::ratio, 8, 13.5},
    {R::battery_high, "battery_high", "battery voltage high",
     "Stop and check the alternator's regulator: electronics and battery are in danger.", true,
     false, K::voltage, K::voltage, false, K::ratio, 14.5, 18},
    {R::overspeed, "overspeed", "engine speed", "Lift off: over the limit of this engine.", true,
     false, K::engine_speed, K::engine_speed, false, K::ratio, 1000, 20000},
    {R::over_pressure, "over_pressure", "manifold pressure",
     "Lift off: more pressure than the tables and the sensor are made for.", true, false,
     K::absolute_pressure, K::pressure_step, false, K::ratio, 50e3, 500e3},
    {R::sensor_fault, "sensor_fault", "sensor reads what cannot be",
     "Drive gently home and check this sensor and its wiring.", false, false, K::ratio, K::ratio,
     false, K::ratio, 0, 0},
    {R::sensor_lost, "sensor_lost", "sensor lost",
     "No pulls: this is not watched any more. Check connector and logger.", false, false, K::ratio,
     K::ratio, false, K::ratio, 0, 0},
}};

Error wrong(const Rule& r, std::string_view what) {
  return {ErrorCode::out_of_range, fmt::format("guard rule {}", words_of(r.kind).name),
          std::string(what)};
}

std::string shown(double si, Kind kind) { return format(si, kind, UnitSystem::metric); }

Status check(const Rule& r) {
  const RuleWords& w = words_of(r.kind);
  if (!(r.dwell.si >= 0 && r.dwell.si <= kLongest_s)) {
    return wrong(r, fmt::format("dwell {} s came; expected 0 to {:.0f} s", r.dwell.si, kLongest_s));
  }
  if (!(r.settled.si >= 0 && r.settled.si <= kLongest_s)) {
    return wrong(
        r, fmt::format("settled {} s came; expected 0 to {:.0f} s", r.settled.si, kLongest_s));
  }
  if (!w.bounded) return Done{};
  if (!(r.limit >= w.lowest && r.limit <= w.highest)) {
    return wrong(r, fmt::format("limit {} came; expected {} to {}", shown(r.limit, w.unit),
                                shown(w.lowest, w.unit), shown(w.highest, w.unit)));
  }
  if (!(r.back_by >= 0 && std::isfinite(r.back_by))) {
    return wrong(r, fmt::format("back_by {} came; expected 0 or more", r.back_by));
  }
  if (w.conditional && !(r.while_above >= 0 && std::isfinite(r.while_above))) {
    return wrong(r, fmt::format("while_above {} came; expected 0 or more", r.while_above));
  }
  return Done{};
}

}  // namespace

std::span<const RuleWords> all_rules() { return kWords; }
const RuleWords& words_of(RuleKind kind) {
  const auto at = static_cast<std::size_t>(kind);
  EXPECTS(at < kWords.size());
  return kWords[at];
}

Rules safe_rules(const car::Sheet& sheet) {
  Rules r;
  for (std::size_t i = 0; i < r.list.size(); ++i) r.list[i].kind = kWords[i].kind;
  const auto set = [&](R kind, double limit, double back_by, double dwell_s) -> Rule& {
    Rule& rule = r.of(kind);
    rule.limit = limit;
    rule.back_by = back_by;
    rule.dwell = dwell_s * second;
    return rule;
  };
  // All figures: common practice, no source. 10 psi of oil for each 1000 rpm is the old rule.
  Rule& lean = set(R::lean_under_load, 0.92, 0.02, 0.3);
  lean.while_above = 90e3;
  lean.settled = 0.6 * second;  // the mixture read is that old: exhaust, sensor, enrichment, film
  set(R::knock, crank_degrees(3).rad, crank_degrees(1).rad, 0.0);
  set(R::fuel_pressure, 0.10, 0.03, 0.2);
  set(R::duty, 0.90, 0.05, 0.2);
  set(R::coolant, celsius(110).from_zero.si, 3, 1.0);
  set(R::oil_pressure, 10 * kPsi_pa, 0.1e5, 1.0).while_above = 4000;
  set(R::intake_temperature, celsius(75).from_zero.si, 5, 5.0);
  set(R::battery_low, 12.0, 0.3, 2.0);
  set(R::battery_high, 15.2, 0.2, 2.0);
  set(R::overspeed, std::clamp(sheet.wishes.rev_limit.si() + 250, 1000.0, 20000.0), 100, 0.1);
  // Without a blower nothing lies above ambient but pulsation; with one, the sensor's end.
  const double ambient = sheet.place.pressure.si();
  const double end = sheet.sensors.map_high.si();
  const double most = end > 1.3 * ambient ? 0.97 * end : ambient + 10e3;
  set(R::over_pressure, std::clamp(most, 50e3, 500e3), 3e3, 0.2);
  set(R::sensor_fault, 0, 0, 0.5);
  set(R::sensor_lost, 0, 0, 1.0);
  return r;
}

Status validate(const Rules& rules) {
  for (std::size_t i = 0; i < rules.list.size(); ++i) {
    EXPECTS(rules.list[i].kind == kWords[i].kind);
    FW_CHECK(check(rules.list[i]));
  }
  return Done{};
}

}  // namespace fuelwright::advice
