#include "service/size_words.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "car/fuel/fuel.h"
#include "service/report/words.h"

namespace fuelwright::service {
namespace {

using namespace physics::supply;

double percent(double share) { return 100 * share; }
std::string in_100(double share) {
  if (share <= 0) return "none of 100";
  if (share >= 1) return "all of 100";
  return fmt::format("{:.0f} of 100", std::clamp(std::round(100 * share), 1.0, 99.0));
}

std::string one(double si, Kind kind, UnitSystem units, int digits = 3) {
  return format(si, kind, units, digits);
}
// Fuel pressure is read in psi or kPa, not in the inches of a vacuum gauge.
std::string pressure(PressureStep p, UnitSystem units) {
  return units == UnitSystem::us ? fmt::format("{:.1f} psi", p.in(psi))
                                 : fmt::format("{:.0f} kPa", p.in(kPa));
}
std::string power(Power p, UnitSystem units) {
  return units == UnitSystem::us ? fmt::format("{:.0f} hp", p.si / horsepower.factor)
                                 : fmt::format("{:.0f} kW", p.si / 1e3);
}
std::string temperature(Temperature t, UnitSystem units) {
  return units == UnitSystem::us ? fmt::format("{:.0f} degF", in_fahrenheit(t))
                                 : fmt::format("{:.0f} degC", in_celsius(t));
}
std::string speed(EngineSpeed n) { return fmt::format("{:.0f} rpm", std::round(n.rpm / 10) * 10); }

const char* side_name(Side side) {
  switch (side) {
    case Side::injectors:
      return "the injectors";
    case Side::pump:
      return "the pump";
    case Side::lift:
      return "the lift pump";
  }
  broken_contract("a known side", __FILE__, __LINE__);
}

// What happens, said from the part to blame.
std::string runs_out_words(Weak part, Side side) {
  switch (part) {
    case Weak::injectors:
      return "The injectors run out";
    case Weak::one_injector:
      return "One injector is smaller than the others and runs out";
    case Weak::regulator:
      return side == Side::pump
                 ? "The regulator is set to more than the pump can hold, which runs out"
                 : "The regulator leaves the injectors too little pressure: they run out";
    case Weak::pump:
      return "The pump runs out";
    case Weak::wiring:
      return "The wiring leaves the pump too few volts: it runs out";
    case Weak::charging:
      return side == Side::pump ? "The charging voltage is too low for the pump: it runs out"
                                : "The charging voltage is too low for the injectors: they run out";
    case Weak::hose:
      return fmt::format("The hose is too narrow: {}",
                         side == Side::pump ? "the pump runs out" : "the injectors run out");
    case Weak::filter:
      return "The filter takes too much pressure: the pump runs out";
    case Weak::inlet:
      return "Fuel boils before the pump, which then runs out";
    case Weak::lift_pump:
      return "The lift pump cannot refill the surge tank, which runs empty";
    case Weak::none:
      break;
  }
  return fmt::format("{} run out", side_name(side));
}

std::string boost_words(const SizeReply& r) {
  if (!r.boost) return "";
  return fmt::format(" with {} of boost{}", pressure(*r.boost, r.units),
                     r.cooler ? " and a cooler" : "");
}

// Of those that run out, for which part; only where it is worth saying.
std::string blamed(const SupplyAnswer& a) {
  constexpr double kWorthSaying = 0.1;
  if (a.first_shares.size() < 2 || a.first_shares[1].share < kWorthSaying) return "";
  std::string out;
  for (const Share& s : a.first_shares) {
    if (s.share < kWorthSaying) break;
    out += fmt::format("{}{:.0f} for {}", out.empty() ? ": " : ", ",
                       std::max(1.0, std::round(100 * a.short_chance * s.share)), words_of(s.part));
  }
  return out;
}
std::string chance_words(const SupplyAnswer& a) {
  const double chance = a.short_chance;
  return fmt::format("of 100 cars that could be this one {} run out below the rev limit{}",
                     chance <= 0 ? "none"
                     : chance >= 1
                         ? "all"
                         : fmt::format("{:.0f}", std::clamp(std::round(100 * chance), 1.0, 99.0)),
                     blamed(a));
}

std::string short_sentence(const SizeReply& r) {
  const SupplyAnswer& a = r.answer;
  const Shortage& f = *a.first;
  const bool from_first = f.at.rpm <= a.curve.front().need.speed.rpm + 1;
  std::string where = from_first ? fmt::format("at every speed from {}", speed(f.at))
                                 : fmt::format("at {}, {}", speed(f.at), power(f.power, r.units));
  return fmt::format("{} {}{}: {:.0f} % short at {} ({}).", runs_out_words(f.part, f.side), where,
                     boost_words(r), std::max(1.0, -percent(f.margin)), speed(f.worst_at),
                     chance_words(a));
}

std::string enough_sentence(const SizeReply& r) {
  const SupplyAnswer& a = r.answer;
  const std::string in_hand = fmt::format(
      "{:.0f} % in hand at {}, where {} least", percent(a.margin), speed(a.margin_at),
      a.tightest_side == Side::injectors ? "the injectors have"
                                         : fmt::format("{} has", side_name(a.tightest_side)));
  constexpr double kSure = 0.05;
  if (a.short_chance <= kSure) {
    return fmt::format("The fuel system feeds this engine{} up to {}: {} ({}).", boost_words(r),
                       speed(a.curve.back().need.speed), in_hand, chance_words(a));
  }
  return fmt::format("The fuel system probably feeds this engine{}, but not surely: {}; {}.",
                     boost_words(r), in_hand, chance_words(a));
}

// The pump is not judged where nothing is known of it.
std::string injectors_only(const SizeReply& r) {
  const SideAnswer& i = r.answer.sides[static_cast<std::size_t>(Side::injectors)];
  const std::string tail = "; whether the pump does is not known, because nothing was said of it.";
  if (i.margin < 0) {
    const EngineSpeed at = i.runs_out.value_or(r.answer.curve.front().need.speed);
    return fmt::format("The injectors run out at {}{}: {:.0f} % short at {} (in {}){}", speed(at),
                       boost_words(r), std::max(1.0, -percent(i.margin)), speed(i.margin_at),
                       in_100(i.short_chance),
                       "; whether the pump feeds them is not known, because "
                       "nothing was said of it.");
  }
  return fmt::format(
      "The injectors feed this engine{}, with {:.0f} % in hand at {} (short in {}){}",
      boost_words(r), percent(i.margin), speed(i.margin_at), in_100(i.short_chance), tail);
}

std::string side_line(const SizeReply& r, Side side) {
  const SideAnswer& s = r.answer.sides[static_cast<std::size_t>(side)];
  std::string name = side_name(side);
  name = name.substr(4);
  name[0] = static_cast<char>(std::toupper(static_cast<unsigned char>(name[0])));
  constexpr double kNothing = -0.995;  // fuel boils before the pump at rest already
  const std::string low = s.spread.low < kNothing ? "nothing, where fuel boils before the pump,"
                                                  : fmt::format("{:+.0f}", percent(s.spread.low));
  return fmt::format("{}: {:+.0f} % at {} (95 %: {} to {:+.0f} %), short in {}{}.", name,
                     percent(s.margin), speed(s.margin_at), low, percent(s.spread.high),
                     in_100(s.short_chance),
                     side == Side::pump && !r.pump_known ? "; a usual pump was taken" : "");
}

std::string across_line(const SizeReply& r) {
  const System& s = r.answer.middle;
  const SpeedRow& top = r.answer.curve.back();
  const OperatingPoint& p = top.point;
  return fmt::format(
      "At {} the pressure across the nozzle is {} (rail {} above ambient{}; rated at {}), the "
      "injectors are {:.0f} % of the time open, {:.1f} ms of the cycle are left, and {:.1f} V "
      "arrive at the pump.",
      speed(top.need.speed), pressure(p.across, r.units), pressure(p.rail.above_ambient, r.units),
      p.rail_held ? ""
                  : fmt::format(", fallen {} below its setting",
                                pressure(set_pressure(s, top.need.manifold).above_ambient -
                                             p.rail.above_ambient,
                                         r.units)),
      pressure(s.injectors.rated_pressure, r.units), percent(p.pulse.duty), p.pulse.left.in(ms),
      p.pump_volts.si);
}

std::string rule_line(const SizeReply& r) {
  const SpeedRow& row = r.answer.curve.back();
  const auto flow = [&](double si) { return one(si, Kind::mass_flow, r.units); };
  const double rule = (row.rule.low.si + row.rule.high.si) / 2;
  return fmt::format(
      "Fuel at {} by air and mixture: {} (95 %: {} to {}). Cross-check by the rule of thumb (BSFC "
      "{}, common practice, no source): {} to {} for the power there, its middle {:.0f} % {} that.",
      speed(row.need.speed), flow(row.fuel_kg_s.middle), flow(row.fuel_kg_s.low),
      flow(row.fuel_kg_s.high), r.boost ? "0.55 to 0.65 lb/hp h" : "0.45 to 0.50 lb/hp h",
      flow(row.rule.low.si), flow(row.rule.high.si),
      percent(std::abs(rule / row.fuel_kg_s.middle - 1)),
      rule < row.fuel_kg_s.middle ? "below" : "above");
}

std::string idle_line(const SizeReply& r) {
  const IdleAnswer& i = r.answer.idle;
  if (!i.looked_at) return "Idle: the parts do not say how much air it takes there.";
  const double least = r.answer.middle.injectors.least_pulse.si;
  std::string out = fmt::format(
      "Idle: {:.2f} ms open ({:.2f} to {:.2f}), {:.2f} ms with the dead time; below {:.1f} ms a "
      "pulse is not repeated (practice): too short in {} such cars.",
      1e3 * i.effective_s.middle, 1e3 * i.effective_s.low, 1e3 * i.effective_s.high,
      1e3 * i.total_s.middle, 1e3 * least, in_100(i.too_large));
  if (i.too_large > 0.3 && i.squirts > 1)
    out += " Fewer squirts in two turns (sequential: one) make each pulse longer.";
  constexpr double kWorthSaying_Pa = 5e3;
  if (i.rail_above.si > kWorthSaying_Pa) {
    out += fmt::format(" The return hose holds the rail {} above its setting there.",
                       pressure(i.rail_above, r.units));
  }
  return out;
}

std::string vapour_line(const SizeReply& r) {
  const VapourMargin& v = r.answer.vapour;
  const System& s = r.answer.middle;
  const double hotter = (v.inlet_boils_at - s.tank).si;
  return fmt::format(
      "Hot fuel: at {} in the tank {} are left over boiling at the pump's inlet, and it would "
      "begin "
      "to boil there at {}{}; at the rail at {}.",
      temperature(s.tank, r.units), pressure(v.inlet, r.units),
      temperature(v.inlet_boils_at, r.units), hotter < 5 ? ", which a hot day can reach" : "",
      temperature(v.rail_boils_at, r.units));
}

std::string lift_line(const SizeReply& r) {
  const LiftAnswer& l = r.answer.lift;
  if (l.lasts.si <= 0) {
    return fmt::format("Lift pump: {:+.0f} % over the largest demand; the surge tank stays full.",
                       percent(l.margin));
  }
  return fmt::format(
      "Lift pump: {:+.0f} % over the largest demand; a full surge tank lasts {:.0f} s "
      "at full throttle.",
      percent(l.margin), l.lasts.si);
}

std::string not_known_of(const SizeReply& r) {
  if (r.pump_known) return "";
  const Pump& pump = r.answer.middle.pump;
  const SideAnswer& s = r.answer.sides[static_cast<std::size_t>(Side::pump)];
  return fmt::format(
      "Not known: the pump. Nothing was said of it; with one as it usually goes with these "
      "injectors ({} {}35 % at {}) it would run out in {}. Time what it delivers into a can at the "
      "rail's pressure, or say pump_flow and pump_pressure as its maker rates them.",
      fmt::format("{:.0f} l/h", pump.flow.back().in(litre_per_h)), kPlusMinus,
      pressure(pump.pressure.back(), r.units), in_100(s.short_chance));
}

}  // namespace

std::string words_of(Weak part) {
  switch (part) {
    case Weak::none:
      return "no part in particular";
    case Weak::injectors:
      return "the injectors";
    case Weak::one_injector:
      return "one smaller injector";
    case Weak::regulator:
      return "the regulator";
    case Weak::pump:
      return "the pump";
    case Weak::wiring:
      return "the pump's wiring";
    case Weak::charging:
      return "the charging voltage";
    case Weak::hose:
      return "the hose";
    case Weak::filter:
      return "the filter";
    case Weak::inlet:
      return "fuel that boils before the pump";
    case Weak::lift_pump:
      return "the lift pump";
  }
  broken_contract("a known part", __FILE__, __LINE__);
}

void say(SizeReply* r) {
  const SupplyAnswer& a = r->answer;
  r->sentence = !r->pump_known ? injectors_only(*r)
                : a.first      ? short_sentence(*r)
                               : enough_sentence(*r);
  for (const Side side : kSides)
    if (a.sides[static_cast<std::size_t>(side)].there) r->also.push_back(side_line(*r, side));
  r->also.push_back(across_line(*r));
  r->also.push_back(rule_line(*r));
  r->also.push_back(idle_line(*r));
  r->also.push_back(vapour_line(*r));
  if (a.lift.fitted) r->also.push_back(lift_line(*r));
  r->not_known = not_known_of(*r);
}

}  // namespace fuelwright::service
