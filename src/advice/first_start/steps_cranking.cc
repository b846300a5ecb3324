// The starter turns the engine: oil, speed, pressure, pulse, timing.
#include <fmt/format.h>

#include <cmath>

#include "advice/first_start/internal/making.h"

namespace fuelwright::advice::internal {
namespace {

using F = FigureFrom;

constexpr double kUsualCranking_deg = 10;

double base_timing(const Making& m) {
  const double* spark = m.setting(car::SettingWhat::cranking_spark);
  return spark ? *spark : kUsualCranking_deg;
}

Expected starter_speed(const Making& m) {
  const auto n = cranking_speed_rpm(m.in.air);
  return bounds("engine speed", n.low, n.high, "rpm", F::common_practice,
                fmt::format("{:.0f} to {:.0f} rpm at {}, even", n.low, n.high,
                            m.temperature(m.in.air.from_zero.si)));
}

void add_oil_by_starter(Making& m) {
  if (m.run_in) return;  // primed by its own drive, and every turn of the starter wears the paste
  StartStep& s =
      m.step(StartPhase::cranking, "oil_pressure_cranking", "Oil pressure by the starter");
  s.act.push_back(
      "Injectors and ignition off, plugs out; 10 s at a time, half a minute of rest between.");
  s.expect.push_back(starter_speed(m));
  s.expect.push_back(
      bounds("oil pressure", 70e3, 420e3, "Pa", F::common_practice,
             fmt::format("above {} within {}", m.gauge(70e3), m.fresh ? "three tries" : "10 s")));
  s.if_not.push_back("None: prime the pump again; do not start it.");
  s.stop.push_back(
      "No oil pressure, or it turns unevenly, or there is a knock: stop and find out why.");
}

void expect_map(Making& m, StartStep& s) {
  const auto map = m.in.calibration
                       ? cranking_map_pa(m.sheet(), *m.in.calibration, m.station(), m.in.air)
                       : std::nullopt;
  if (!map) {
    s.expect.push_back(
        unknown("manifold pressure",
                "no idle air in the calibration in force: not computed yet, run predict; "
                "it must at least fall below the key-on reading"));
    return;
  }
  s.expect.push_back(
      figure("manifold pressure", *map, "Pa", F::computed,
             fmt::format("{}, pedal up, idle air open as for {}", m.manifold_range(*map),
                         m.temperature(m.in.air.from_zero.si))));
  s.if_not.push_back(
      "MAP stays at ambient: throttle open, a big air leak, a valve that hangs, or no "
      "compression. Far lower: the idle passage is shut: it will start and die.");
}

void expect_pulse(Making& m, StartStep& s) {
  const auto pulse = m.in.calibration ? cranking_pulse(m.sheet(), *m.in.calibration, m.in.air,
                                                       m.cranking_map(), m.station())
                                      : std::nullopt;
  if (!pulse) {
    s.expect.push_back(unknown("pulse width",
                               "no cranking fuel in the calibration in force: not "
                               "computed yet, run predict"));
    return;
  }
  s.expect.push_back(figure(
      "pulse width", pulse->pulse_s, "s", F::computed,
      fmt::format(
          "{:.1f} ms (11 V and a large injector {:.1f}, 9 V and a small one {:.1f}): {:.0f} mg a "
          "cylinder and cycle at {}, {:.1f} times stoichiometric, {} at {} across",
          1e3 * pulse->pulse_s.middle, 1e3 * pulse->pulse_s.low, 1e3 * pulse->pulse_s.high,
          1e6 * pulse->fuel_kg, m.temperature(m.in.air.from_zero.si), pulse->times_stoichiometric,
          format(pulse->flow.si, Kind::mass_flow, m.in.units, 2), m.gauge(pulse->across.si))));
  s.if_not.push_back(
      "Pulse far off: injector flow, its pressure, the squirts a cycle or the coolant "
      "reading differ in the unit.");
}

void expect_rail(Making& m, StartStep& s) {
  const RailPressure rail = rail_at(m.sheet(), m.cranking_map(), m.station());
  s.expect.push_back(
      bounds("rail pressure", 0.90 * rail.on_gauge.si, 1.05 * rail.on_gauge.si, "Pa", F::computed,
             fmt::format("{} on the gauge; the pump is slow at 10 V",
                         m.gauge_range(0.90 * rail.on_gauge.si, 1.05 * rail.on_gauge.si))));
}

void add_cranking(Making& m) {
  StartStep& s = m.step(StartPhase::cranking, "cranking",
                        m.run_in ? "One short crank, 3 s at most, injectors unplugged"
                                 : "Crank and read, injectors unplugged");
  s.act.push_back(m.run_in
                      ? "Ignition live, plugs in, pedal up. 3 s are enough to read all of this and "
                        "the timing below; more wears the new lobes."
                      : "Ignition live, plugs in, pedal up; 5 s.");
  s.expect.push_back(starter_speed(m));
  s.expect.push_back(bounds("battery", 9.6, 11.5, "V", F::common_practice, "not below 9.6 V"));
  expect_map(m, s);
  expect_pulse(m, s);
  expect_rail(m, s);
  s.if_not.push_back(
      "No engine speed in the unit: trigger polarity, gap or wiring. Speed that jumps: "
      "teeth are lost, and so will be sparks.");
  s.cautions.push_back(
      "Belts and fan turn without warning: hands, hair and tools clear before the key.");
}

void add_timing(Making& m) {
  const double base = base_timing(m);
  StartStep& s = m.step(StartPhase::cranking, "base_timing", "Base timing by timing light");
  s.act.push_back(fmt::format(
      "Hold the unit at a fixed {:.0f} deg, light on cylinder {}, {}.", base,
      m.sheet().engine.firing_order.values.empty() ? 1
                                                   : m.sheet().engine.firing_order.values.front(),
      m.run_in ? "during the same short crank" : "while the starter turns it"));
  s.expect.push_back(
      bounds("mark", base - 2, base + 2, "deg",
             m.setting(car::SettingWhat::cranking_spark) ? F::computed : F::common_practice,
             fmt::format("{:.0f} \xC2\xB1"
                         "2 deg before top dead centre",
                         base)));
  s.if_not.push_back(
      "A steady difference goes into the trigger offset, or the distributor is turned. "
      "A mark that jumps: lost teeth or a loose chain. No mark: it sparks at overlap or at "
      "another cylinder.");
  if (m.run_in) {
    s.act.push_back("It must be right now: there is no idling later to set it at.");
    s.stop.push_back(
        "Not within 5 deg: do not start; correct it by hand turning, not by more cranking.");
  }
  s.cautions.push_back("Clip the light's leads clear of fan and belts before the key is turned.");
}

}  // namespace

void cranking_steps(Making& m) {
  add_oil_by_starter(m);
  add_cranking(m);
  add_timing(m);
}

}  // namespace fuelwright::advice::internal
