// Fuel under pressure for the first time, and key-on with the engine off.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "advice/first_start/internal/making.h"

namespace fuelwright::advice::internal {
namespace {

using F = FigureFrom;

constexpr double kGauge_pa = 4e3;     // of a sound rail gauge, as sensor_checks takes it
constexpr double kThermistor_k = 3;   // two sound ones, 95 %, as sensor_checks takes it
constexpr double kFreeLean = 1.5;     // lambda from which free air is read as such
constexpr double kSoak_s = 6 * 3600;  // after that an engine is as warm as its place

Expected static_rail(const Making& m) {
  const car::Injection& in = m.sheet().injection;
  const double set = rail_at(m.sheet(), m.station(), m.station()).on_gauge.si;
  const double doubt = std::hypot(in.regulator_pressure.tolerance_si(), 1.96 * kGauge_pa);
  return figure("rail pressure, pump running", {set - doubt, set, set + doubt}, "Pa",
                from_source(in.regulator_pressure.source),
                fmt::format("{} \xC2\xB1{:.0f} on the gauge ({})", m.gauge(set),
                            doubt / (m.in.units == UnitSystem::us ? psi.factor : kPa.factor),
                            in.regulator_reference.value == car::RegulatorReference::manifold
                                ? "the regulator follows the manifold, which is at ambient now"
                                : "the regulator works against the atmosphere"));
}

void add_leak_test(Making& m) {
  const bool body = m.sheet().injection.arrangement.value == car::InjectionArrangement::throttle;
  const bool full = m.fuel_opened;
  StartStep& s = m.step(StartPhase::fuel, "fuel_leak_test",
                        full ? "Leak test of the whole fuel system at pressure"
                             : "Short leak test of the fuel system");
  s.act.push_back(full
                      ? "Pump by a fused wire or from test mode, 2 s at a time three times, then 5 "
                        "minutes on; wipe every joint from tank to rail with a dry paper."
                      : "Pump on for a minute; look and smell along the rail and hoses once.");
  s.act.push_back(
      body ? "Look down the throttle body: no drop from an injector that is shut."
           : "Pull the rail up with its injectors, or watch the pressure: no drop from an "
             "injector that is shut.");
  if (full)
    s.act.push_back("Pump off: watch the gauge for 5 minutes. Repeat when the engine is hot.");
  s.expect.push_back(static_rail(m));
  const double most = full ? 0.10 : 0.15;
  const double minutes = full ? 5 : 1;
  s.expect.push_back(bounds("share lost with the pump off", 0, most, "1", F::common_practice,
                            fmt::format("not more than {:.0f} % in {:.0f} minute{}", 100 * most,
                                        minutes, minutes > 1 ? "s" : "")));
  s.if_not.push_back(
      "Falls and nothing is wet: an injector drips inside, the pump's check valve or the "
      "regulator leaks: clamp supply, then return, to see which.");
  s.if_not.push_back(
      "Too high: the return is blocked or the regulator's hose is wrong. Too low: pump, "
      "wiring, filter or regulator.");
  s.stop.push_back(
      "Any wet joint, any smell: pump off, battery off, dry it, let it air, then mend it.");
  s.cautions.push_back(
      "Fuel under pressure sprays far and catches fire from a spark: outdoors, "
      "extinguisher in hand, ignition coils unplugged, nothing hot, eyes protected.");
  s.cautions.push_back("Let the pressure off into a rag before a joint is opened.");
}

void add_tables(Making& m) {
  StartStep& s = m.step(StartPhase::key_on, "calibration", "The calibration in the unit");
  s.act.push_back(
      fmt::format("Send {} of this job to the unit, read it back and compare.", m.revision()));
  s.act.push_back("Closed-loop correction and learning off, overrun cut off, for now.");
  const auto limit = [&](const char* what, car::SettingWhat key) {
    if (const double* v = m.setting(key)) {
      s.expect.push_back(in_words(what, F::computed, fmt::format("{:.0f} rpm", *v)));
    }
  };
  if (m.run_in) {
    s.act.push_back("Rev limit at 3500 rpm until the cam is run in and the oil is changed.");
  } else {
    limit("hard rev limit", car::SettingWhat::hard_rev_limit);
  }
  if (m.in.running == nullptr) s.expect.push_back(unknown("what it will do", m.in.not_computed));
  if (m.curve(car::CurveWhat::cranking_fuel) == nullptr) {
    s.expect.push_back(unknown("fuel for cranking and warm-up",
                               "not in the calibration in force: not computed yet, run predict"));
  }
  s.if_not.push_back(
      "What is read back differs: units, axes or injector data were taken another way; "
      "nothing is started on it.");
}

void expect_outside_air(Making& m, StartStep& s) {
  constexpr double kMap_pa = 350;
  const double p = m.station().from_zero.si;
  const double doubt = 2 * std::hypot(kMap_pa, m.in.place.sd.si);
  s.expect.push_back(
      figure("manifold pressure", {p - doubt, p, p + doubt}, "Pa", F::computed,
             fmt::format("{} \xC2\xB1{}: the air outside, by {}", m.manifold(p),
                         format(doubt, Kind::pressure_step, m.in.units, 2), m.in.place.from)));
  const auto& top = m.sheet().sensors.map_high;
  if (top.si() < 1.01 * p) {
    s.if_not.push_back(fmt::format("The MAP sensor ends at {} ({}): it cannot read today's air.",
                                   m.manifold(top.si()), car::name_of(top.source)));
  }
  s.if_not.push_back(
      "MAP off by more: wrong transfer, a leak in its hose, or a sea-level figure taken "
      "for the place's own.");
}

void expect_temperatures(Making& m, StartStep& s) {
  const double air = m.in.air.from_zero.si;
  if (m.in.stood && m.in.stood->si < kSoak_s) {
    s.expect.push_back(in_words(
        "coolant and intake air", F::common_practice,
        fmt::format(
            "intake air near {}, coolant above it: {:.1f} h is too short for both to agree; "
            "look again in the morning",
            m.temperature(air), m.in.stood->si / 3600)));
    return;
  }
  const double doubt = std::hypot(m.in.air_doubt.si, kThermistor_k);
  s.expect.push_back(figure(
      "coolant and intake air", {air - doubt, air, air + doubt}, "K", F::computed,
      fmt::format("both {} \xC2\xB1{} by {}, and within {} of each other{}", m.temperature(air),
                  format(doubt, Kind::temperature_step, m.in.units, 2), m.in.air_from,
                  format(kThermistor_k, Kind::temperature_step, m.in.units, 1),
                  m.in.stood ? "" : ", after 6 hours of standing or more")));
  s.if_not.push_back(
      "One off: that sensor's curve or its pull-up is wrong in the unit; warm-up fuel and "
      "spark hang on it.");
}

void expect_mixture(Making& m, StartStep& s) {
  const auto& sensors = m.sheet().sensors.mixture;
  if (sensors.empty()) {
    s.expect.push_back(unknown("mixture sensor",
                               "the sheet has none: the first start is blind without "
                               "one; fit one before"));
    return;
  }
  for (const car::MixtureSensor& one : sensors) {
    s.expect.push_back(bounds(
        sensors.size() > 1 ? "mixture in free air, " + one.name.value : "mixture in free air",
        kFreeLean, 20, "1", F::common_practice,
        fmt::format("{} or leaner, or the end of its gauge, warm sensor",
                    car::format(car::lambda(kFreeLean), one.scale.value))));
  }
  s.if_not.push_back(
      "Mixture not lean in free air: not warm yet, old exhaust in the pipe, or a gauge "
      "whose scale is set wrong: see it right before any tuning.");
}

void add_key_on(Making& m) {
  StartStep& s = m.step(StartPhase::key_on, "key_on_sensors", "Sensors with the key on");
  s.act.push_back(
      "Record 30 s with the key on, engine off; press the pedal slowly to the floor and let "
      "go once. check --key-on reads such a recording.");
  expect_outside_air(m, s);
  expect_temperatures(m, s);
  s.expect.push_back(bounds("battery", 12.4, 12.8, "V", F::common_practice,
                            "12.4 to 12.8 V at rest; charge it below"));
  s.expect.push_back(bounds("throttle", 0, 1, "1", F::common_practice,
                            "0 to 2 % up, 96 to 100 % on the floor, no jump between"));
  expect_mixture(m, s);
  s.expect.push_back(static_rail(m));
  s.if_not.push_back("Throttle off: teach both ends again; a jump is a worn track.");
}

}  // namespace

void fuel_steps(Making& m) { add_leak_test(m); }

void key_on_steps(Making& m) {
  add_tables(m);
  add_key_on(m);
}

}  // namespace fuelwright::advice::internal
