#include "physics/supply/cure.h"

#include <algorithm>
#include <cmath>
#include <optional>

#include "base/contract.h"

namespace fuelwright::physics::supply {
namespace {

constexpr double kSoundContact_V = 0.15;
constexpr double kSteps = 26;  // of halving

double median_match(const System& s) {
  std::vector<double> v = s.injectors.match;
  const auto middle = v.begin() + static_cast<std::ptrdiff_t>(v.size() / 2);
  std::nth_element(v.begin(), middle, v.end());
  return *middle;
}

// Flow of one pump at its rated voltage and the pressure it works against.
double pump_now(const System& s) {
  const PressureStep p = s.regulator.setting;
  return pump_flow(s.pump, p, s.pump.rated).si / s.pump.count;
}

Resistance sound_contacts(const System& s) {
  const double i = pump_current(s.pump, s.regulator.setting).si;
  return Resistance{std::min(s.wiring.contacts.si, kSoundContact_V / std::max(0.1, i))};
}

struct Kit {  // how a change is measured, and how far it can go
  Weak part;
  Kind kind;
  double from;
  double far;  // the end that the trade knows
};

Kit kit(const System& s, Change what) {
  switch (what) {
    case Change::injector_flow:
      return {Weak::injectors, Kind::mass_flow, s.injectors.rated.si, 6 * s.injectors.rated.si};
    case Change::odd_injectors:
      return {Weak::one_injector, Kind::mass_flow, least_match(s.injectors) * s.injectors.rated.si,
              median_match(s) * s.injectors.rated.si};
    case Change::regulator_pressure:
      return {Weak::regulator, Kind::pressure_step, s.regulator.setting.si,
              std::max(1.6 * s.regulator.setting.si, 600e3)};
    case Change::regulator_reference:
      return {Weak::regulator, Kind::count, s.regulator.follows_manifold ? 1.0 : 0.0, 1};
    case Change::pump_flow:
      return {Weak::pump, Kind::volume_flow, pump_now(s), 8 * pump_now(s)};
    case Change::wire_area:
    case Change::new_feed:
      return {Weak::wiring, Kind::area, s.wiring.area.si, std::max(35e-6, s.wiring.area.si)};
    case Change::charging_voltage:
      return {Weak::charging, Kind::voltage, s.wiring.source.si,
              std::max(14.4, s.wiring.source.si)};
    case Change::hose_diameter:
      return {Weak::hose, Kind::length, s.hose.diameter.si, std::max(19e-3, s.hose.diameter.si)};
    case Change::filter:
      return {Weak::filter, Kind::pressure_step, s.filter.loss.si, 0};
    case Change::suction_diameter:
      return {Weak::inlet, Kind::length, s.inlet.suction.diameter.si,
              std::max(25e-3, s.inlet.suction.diameter.si)};
    case Change::fuel_temperature:
      return {Weak::inlet, Kind::temperature, s.tank.from_zero.si,
              std::min(283.15, s.tank.from_zero.si)};
    case Change::inlet_pressure:
      return {Weak::inlet, Kind::pressure_step, 0, 150e3};
    case Change::lift_flow:
      return {Weak::lift_pump, Kind::volume_flow, s.lift.flow.si, 8 * s.lift.flow.si};
  }
  broken_contract("a known change", __FILE__, __LINE__);
}

void put(System* s, Change what, double from, double to) {
  switch (what) {
    case Change::injector_flow:
      s->injectors.rated = (to / from) * s->injectors.rated;
      break;
    case Change::odd_injectors: {
      const double floor = to / s->injectors.rated.si;
      for (double& m : s->injectors.match) m = std::max(m, std::min(floor, median_match(*s)));
      break;
    }
    case Change::regulator_pressure:
      s->regulator.setting = PressureStep{to};
      break;
    case Change::regulator_reference:
      s->regulator.follows_manifold = to > 0;
      break;
    case Change::pump_flow:
      s->pump.strength *= to / from;
      break;
    case Change::new_feed:
      s->wiring.contacts = sound_contacts(*s);
      [[fallthrough]];
    case Change::wire_area:
      s->wiring.area = Area{to};
      break;
    case Change::charging_voltage:
      s->wiring.source = Voltage{to};
      break;
    case Change::hose_diameter:
      s->hose.diameter = Length{to};
      break;
    case Change::filter:
      s->filter.loss = PressureStep{to};
      break;
    case Change::suction_diameter:
      s->inlet.suction.diameter = Length{to};
      break;
    case Change::fuel_temperature:
      s->tank = kelvin(to);
      break;
    case Change::inlet_pressure:
      s->inlet.height = s->inlet.height + PressureStep{to};
      break;
    case Change::lift_flow:
      s->lift.flow = (to / from) * s->lift.flow;
      break;
  }
}

double rounded_up(double si, std::span<const double> sizes) {
  for (const double size : sizes)
    if (size >= si * (1 - 1e-9)) return size;
  return si;
}

// Sizes that are sold (common practice).
double sold(Change what, double si) {
  constexpr double kWires[] = {0.5e-6, 0.75e-6, 1e-6,  1.5e-6, 2.5e-6, 4e-6,
                               6e-6,   10e-6,   16e-6, 25e-6,  35e-6};
  constexpr double kHoses[] = {5e-3,    6e-3,  7e-3,  8e-3,  9.5e-3, 11e-3,
                               12.7e-3, 14e-3, 16e-3, 19e-3, 25e-3};
  if (what == Change::wire_area || what == Change::new_feed) return rounded_up(si, kWires);
  if (what == Change::hose_diameter || what == Change::suction_diameter)
    return rounded_up(si, kHoses);
  return si;
}

// The side's margin, or that of a side which the change would push below the goal.
double fit(const System& s, std::span<const Need> needs, Side side, double goal,
           const Margins& before) {
  const Margins now = tightest_of(s, needs).margins;
  double out = now[side];
  for (const Side other : kSides)
    if (now[other] < std::min(goal, before[other]) - 1e-9) out = std::min(out, now[other]);
  return out;
}

Cure smallest(const System& s, std::span<const Need> needs, Side side, double goal, Change what,
              const Margins& before) {
  const Kit k = kit(s, what);
  Cure out{what, k.part, k.kind, k.from, k.far, k.far, false, side, 0};
  const auto margin = [&](double to) {
    System changed = s;
    put(&changed, what, k.from, to);
    return fit(changed, needs, side, goal, before);
  };
  const bool steps = what == Change::regulator_reference || what == Change::odd_injectors;
  double low = k.from, high = k.far;
  if (what == Change::regulator_pressure && margin(high) < goal) {
    // Too much starves the pump: the best lies between.
    for (double p = low; p < k.far; p += (k.far - k.from) / 40) {
      if (margin(p) < goal) continue;
      high = p;
      break;
    }
  }
  out.restores = margin(high) >= goal;
  if (out.restores && !steps) {
    for (int i = 0; i < kSteps; ++i) {
      const double middle = (low + high) / 2;
      (margin(middle) >= goal ? high : low) = middle;
    }
  }
  out.to_si = high;
  out.sold_si = sold(what, high);
  out.margin = margin(high);
  return out;
}

std::vector<Change> changes_for(const System& s, Side side) {
  std::vector<Change> out;
  if (side == Side::lift) return {Change::lift_flow};
  if (side == Side::injectors) {
    out = {Change::injector_flow, Change::regulator_pressure};
    if (least_match(s.injectors) < 0.97 * median_match(s)) out.push_back(Change::odd_injectors);
    if (!s.regulator.follows_manifold && s.arrangement.at_ports)
      out.push_back(Change::regulator_reference);
    if (s.regulator.at_tank) out.push_back(Change::hose_diameter);
    return out;
  }
  out = {Change::pump_flow, Change::wire_area, Change::new_feed, Change::charging_voltage,
         Change::filter};
  if (!s.regulator.at_tank) out.push_back(Change::hose_diameter);
  if (s.regulator.setting > s.injectors.rated_pressure) out.push_back(Change::regulator_pressure);
  out.insert(out.end(), {Change::inlet_pressure, Change::fuel_temperature});
  if (s.inlet.suction.length.si > 0.1) out.push_back(Change::suction_diameter);
  return out;
}

// The change that belongs to a part; the first is the usual one.
std::vector<Change> belongs_to(Weak part) {
  switch (part) {
    case Weak::injectors:
      return {Change::injector_flow};
    case Weak::one_injector:
      return {Change::odd_injectors};
    case Weak::regulator:
      return {Change::regulator_reference, Change::regulator_pressure};
    case Weak::pump:
      return {Change::pump_flow};
    case Weak::wiring:
      return {Change::wire_area, Change::new_feed};
    case Weak::charging:
      return {Change::charging_voltage};
    case Weak::hose:
      return {Change::hose_diameter};
    case Weak::filter:
      return {Change::filter};
    case Weak::inlet:
      return {Change::suction_diameter, Change::fuel_temperature, Change::inlet_pressure};
    case Weak::lift_pump:
      return {Change::lift_flow};
    case Weak::none:
      break;
  }
  return {};
}

std::optional<Cure> cure_for(const System& s, std::span<const Need> needs, Side side, double goal,
                             Weak part, const Margins& before) {
  std::optional<Cure> best;
  const auto all = changes_for(s, side);
  for (const Change what : belongs_to(part)) {
    if (std::find(all.begin(), all.end(), what) == all.end()) continue;
    const Cure one = smallest(s, needs, side, goal, what, before);
    if (one.restores) return one;
    if (!best || one.margin > best->margin) best = one;
  }
  return best;
}

}  // namespace

const char* name_of(Change what) {
  constexpr const char* kNames[] = {
      "injector_flow",  "odd_injectors", "regulator_pressure", "regulator_reference",
      "pump_flow",      "wire_area",     "new_feed",           "charging_voltage",
      "hose_diameter",  "filter",        "suction_diameter",   "fuel_temperature",
      "inlet_pressure", "lift_flow"};
  return kNames[static_cast<std::size_t>(what)];
}

void apply(System* s, const Cure& cure) { put(s, cure.what, cure.from_si, cure.to_si); }

std::vector<Cure> cures(const System& s, std::span<const Need> needs, Side side, double goal) {
  const Tightest before = tightest_of(s, needs);
  std::vector<Cure> out;
  if (before.margins[side] >= goal) return out;
  const Need& where = needs[before.at[static_cast<std::size_t>(side)]];
  const auto own = belongs_to(blame(s, where, side, goal));
  for (const Change what : changes_for(s, side)) {
    const Cure one = smallest(s, needs, side, goal, what, before.margins);
    // What moves nothing (a wire that is not the trouble) is no cure, not even a part of one.
    if (!one.restores && one.margin < before.margins[side] + 0.005) continue;
    out.push_back(one);
  }
  const auto rank = [&](const Cure& c) {
    const auto mine = std::find(own.begin(), own.end(), c.what) - own.begin();
    const auto others = static_cast<std::ptrdiff_t>(own.size());
    return c.restores ? mine : others + 1;
  };
  std::stable_sort(out.begin(), out.end(),
                   [&](const Cure& a, const Cure& b) { return rank(a) < rank(b); });
  return out;
}

CurePlan cure_plan(const System& s, std::span<const Need> needs, double goal) {
  CurePlan out;
  System now = s;
  constexpr int kMostSteps = 6;
  constexpr double kSlack = 1e-6;  // of the halving
  for (int i = 0; i < kMostSteps; ++i) {
    const Tightest t = tightest_of(now, needs);
    const Side side = t.margins.tightest();
    if (t.margins.least() >= goal - kSlack) return out;
    const Need& where = needs[t.at[static_cast<std::size_t>(side)]];
    const Weak part = blame(now, where, side, goal);
    auto cure = cure_for(now, needs, side, goal, part, t.margins);
    if (!cure || (!cure->restores && cure->margin < t.margins[side] + 0.005)) {
      const Weak last = side == Side::injectors ? Weak::injectors
                        : side == Side::pump    ? Weak::pump
                                                : Weak::lift_pump;
      cure = cure_for(now, needs, side, goal, last, t.margins);
    }
    if (!cure) break;
    out.steps.push_back(*cure);
    apply(&now, *cure);
  }
  out.enough = tightest_of(now, needs).margins.least() >= goal - kSlack;
  return out;
}

}  // namespace fuelwright::physics::supply
