// It runs: the start, the cam's run-in or the idle, the warm-up, and what comes after.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "advice/first_start/internal/making.h"
#include "car/build/derived.h"

namespace fuelwright::advice::internal {
namespace {

using F = FigureFrom;
using physics::Interval;

// Where a cam idles that nothing is known of: 55 to 75 kPa of a big one at sea level (common
// practice, no source).
constexpr double kBigIdleLow = 55.0 / 101.325, kBigIdleHigh = 75.0 / 101.325;

void shut_down_rules(const Making& m, StartStep& s, double speed_rpm) {
  const Rule& oil = m.in.rules.of(RuleKind::oil_pressure);
  const double need = oil.limit * std::min(speed_rpm, oil.while_above) / 1000;
  s.stop.push_back(
      fmt::format("Oil pressure not above {} within 10 s, or below it later (at {:.0f} rpm).",
                  m.gauge(need), speed_rpm));
  s.stop.push_back(fmt::format("Coolant above {}, or it boils or leaks.",
                               m.temperature(m.in.rules.of(RuleKind::coolant).limit)));
  s.stop.push_back("Fuel seen or smelt anywhere.");
  s.stop.push_back(
      "A knock, a rattle that speeds up with the engine, a squeal, smoke that is not oil "
      "burning off the headers.");
}

void add_start(Making& m) {
  StartStep& s = m.step(StartPhase::running, "start", "The start");
  s.act.push_back(
      "Injectors plugged in, light, oil gauge, coolant and mixture in sight; recording on.");
  s.act.push_back(m.run_in
                      ? "Start with the throttle opened by a third, so that it goes to 2000 rpm at "
                        "once; hold it there by hand or by the stop screw."
                      : "Start with the pedal up; help with a little throttle if it wants to die.");
  if (const double* clear = m.setting(car::SettingWhat::flood_clear_throttle)) {
    s.act.push_back(fmt::format(
        "Flooded: pedal on the floor (above {:.0f} % no fuel comes), crank 5 s.", 100 * *clear));
  }
  s.expect.push_back(bounds("time to fire", 1, 10, "s", F::common_practice,
                            "within 10 s of cranking; then wait half a minute"));
  s.expect.push_back(bounds("oil pressure", 0, 10, "s", F::common_practice, "there within 10 s"));
  s.if_not.push_back(
      "Does not fire: spark first (light flashes?), then fuel (plugs wet or dry?), then "
      "timing. Spits back: firing order or 360 deg. Wet plugs: less cranking fuel. Dry: "
      "more.");
  if (m.run_in) {
    s.stop.push_back(
        "It does not start within two tries of 5 s: stop cranking, find out why, coat the "
        "lobes and prime again before the next.");
    s.stop.push_back("It wants to settle below 1500 rpm: switch off rather than let it idle.");
  }
  s.cautions.push_back("Nobody over the intake: a spit-back is a flame. Belts and fan turn now.");
}

std::string percent(double share) { return fmt::format("{:.0f} %", 100 * share); }

// How the table feeds the engine at one speed of the run-in.
void expect_run_in(Making& m, StartStep& s, const PlaceWithoutLoad& p) {
  const std::string at = fmt::format("at {:.0f} rpm", p.speed.rpm);
  if (!p.map_pa) {
    s.expect.push_back(
        unknown("manifold pressure " + at,
                fmt::format("not known, to be learned: {:.0f} % of such engines do not "
                            "burn steadily there without load",
                            100 * (1 - p.runs))));
    return;
  }
  std::string says = m.manifold_range(*p.map_pa) + " warm";
  if (p.cold_map_pa)
    says += fmt::format(", {} while oil is cold", m.manifold(p.cold_map_pa->middle));
  s.expect.push_back(figure("manifold pressure " + at, *p.map_pa, "Pa", F::computed, says));
  s.expect.push_back(
      figure("air " + at, p.air_kg_s, "kg/s", F::computed, m.flow_range(p.air_kg_s)));
  if (!p.table) {
    s.expect.push_back(
        unknown("mixture " + at, "no VE table in the calibration in force to judge"));
    return;
  }
  const TableThere& t = *p.table;
  s.expect.push_back(figure(
      "mixture " + at, t.lambda, "1", F::computed,
      fmt::format("{} (\xC2\xB1{}, 95 %: {:.2f} to {:.2f}) aimed at {:.2f}; chance of leaner than "
                  "{:.2f}: {:.2g} %",
                  m.mixture(t.lambda.middle), percent(t.half_width), t.lambda.low, t.lambda.high,
                  t.target.value, t.limit.value, 100 * t.chance_lean)));
}

const PlaceWithoutLoad* leanest(const Running& r) {
  const PlaceWithoutLoad* out = nullptr;
  for (const PlaceWithoutLoad& p : r.run_in) {
    if (p.table && (!out || p.table->richer > out->table->richer)) out = &p;
  }
  return out;
}

std::string margin_words(const Making& m, const PlaceWithoutLoad& p) {
  const TableThere& t = *p.table;
  if (t.richer < 0.005) {
    return fmt::format(
        "The table may stay as it is: leaner than {:.2f} has a chance of {:.2g} % at the "
        "worst of these speeds.",
        t.limit.value, 100 * t.chance_lean);
  }
  std::string out = fmt::format(
      "Before the start, make the table {} richer from 1800 to 2700 rpm up to {}: the mixture then "
      "lies within {:.2f} to {:.2f} (95 %), leaner than {:.2f} with a chance of {:.2g} %. Take it "
      "back as soon as the warm sensor shows that it is not needed.",
      percent(t.richer), m.manifold(1.15 * (p.cold_map_pa ? p.cold_map_pa->high : p.map_pa->high)),
      t.lambda_then.low, t.lambda_then.high, t.limit.value, 100 * t.chance_taken);
  constexpr double kFouls = 0.70;  // richer wets plugs and bores (common practice, no source)
  if (t.lambda_then.low < kFouls) {
    out += fmt::format(
        " At the rich end ({:.2f}) plugs foul and bores are washed: more than a minute "
        "there is too long.",
        t.lambda_then.low);
  }
  return out;
}

void add_table_there(Making& m) {
  StartStep& s = m.step(StartPhase::key_on, "run_in_table", "The table where the cam is run in");
  if (!m.in.running) {
    s.act.push_back(
        "How right the table is at 2000 to 2500 rpm without load must be known before it is "
        "cranked: it runs there from the first second.");
    s.expect.push_back(unknown("mixture at 2000 to 2500 rpm", m.in.not_computed));
    s.if_not.push_back(
        "Without it start some 10 % rich there, mixture sensor warm before the start.");
    return;
  }
  for (const PlaceWithoutLoad& p : m.in.running->run_in) expect_run_in(m, s, p);
  if (const PlaceWithoutLoad* worst = leanest(*m.in.running)) {
    s.act.push_back(margin_words(m, *worst));
  } else {
    s.act.push_back(
        "This job's calibration in force has no VE table: enter one that is rich there, and "
        "watch the sensor from the first second.");
  }
  s.act.push_back("Heat the mixture sensor with the key on before the start: 30 s.");
  s.if_not.push_back(
      "A wide interval: measure what predict names as most worthwhile, or start richer.");
}

void add_run_in(Making& m) {
  StartStep& s = m.step(StartPhase::running, "cam_run_in",
                        "Run-in of the cam: 2000 to 2500 rpm, 20 to 30 minutes, no idling");
  s.act.push_back(
      "Straight to 2000 rpm, then up and down slowly between 2000 and 2500: splash oil must "
      "reach every lobe, and the tappets must turn.");
  s.act.push_back(
      "Timing light at once: hold fixed timing for a few seconds, mark within 1 deg; then let "
      "the table work.");
  s.act.push_back(
      "20 to 30 minutes in all; it may be done in pieces, each begun at 2000 rpm at once.");
  s.expect.push_back(bounds("engine speed", kRunInFrom_rpm, kRunInTo_rpm, "rpm", F::common_practice,
                            "2000 to 2500 rpm, never below 1500"));
  s.expect.push_back(bounds("time", 1200, 1800, "s", F::common_practice, "20 to 30 min"));
  const double oil = 2 * m.in.rules.of(RuleKind::oil_pressure).limit;
  s.expect.push_back(bounds("oil pressure", oil, 550e3, "Pa", F::common_practice,
                            fmt::format("above {} hot, more while cold", m.gauge(oil))));
  if (m.in.running) {
    const auto& p = m.in.running->run_in;
    if (!p.empty()) expect_run_in(m, s, p[p.size() / 2]);
  } else {
    s.expect.push_back(unknown("manifold pressure and mixture", m.in.not_computed));
  }
  s.act.push_back("Listen along the rocker covers: a tick that grows is a lobe going flat.");
  s.if_not.push_back(
      "Mixture lean: more fuel there at once, a few percent at a time. Headers glow: late "
      "spark or lean. MAP much higher than computed: late spark, tight engine or air leak.");
  shut_down_rules(m, s, kRunInFrom_rpm);
  s.stop.push_back(fmt::format(
      "Mixture leaner than {} for more than 3 s and no help by fuel.",
      m.mixture(m.in.running && !m.in.running->run_in.empty() && m.in.running->run_in.front().table
                    ? m.in.running->run_in.front().table->limit.value
                    : 1.0)));
  s.stop.push_back(
      "It drops below 1500 rpm and does not come back: switch off, do not let it idle.");
  s.cautions.push_back(
      "Half an hour at speed makes much exhaust gas and heat: doors open or outdoors, a "
      "fan before the radiator, nothing dry below the exhaust, ears protected.");
}

void expect_idle(Making& m, StartStep& s) {
  const Running* r = m.in.running;
  if (!r) {
    s.expect.push_back(unknown("idle pressure, air and mixture", m.in.not_computed));
    return;
  }
  const PlaceWithoutLoad& p = r->idle;
  if (!p.known()) {
    const double ambient = m.station().from_zero.si;
    s.expect.push_back(unknown(
        "idle pressure and air",
        fmt::format(
            "not known, to be learned: in {:.0f} % of such engines too much burnt gas stays "
            "behind at {:.0f} rpm; cams like this idle near {} to {} today (common practice, no "
            "source)",
            100 * (1 - p.runs), p.speed.rpm, m.manifold(kBigIdleLow * ambient),
            m.manifold(kBigIdleHigh * ambient))));
    s.act.push_back(
        "Set it warm, by ear and by the steadiest vacuum: raise the idle speed, spark up to "
        "28 deg, fuel until it is smoothest; the sensor reads lean by what does not burn.");
    if (!p.map_pa) return;
  }
  const bool sure = p.known();
  const char* who = sure ? "" : " of those that hold it";
  std::string says = m.manifold_range(*p.map_pa) + who;
  if (p.cold_map_pa)
    says += fmt::format(", {} while oil is cold", m.manifold(p.cold_map_pa->middle));
  s.expect.push_back(figure("manifold pressure, warm", *p.map_pa, "Pa", F::computed, says));
  s.expect.push_back(
      figure("air, warm", p.air_kg_s, "kg/s", F::computed, m.flow_range(p.air_kg_s)));
  const RailPressure rail = rail_at(m.sheet(), absolute(p.map_pa->middle * pascal), m.station());
  s.expect.push_back(in_words("rail pressure", F::computed,
                              fmt::format("{} on the gauge, {} across the injectors",
                                          m.gauge(rail.on_gauge.si), m.gauge(rail.across.si))));
  if (!p.table) {
    s.expect.push_back(unknown("mixture", "no VE table in the calibration in force to judge"));
    return;
  }
  const TableThere& t = *p.table;
  s.expect.push_back(
      figure("mixture, warm", t.lambda, "1", F::computed,
             fmt::format("{} (\xC2\xB1{}{}) aimed at {:.2f}", m.mixture(t.lambda.middle),
                         percent(t.half_width), r->by_driving ? ", by what was driven" : "",
                         t.target.value)));
  if (t.richer > 0.005) {
    s.act.push_back(
        fmt::format("If it hunts or dies while the sensor reads lean, add fuel near idle 3 % at a "
                    "time: the table "
                    "is leaner than {:.2f} there with a chance of {:.2g} %, and may need up to {}.",
                    t.limit.value, 100 * t.chance_lean, percent(t.richer)));
  }
}

void add_idle(Making& m) {
  StartStep& s = m.step(StartPhase::running, "first_idle", "First idle");
  const double warm = m.sheet().wishes.idle_speed.si();
  const car::Curve* speed = m.curve(car::CurveWhat::idle_speed);
  if (speed) {
    const double now = speed->at(m.in.air.from_zero.si);
    s.expect.push_back(figure("fast idle now", {now - 100, now, now + 100}, "rpm", F::computed,
                              fmt::format("{:.0f} rpm at {}, {:.0f} warm", now,
                                          m.temperature(m.in.air.from_zero.si), warm)));
  } else {
    s.expect.push_back(figure("idle, warm", {warm - 50, warm, warm + 50}, "rpm",
                              from_source(m.sheet().wishes.idle_speed.source),
                              fmt::format("{:.0f} rpm", warm)));
  }
  expect_idle(m, s);
  if (const double* spark = m.setting(car::SettingWhat::idle_spark)) {
    s.expect.push_back(figure("spark, warm", {*spark - 2, *spark, *spark + 2}, "deg", F::computed,
                              fmt::format("{:.0f} deg", *spark)));
  }
  if (m.fresh) {
    s.act.push_back(
        "Do not let a fresh engine idle for long: 1500 to 2000 rpm between the looks, so that "
        "oil and rings get what they need.");
  }
  if (m.sheet().intake.arrangement.value == car::IntakeArrangement::individual_throttles) {
    s.act.push_back("Balance the throttles: the same air at each within 5 % by a flow gauge.");
  }
  s.act.push_back(
      "Timing light again: the mark where the unit says within 1 deg, here and at 3000 rpm.");
  s.if_not.push_back(
      "MAP higher: late spark, an air leak, a tight engine, or the cam is not where its "
      "card says. Mark right here and wrong at 3000: the trigger's edge or its delay.");
  s.if_not.push_back("Hunts up and down: lean, or the idle air control is too quick.");
  shut_down_rules(m, s, 1000);
}

void expect_warm_up(Making& m, StartStep& s, double air_kg_s, double lambda, const char* where) {
  const Temperature from = m.in.air;
  for (const double t : {40.0, 60.0, 80.0}) {
    const Temperature to = celsius(t);
    if (to.from_zero.si < from.from_zero.si + 5) continue;
    const Interval time = warm_up_s(m.sheet(), air_kg_s * kg_per_s, car::lambda(lambda), from, to);
    s.expect.push_back(figure(fmt::format("coolant at {}", m.temperature(to.from_zero.si)), time,
                              "s", F::computed,
                              fmt::format("after {} ({} to {}) {}; heat kept by metal from memory",
                                          seconds_text(time.middle), seconds_text(time.low),
                                          seconds_text(time.high), where)));
  }
}

void add_warm_up(Making& m) {
  StartStep& s = m.step(StartPhase::running, "warm_up", "Warm-up");
  s.act.push_back(
      "Watch coolant, mixture and idle speed; move warm-up fuel, not the table, while it is "
      "cold.");
  const Running* r = m.in.running;
  const PlaceWithoutLoad* p = nullptr;
  if (r && m.run_in && r->run_in.size() > 1) p = &r->run_in[r->run_in.size() / 2];
  if (r && !m.run_in) p = &r->idle;
  if (p && p->map_pa) {
    // Cold oil and the faster idle take more air; warm air alone would tell too long a time.
    const car::Curve* air = m.curve(car::CurveWhat::idle_air);
    const double more =
        !m.run_in && air ? std::sqrt(air->at(m.in.air.from_zero.si) / air->at(353.15)) : 1;
    expect_warm_up(m, s, more * p->air_kg_s.middle, p->table ? p->table->target.value : 0.95,
                   m.run_in ? "at 2250 rpm" : "idling");
  } else {
    s.expect.push_back(unknown("coolant against time",
                               (r ? std::string("not known without idle air") : m.in.not_computed) +
                                   "; usually 8 to 20 min idling (common practice)"));
  }
  s.expect.push_back(
      in_words("thermostat", F::common_practice,
               fmt::format("the top hose turns hot all at once near {} to {}; then the fan once",
                           m.temperature(celsius(80).from_zero.si),
                           m.temperature(celsius(90).from_zero.si))));
  const double* coolant = m.setting(car::SettingWhat::closed_loop_coolant);
  const double* add = m.setting(car::SettingWhat::closed_loop_add);
  if (coolant && add && *add > 0) {
    s.expect.push_back(
        bounds("closed loop may start", *coolant, 400, "K", F::computed,
               fmt::format("from {}, when the sensor has been warm for a minute and idle is "
                           "even; at most {} added",
                           m.temperature(*coolant), percent(*add))));
  } else {
    s.expect.push_back(in_words("closed loop", F::computed,
                                m.sheet().sensors.mixture.empty()
                                    ? "stays off: the sheet has no mixture sensor"
                                    : "stays off in this calibration"));
  }
  s.if_not.push_back(
      "Coolant stands still or jumps: air in the system, or the sensor stands dry. Climbs "
      "past the thermostat: pump, fan or thermostat.");
  shut_down_rules(m, s, m.run_in ? kRunInFrom_rpm : 1000);
  s.cautions.push_back(
      "Fan, belts and exhaust: burns and caught sleeves happen now. Do not open the "
      "radiator.");
}

void add_after(Making& m) {
  StartStep& s = m.step(StartPhase::afterwards, "look_again", "Switch off and look again");
  s.act.push_back("Fuel joints again while hot and under pressure; oil, coolant, exhaust flanges.");
  if (m.fresh || m.new_cam) {
    s.act.push_back(fmt::format(
        "Cold: coolant and oil level{}{}.", m.tappets.solid ? ", valve clearance again" : "",
        m.fresh ? ", fasteners that the builder wants tightened again" : ""));
  }
  if (m.run_in) {
    s.act.push_back("Drain the oil, cut the filter open, fill anew with oil of the same kind.");
    s.expect.push_back(
        in_words("filter", F::common_practice, "grey paste, no flakes that a magnet holds"));
    s.if_not.push_back(
        "Glitter or flakes: a lobe or tappet is going; take the cover off and measure "
        "valve lift before it runs again.");
  } else if (m.fresh) {
    s.act.push_back("Oil and filter again after the first hour; look into the filter.");
  }
  s.act.push_back("Plugs of all cylinders: one that differs is one whose cylinder differs.");
  s.cautions.push_back("Hot oil, hot coolant: let it stand first.");
}

void add_next(Making& m) {
  StartStep& s = m.step(StartPhase::afterwards, "next", "Then");
  s.act.push_back(
      "Add the recording to the job and check it; estimate and plan the first drive from it.");
  if (m.fresh) {
    s.act.push_back(
        "Rings bed under load, not by idling: part-load pulls and overrun in turn on the first "
        "drive, no full throttle before the plan allows it.");
  }
}

}  // namespace

void running_steps(Making& m) {
  add_start(m);
  if (m.run_in) {
    add_run_in(m);
    add_warm_up(m);
  } else {
    add_idle(m);
    add_warm_up(m);
  }
}

void table_where_it_runs_in(Making& m) {
  if (m.run_in) add_table_there(m);
}

void afterwards_steps(Making& m) {
  add_after(m);
  if (m.run_in) add_idle(m);
  add_next(m);
}

}  // namespace fuelwright::advice::internal
