// Before anything is switched on: oil, coolant, valves, compression, air.
#include <fmt/format.h>

#include "advice/first_start/internal/making.h"
#include "car/build/derived.h"

namespace fuelwright::advice::internal {
namespace {

using F = FigureFrom;

void add_oil(Making& m) {
  StartStep& s = m.step(StartPhase::standing, "oil_primed",
                        m.fresh || m.run_in ? "Oil filled and primed" : "Oil level");
  if (m.run_in) {
    s.act.push_back(
        "Run-in oil or an additive with enough zinc and phosphorus for flat tappets, as "
        "the cam's card says; a new filter, filled.");
    s.act.push_back(
        "Lobes and tappet faces coated with the cam maker's paste; nothing turned since.");
  } else {
    s.act.push_back(m.fresh ? "Oil of the grade the engine's builder names; a new filter, filled."
                            : "Oil level at the upper mark, and no smell of fuel in it.");
  }
  if (!m.fresh && !m.run_in) {
    s.expect.push_back(in_words("level", F::common_practice, "at the upper mark, car level"));
    s.if_not.push_back(
        "Oil that smells of fuel: an injector leaks or was left open; change it first.");
    return;
  }
  s.act.push_back(m.run_in
                      ? "Turn the oil pump by its own drive or a priming tool, not by the "
                        "starter: cranking wipes the paste off the lobes."
                      : "Turn the oil pump by its own drive or a priming tool; where it sits on "
                        "the crank, push oil in at the pressure sender's port.");
  s.act.push_back(
      "Turn the crank by hand a quarter turn now and then, until oil comes at every "
      "rocker or lifter gallery.");
  const double oil = m.in.rules.of(RuleKind::oil_pressure).limit;
  s.expect.push_back(
      bounds("oil pressure while priming", 140e3, 420e3, "Pa", F::common_practice,
             fmt::format("{} cold, within half a minute", m.gauge_range(140e3, 420e3))));
  s.if_not.push_back(
      "No pressure: the pump is dry (fill it with oil), turns the wrong way, or a "
      "gallery plug is missing.");
  s.stop.push_back(
      fmt::format("No pressure that holds above {}: the engine is not turned any "
                  "further.",
                  m.gauge(oil)));
}

void add_valves(Making& m) {
  if (!m.tappets.solid || !(m.fresh || m.new_cam)) return;
  const car::Cam& cam = m.sheet().cam;
  StartStep& s = m.step(StartPhase::standing, "valve_lash", "Valve clearance");
  s.act.push_back("Set both valves of each cylinder cold, at its firing top dead centre.");
  const auto lash = [&](const char* what, const car::Known<Length>& v) {
    s.expect.push_back(figure(what, {v.si() - v.tolerance_si(), v.si(), v.si() + v.tolerance_si()},
                              "m", from_source(v.source),
                              format(v.si(), Kind::length, m.in.units, 2) +
                                  " at the valve, by the cam's card (hot or cold as it says)"));
  };
  lash("intake clearance", cam.intake_lash);
  lash("exhaust clearance", cam.exhaust_lash);
  s.if_not.push_back("Clearance that cannot be set: wrong pushrod length; find it before it runs.");
}

void add_coolant(Making& m) {
  if (!m.cooling_opened) return;
  StartStep& s = m.step(StartPhase::standing, "coolant_bled", "Coolant filled and bled");
  s.act.push_back(
      "Fill slowly with the highest bleed open, heater valve open, nose of the car up.");
  s.act.push_back("Squeeze the hoses until no more air comes; fill up again.");
  s.expect.push_back(
      in_words("level", F::common_practice,
               "does not sink any more; no drip at hoses, core plugs and water pump"));
  s.if_not.push_back(
      "It keeps sinking: air is still in the heads, and the sensor may stand in steam "
      "and read cold.");
  s.cautions.push_back("Never open a hot cooling system: steam scalds.");
}

void add_compression(Making& m) {
  const auto p = cranking_compression_pa(m.sheet(), m.station());
  if (m.run_in) {
    StartStep& s =
        m.step(StartPhase::standing, "leak_down", "Leak-down of every cylinder, no cranking");
    s.act.push_back(
        "Each piston at firing top dead centre by hand, the crank held; shop air through "
        "the gauge, listen where it goes.");
    s.expect.push_back(
        bounds("loss", 0, m.fresh ? 0.20 : 0.15, "1", F::common_practice,
               m.fresh ? "up to 20 % while rings are not bedded, no cylinder far from the others"
                       : "up to 15 %, no cylinder far from the others"));
    s.if_not.push_back(
        "Hiss at the intake or exhaust: a valve stands open (clearance, preload, cam "
        "timing). At the oil filler: rings. Bubbles in the coolant: the gasket.");
    s.cautions.push_back(
        "Shop air turns the crank: hold it with a long bar and stand clear of it.");
    return;
  }
  StartStep& s = m.step(StartPhase::standing, "compression", "Compression of every cylinder");
  s.act.push_back(
      "All plugs out, throttle wide open, injectors and ignition unplugged, battery "
      "charged; five compressions each.");
  s.expect.push_back(figure(
      "compression", p, "Pa", F::computed,
      fmt::format("{}: {:.1f} to 1, intake valve shut with {:.0f} % of the stroke left, {} outside "
                  "(exponent 1.20 to 1.30 from memory)",
                  m.gauge_range(p.low, p.high), m.sheet().engine.compression.si(),
                  100 * stroke_left_at_intake_closing(m.sheet()),
                  m.manifold(m.station().from_zero.si))));
  s.expect.push_back(
      bounds("lowest over highest cylinder", 0.85, 1, "1", F::common_practice,
             m.fresh ? "above 85 %; a fresh engine may start lower and come up" : "above 85 %"));
  s.if_not.push_back(
      "All low: throttle shut, weak battery, or the cam stands late. One low: repeat "
      "with a spoon of oil: better then means rings, else a valve or the gasket. All "
      "high: more compression than the sheet says, so less spark.");
  s.stop.push_back("A cylinder below two thirds of the others: find out why before it runs.");
  s.cautions.push_back(
      "Unplug coils and injectors: fuel mist at the plug holes and a spark burn. "
      "Stand clear of the holes, belts and fan.");
}

void add_vacuum_leaks(Making& m) {
  const bool body = m.sheet().injection.arrangement.value == car::InjectionArrangement::throttle;
  const bool single =
      m.sheet().intake.arrangement.value == car::IntakeArrangement::individual_throttles;
  StartStep& s = m.step(StartPhase::standing, "vacuum_leaks", "Air leaks of the intake");
  s.act.push_back(
      "Smoke, or air at 3 to 5 kPa (half a psi), into the intake with the throttle shut and "
      "the breather plugged; soapy water at every joint.");
  s.act.push_back(
      body     ? "Look first under the throttle body's base plate and at the brake servo hose."
      : single ? "Look first at the rubber joints and spindles of the throttles, and at "
                 "the hoses that gather their pressure for the MAP sensor."
               : "Look first at the manifold's gaskets, injector seals, brake servo and "
                 "breather hoses.");
  if (single) {
    s.act.push_back(
        "Set all throttles to open together, and their stops by an air-flow gauge later.");
  }
  s.expect.push_back(
      in_words("smoke or bubbles", F::common_practice, "none but a trace at the spindles"));
  s.if_not.push_back(
      body ? "A leak below the throttle makes the far cylinders lean and the idle fast."
           : "A leak at one runner makes that cylinder lean; the MAP sensor and one "
             "mixture sensor for all do not show it.");
  s.cautions.push_back("Not more pressure than that: it lifts seals and blows hoses off.");
}

}  // namespace

void standing_steps(Making& m) {
  add_valves(m);
  if (!m.run_in) add_oil(m);
  add_coolant(m);
  add_compression(m);
  add_vacuum_leaks(m);
}

void oil_last(Making& m) {
  if (m.run_in) add_oil(m);
}

}  // namespace fuelwright::advice::internal
