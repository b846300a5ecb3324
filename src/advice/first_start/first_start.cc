#include "advice/first_start/first_start.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "advice/first_start/internal/making.h"
#include "base/contract.h"

namespace fuelwright::advice {

const char* name_of(StartPhase phase) {
  switch (phase) {
    case StartPhase::standing:
      return "standing";
    case StartPhase::fuel:
      return "fuel";
    case StartPhase::key_on:
      return "key_on";
    case StartPhase::cranking:
      return "cranking";
    case StartPhase::running:
      return "running";
    case StartPhase::afterwards:
      return "afterwards";
  }
  broken_contract("a StartPhase", __FILE__, __LINE__);
}

const char* label_of(StartPhase phase) {
  switch (phase) {
    case StartPhase::standing:
      return "Standing, battery off";
    case StartPhase::fuel:
      return "Fuel under pressure, engine off";
    case StartPhase::key_on:
      return "Key on, engine off";
    case StartPhase::cranking:
      return "The starter turns it, no fuel";
    case StartPhase::running:
      return "It runs";
    case StartPhase::afterwards:
      return "Engine off again";
  }
  broken_contract("a StartPhase", __FILE__, __LINE__);
}

const char* name_of(FigureFrom from) {
  switch (from) {
    case FigureFrom::computed:
      return "computed";
    case FigureFrom::stated:
      return "stated";
    case FigureFrom::typical:
      return "typical";
    case FigureFrom::common_practice:
      return "common practice";
    case FigureFrom::memory:
      return "from memory";
  }
  broken_contract("a FigureFrom", __FILE__, __LINE__);
}

const StartStep* FirstStart::find(std::string_view id) const {
  const auto at = std::ranges::find(steps, id, &StartStep::id);
  return at == steps.end() ? nullptr : &*at;
}

namespace internal {

Making::Making(const FirstStartInput& input) : in(input) {
  // An open question is taken on the safe side.
  const StartAnswers& a = input.answers;
  tappets = tappets_of(input.sheet, a);
  run_in = cam_runs_in(input.sheet, a);
  fresh = a.fresh_engine.value_or(true);
  new_cam = a.new_cam.value_or(false);
  fuel_opened = a.fuel_opened.value_or(true);
  cooling_opened = fresh || a.cooling_opened.value_or(true);
  timing = a.timing.value_or(TimingAnswer::unchecked);
  out.run_in = run_in;
}

StartStep& Making::step(StartPhase phase, const char* id, std::string title) {
  StartStep s;
  s.number = static_cast<int>(out.steps.size()) + 1;
  s.phase = phase;
  s.id = id;
  s.title = std::move(title);
  out.steps.push_back(std::move(s));
  return out.steps.back();
}

const double* Making::setting(car::SettingWhat what) const {
  return in.calibration ? in.calibration->find(what) : nullptr;
}
const car::Curve* Making::curve(car::CurveWhat what) const {
  return in.calibration ? in.calibration->find(what) : nullptr;
}
bool Making::distributor() const {
  return in.sheet.ignition.kind.value == car::IgnitionKind::distributor;
}

AbsolutePressure Making::cranking_map() const {
  if (in.calibration) {
    const auto map = cranking_map_pa(in.sheet, *in.calibration, station(), in.air);
    if (map) return absolute(map->middle * pascal);
  }
  return absolute(0.9 * station().from_zero);
}

std::string Making::revision() const { return fmt::format("revision {}", in.revision); }

std::string Making::manifold(double pa) const {
  if (in.units == UnitSystem::us) {
    return format(pa, Kind::pressure_step, UnitSystem::us, 3) + " absolute";
  }
  return format(pa, Kind::absolute_pressure, UnitSystem::metric, 3);
}
std::string Making::manifold_range(const physics::Interval& pa) const {
  const auto number = [&](double v) {
    const std::string s = manifold(v);
    return s.substr(0, s.find(' '));
  };
  return fmt::format("{} (95 %: {} to {})", manifold(pa.middle), number(pa.low), number(pa.high));
}
std::string Making::gauge(double pa) const {
  return in.units == UnitSystem::us ? fmt::format("{:.0f} psi", pa / psi.factor)
                                    : fmt::format("{:.0f} kPa", pa / kPa.factor);
}
std::string Making::gauge_range(double low_pa, double high_pa) const {
  const double f = in.units == UnitSystem::us ? psi.factor : kPa.factor;
  return fmt::format("{:.0f} to {}", low_pa / f, gauge(high_pa));
}
std::string Making::temperature(double k) const {
  return format(k, Kind::temperature, in.units, 2);
}
std::string Making::flow_range(const physics::Interval& kg_s) const {
  const UnitInfo unit = display_unit(Kind::mass_flow, in.units);
  return fmt::format("{:.3g} {} (95 %: {:.3g} to {:.3g})", kg_s.middle / unit.factor, unit.symbol,
                     kg_s.low / unit.factor, kg_s.high / unit.factor);
}
std::string Making::mixture(double value) const {
  const auto& sensors = in.sheet.sensors.mixture;
  return car::format(car::lambda(value),
                     sensors.empty() ? in.sheet.wishes.scale.value : sensors.front().scale.value);
}

Expected figure(std::string what, const physics::Interval& si, const char* unit, FigureFrom from,
                std::string says) {
  return {std::move(what), si.low, si.middle, si.high, unit, from, true, std::move(says)};
}
Expected bounds(std::string what, double low, double high, const char* unit, FigureFrom from,
                std::string says) {
  return {std::move(what), low, std::nullopt, high, unit, from, true, std::move(says)};
}
Expected in_words(std::string what, FigureFrom from, std::string says) {
  return {std::move(what), {}, {}, {}, "", from, true, std::move(says)};
}
Expected unknown(std::string what, std::string says) {
  return {std::move(what), {}, {}, {}, "", FigureFrom::computed, false, std::move(says)};
}
FigureFrom from_source(car::Source source) {
  return source == car::Source::typical    ? FigureFrom::typical
         : source == car::Source::computed ? FigureFrom::computed
                                           : FigureFrom::stated;
}
std::string seconds_text(double s) {
  return s < 100 ? fmt::format("{:.0f} s", s) : fmt::format("{:.0f} min", s / 60);
}

namespace {

void of_the_whole(Making& m) {
  m.out.cautions = {
      "Two people: one at the key, one at the engine who says stop. Agree on a sign for it.",
      "Outdoors, or with the exhaust led outside: exhaust gas indoors kills before it is smelt.",
      "A fire extinguisher for fuel in reach, no flame, no smoking, no heater near; eyes "
      "protected.",
      "Gear in neutral or park, parking brake on, wheels chocked; nobody in front or behind.",
      "Hair, sleeves and leads away from fan and belts; ignition voltage can stop a heart.",
      "Ears protected if the exhaust is open.",
      "Local codes and the rules for licensed work on fuel, emission and electrical parts go "
      "before "
      "this list, and so do the cards of those who made the parts.",
  };
}

void say_because(Making& m) {
  auto& why = m.out.because;
  if (m.run_in) {
    why.push_back(m.tappets.certain
                      ? "A new cam with flat tappets: it is run in at 2000 to 2500 rpm at once and "
                        "must not idle before, so all is checked before the starter turns it."
                      : "A new cam, and nobody can say what the tappets are: they are treated as "
                        "flat, because idling ruins a new flat-tappet cam and a run-in harms no "
                        "roller.");
  } else if (m.new_cam) {
    why.push_back(
        "The new cam has no flat tappets in the block: no run-in (common practice, no "
        "source; the cam maker's card goes before).");
  }
  if (m.fresh) {
    why.push_back(
        "Fresh engine: oil is primed by its pump before the crank turns, and compression "
        "is a first reading, not a verdict: rings are not bedded.");
  }
  why.push_back(m.fuel_opened ? "The fuel system was opened: a full leak test."
                              : "The fuel system was not opened: a short leak test.");
  if (m.timing == TimingAnswer::untouched) {
    why.push_back("Timing was not touched: a look at it while cranking is enough.");
  }
}

void say_sentence(Making& m) {
  const std::size_t n = m.out.steps.size();
  std::string decisive;
  if (m.run_in) {
    decisive = "the new cam must not idle: straight to 2000 to 2500 rpm for 20 to 30 minutes";
    if (m.in.running && !m.in.running->run_in.empty()) {
      double worst = 0, richer = 0;
      bool all = true;
      for (const PlaceWithoutLoad& p : m.in.running->run_in) {
        all = all && p.table.has_value();
        if (!p.table) continue;
        worst = std::max(worst, p.table->chance_lean);
        richer = std::max(richer, p.table->richer);
      }
      if (!all) {
        decisive += ", where the table in force cannot be judged";
      } else if (richer > 0.005) {
        decisive += fmt::format(", and there the table should start {:.0f} % richer", 100 * richer);
      } else {
        decisive +=
            fmt::format(", and the table is right there (chance of lean {:.2g} %)", 100 * worst);
      }
    }
  } else if (m.in.running && m.in.running->idle.known()) {
    decisive = fmt::format("it should idle near {}", m.manifold(m.in.running->idle.map_pa->middle));
  } else if (m.in.running) {
    decisive = "how it idles the parts cannot tell: it is to be learned";
  } else {
    decisive = m.in.not_computed;
  }
  m.out.sentence = fmt::format("{} steps to the first start; {}.", n, decisive);
  std::vector<std::string> missing;
  for (const StartStep& s : m.out.steps) {
    for (const Expected& e : s.expect) {
      if (!e.known) missing.push_back(fmt::format("{} (step {})", e.what, s.number));
    }
  }
  if (!missing.empty()) m.out.not_known = fmt::format("Not known: {}.", fmt::join(missing, ", "));
}

}  // namespace
}  // namespace internal

FirstStart first_start(const FirstStartInput& input) {
  internal::Making m(input);
  internal::of_the_whole(m);
  internal::say_because(m);
  internal::standing_steps(m);
  internal::ignition_steps(m);
  internal::oil_last(m);
  internal::fuel_steps(m);
  internal::key_on_steps(m);
  internal::table_where_it_runs_in(m);
  internal::cranking_steps(m);
  internal::running_steps(m);
  internal::afterwards_steps(m);
  internal::say_sentence(m);
  return std::move(m.out);
}

}  // namespace fuelwright::advice
