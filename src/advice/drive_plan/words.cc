// A plan in words that a helper reads out; the driver looks at the road.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "advice/drive_plan/drive_plan.h"

namespace fuelwright::advice {
namespace {

std::string gear_name(int gear) {
  constexpr std::array kNames{"First", "Second",  "Third",  "Fourth", "Fifth",
                              "Sixth", "Seventh", "Eighth", "Ninth",  "Tenth"};
  return fmt::format("{} gear", kNames.at(static_cast<std::size_t>(gear - 1)));
}

std::string road(Speed v, const Reader& r) {
  return r.units == UnitSystem::us ? fmt::format("{:.0f} mph", v.in(mile_per_h))
                                   : fmt::format("{:.0f} km/h", v.in(km_per_h));
}

std::string pressure(AbsolutePressure p) { return fmt::format("{:.0f} kPa", p.from_zero.in(kPa)); }

std::string time(Duration t) {
  if (t.si < 90) return fmt::format("{:.0f} s", t.si);
  const double minutes = t.in(minute);
  return minutes < 9.95 ? fmt::format("{:.1f} minutes", minutes)
                        : fmt::format("{:.0f} minutes", minutes);
}

const char* foot(Feel feel) {
  switch (feel) {
    case Feel::idle:
      return "foot off";
    case Feel::light:
      return "light foot";
    case Feel::moderate:
      return "gentle pull";
    case Feel::high:
      return "firm pull";
    case Feel::overrun:
      return "foot off";
    case Feel::full:
      return "full throttle";
  }
  broken_contract("a feel of the list", __FILE__, __LINE__);
}

std::string percent(double share) { return fmt::format("{:.0f} %", std::floor(100 * share + 0.5)); }
std::string half(double sd) { return fmt::format("\xC2\xB1{:.1f} %", 196 * sd); }

// The gear only where it changes: which one the rollers turn in is all the same to the mixture.
std::string dyno_step(const PlannedStep& s) {
  const char* throttle = s.feel == Feel::light      ? "light"
                         : s.feel == Feel::moderate ? "moderate"
                                                    : "heavy";
  return fmt::format("{} {:.0f} rpm at {} manifold pressure for {:.0f} s, {} throttle.",
                     s.other_gear ? gear_name(s.step.gear) + ": hold" : "Hold", s.step.from.rpm,
                     pressure(s.pressure), s.step.time.si, throttle);
}

Speed fastest(const DrivePlan& p) {
  Speed out{};
  for (const PlannedStep& s : p.steps) out.si = std::max({out.si, s.begins.si, s.ends.si});
  return out;
}

std::string sweep_step(const PlannedStep& s, const Reader& r, bool dyno) {
  const std::string until = dyno
                                ? fmt::format("{:.0f} rpm", s.step.until.rpm)
                                : fmt::format("{:.0f} rpm ({})", s.step.until.rpm, road(s.ends, r));
  if (s.step.until < s.step.from) {
    return fmt::format(
        "{}, from {:.0f} rpm: ease off, keep {} manifold pressure down to {}, about {:.0f} s, no "
        "brake; the helper calls more or less.",
        gear_name(s.step.gear), s.step.from.rpm, pressure(s.pressure), until, s.time.si);
  }
  if (s.feel != Feel::full) {
    return fmt::format(
        "{}, from {:.0f} rpm: {}, keep {} manifold pressure up to {}, about {:.0f} s; "
        "the helper calls more or less.",
        gear_name(s.step.gear), s.step.from.rpm, foot(s.feel), pressure(s.pressure), until,
        s.time.si);
  }
  std::string out = fmt::format("{}, from {:.0f} rpm: full throttle, lift at {}, about {:.0f} s",
                                gear_name(s.step.gear), s.step.from.rpm, until, s.time.si);
  if (s.lift_at) {
    out += fmt::format("; the helper calls lift at once if the mixture reads leaner than {}",
                       car::format(*s.lift_at, r.scale));
  }
  return out + ", at falling fuel pressure, at knock, or at any guard.";
}

}  // namespace

std::string sentence(const DrivePlan& p) {
  if (p.verdict == PlanVerdict::cannot) {
    return "I do not know where to drive: nothing that can be driven within these limits teaches "
           "this table.";
  }
  const std::string within = fmt::format("{:.0f} %", 100 * p.options.good);
  if (p.verdict == PlanVerdict::enough) {
    return fmt::format(
        "More driving brings nothing: {} of your driving lies within {}, {} on "
        "average over its use, and no driving gets it under {}.",
        percent(p.now().within), within, half(p.now().sd), half(p.best.sd));
  }
  std::string out = fmt::format(
      "{} of driving: {} of your driving within {} (now {}); {} on average over its use instead "
      "of {}.",
      time(p.time()), percent(p.then().within), within, percent(p.now().within), half(p.then().sd),
      half(p.now().sd));
  if (p.brings_little) out += " After that more driving brings nothing.";
  return out;
}

std::string says(const PlannedStep& s, const Reader& r, bool dyno) {
  switch (s.step.kind) {
    case car::PlanStepKind::idle:
      return fmt::format("Stand still, neutral, let it idle for {:.0f} s.", s.step.time.si);
    case car::PlanStepKind::hold:
      if (dyno) return dyno_step(s);
      return fmt::format("{}: hold {:.0f} rpm ({}) for {:.0f} s, {}; about {} is to be expected.",
                         gear_name(s.step.gear), s.step.from.rpm, road(s.begins, r), s.step.time.si,
                         foot(s.feel), pressure(s.pressure));
    case car::PlanStepKind::sweep:
      return sweep_step(s, r, dyno);
    case car::PlanStepKind::coast:
      return fmt::format(
          "{}, at {:.0f} rpm ({}): foot off, roll down to {:.0f} rpm, no brake, about "
          "{:.0f} s.",
          gear_name(s.step.gear), s.step.from.rpm, road(s.begins, r), s.step.until.rpm, s.time.si);
  }
  broken_contract("a kind of step", __FILE__, __LINE__);
}

std::vector<std::string> cautions(const DrivePlan& p, const Reader& r) {
  std::vector<std::string> out;
  if (p.options.dyno) {
    out.emplace_back(
        "On the dyno: car strapped down by somebody licensed for it, exhaust led out of "
        "the room, nobody beside turning parts, a cooling fan before the radiator.");
    out.push_back(
        fmt::format("The dyno holds the engine speed, the throttle sets the manifold pressure. The "
                    "wheels turn at up to {}: within what the tyres are rated for, and the straps "
                    "looked at again after the first steps.",
                    road(fastest(p), r)));
  } else {
    out.emplace_back(
        "Two people: the driver looks at the road and never at a screen; the helper "
        "reads the steps out and watches the laptop. Traffic comes first: leave a step "
        "out whenever it does not fit.");
    out.push_back(
        fmt::format("No step is faster than {}; where a sign or local law says less, that "
                    "holds. Warm engine, dry road, long and empty.",
                    road(p.options.top_speed, r)));
  }
  out.emplace_back(
      "Stop if fuel smells or leaks, if coolant or oil pressure leaves its range, or if "
      "the helper says so.");
  bool full = false, hard = false;
  for (const PlannedStep& s : p.steps) {
    full = full || s.feel == Feel::full;
    hard = hard || s.feel == Feel::high;
  }
  if (full || hard) {
    out.emplace_back(
        "Pulls only where nobody else is, on a closed road or track where local law asks "
        "for one, in this order, one at a time, each judged before the next. The helper "
        "watches mixture, fuel pressure and knock; lift at the first guard and do not "
        "try again before it is understood.");
  }
  return out;
}

}  // namespace fuelwright::advice
