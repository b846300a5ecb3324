// Ignition while the engine stands: plugs, firing order, rotor, trigger.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "advice/first_start/internal/making.h"

namespace fuelwright::advice::internal {
namespace {

using F = FigureFrom;
using car::IgnitionKind;

void add_plugs(Making& m) {
  StartStep& s = m.step(StartPhase::standing, "plugs", "Plugs and gap");
  s.act.push_back("New or clean plugs, gap measured at each, thread by hand first.");
  const IgnitionKind kind = m.sheet().ignition.kind.value;
  const auto [low, high, why] =
      kind == IgnitionKind::distributor    ? std::tuple(0.9e-3, 1.1e-3, "with a distributor")
      : kind == IgnitionKind::wasted_spark ? std::tuple(1.0e-3, 1.3e-3, "with wasted spark")
                                           : std::tuple(0.8e-3, 1.1e-3, "with a coil on each plug");
  const bool us = m.in.units == UnitSystem::us;
  s.expect.push_back(
      bounds("gap", low, high, "m", F::common_practice,
             us ? fmt::format("{:.3f} to {:.3f} in {}", low / inch.factor, high / inch.factor, why)
                : fmt::format("{:.1f} to {:.1f} mm {}", 1e3 * low, 1e3 * high, why)));
  s.if_not.push_back("Too wide: it cuts out under load. Too narrow: a rich, cold start fouls it.");
}

std::string pairs(const std::vector<int>& order) {
  std::string out;
  for (std::size_t i = 0; i < order.size() / 2; ++i) {
    out += fmt::format("{}{} with {}", i == 0 ? "" : ", ", order[i], order[i + order.size() / 2]);
  }
  return out;
}

void add_firing_order(Making& m) {
  const auto& order = m.sheet().engine.firing_order;
  const IgnitionKind kind = m.sheet().ignition.kind.value;
  StartStep& s = m.step(StartPhase::standing, "firing_order", "Firing order, plug by plug");
  if (kind == IgnitionKind::distributor) {
    s.act.push_back(
        "Follow each lead from the cap to its plug, in the rotor's direction of turning.");
  } else {
    s.act.push_back(
        "Fire one output at a time from the unit's test mode, fuel off, and see which plug "
        "answers.");
  }
  if (m.sheet().injection.arrangement.value == car::InjectionArrangement::ports &&
      m.sheet().injection.squirts_per_cycle.si() < 1.5) {
    s.act.push_back(
        "Injectors open one by one in the same order: click each from test mode, rail "
        "without pressure.");
  }
  s.expect.push_back(in_words(
      "firing order", from_source(order.source),
      fmt::format("{}{}", fmt::join(order.values, "-"),
                  order.source == car::Source::typical
                      ? ": the commonest for this many cylinders; read it off the engine first"
                      : "")));
  if (kind == IgnitionKind::wasted_spark && order.values.size() % 2 == 0) {
    s.expect.push_back(in_words("pairs on one coil", F::computed, pairs(order.values)));
  }
  s.if_not.push_back(
      "Two leads crossed: it spits back through the intake or out of the exhaust. Do not "
      "crank on.");
  s.cautions.push_back(
      "Ignition off while leads are in hand; a coil holds enough to throw a person.");
}

struct SparkRange {
  double low = 0, high = 0;
};
std::optional<SparkRange> spark_range(const Making& m) {
  const car::Surface* table =
      m.in.calibration ? m.in.calibration->find(car::TableWhat::spark) : nullptr;
  if (!table) return std::nullopt;
  auto [low, high] = std::minmax_element(table->values.begin(), table->values.end());
  SparkRange out{*low, *high};
  if (const double* cranking = m.setting(car::SettingWhat::cranking_spark)) {
    out.low = std::min(out.low, *cranking);
  }
  return out;
}

void add_rotor(Making& m) {
  if (!m.distributor() || m.timing == TimingAnswer::untouched) return;
  StartStep& s = m.step(StartPhase::standing, "rotor_phasing", "Rotor against cap");
  const auto range = spark_range(m);
  const auto& order = m.sheet().engine.firing_order.values;
  const int first = order.empty() ? 1 : order.front();
  const double pitch = 360.0 / m.sheet().engine.cylinders.value;
  if (!range) {
    s.act.push_back(
        fmt::format("Crank at the base timing before firing top dead centre of cylinder {}: "
                    "the rotor must point at its terminal.",
                    first));
    s.expect.push_back(unknown("spark from least to most",
                               "no spark table in the calibration in force: not computed yet, run "
                               "predict, or the distributor advances by itself"));
    return;
  }
  const double middle = 0.5 * (range->low + range->high), swing = 0.25 * (range->high - range->low);
  s.act.push_back(
      fmt::format("Crank by hand to {:.0f} deg before firing top dead centre of cylinder {}: "
                  "the middle of the spark table ({:.0f} to {:.0f} deg).",
                  middle, first, range->low, range->high));
  s.act.push_back(
      "There the rotor's tip must stand at the middle of that cylinder's terminal; cut a "
      "window in an old cap to see it.");
  s.expect.push_back(
      bounds("rotor beside the terminal over the whole table", -swing, swing, "deg", F::computed,
             fmt::format("\xC2\xB1{:.1f} deg of the distributor; terminals are {:.0f} deg apart",
                         swing, pitch)));
  s.if_not.push_back(
      swing > pitch / 4
          ? "The table swings wide for this cap: a spark can jump to the neighbour at its "
            "ends; use a wider rotor tip or less swing."
          : "Off by more than half a rotor's tip: the spark jumps to the neighbour under "
            "load. Turn the body or move the pick-up.");
}

void add_trigger(Making& m) {
  if (m.timing == TimingAnswer::untouched) return;
  StartStep& s = m.step(StartPhase::standing, "trigger_offset", "Trigger and its offset");
  const bool seen = m.timing == TimingAnswer::checked;
  if (!seen) {
    s.act.push_back(
        "Find true top dead centre of cylinder 1 with a piston stop and correct the mark "
        "on the damper or pulley: a slipped ring reads tens of degrees off.");
  }
  s.act.push_back(
      "Enter in the unit by how many degrees the trigger's edge stands before top dead "
      "centre, and which edge it is; gap of the pick-up as its card says.");
  s.expect.push_back(bounds("mark against the piston stop", -1, 1, "deg", F::common_practice,
                            seen ? "you have set it: within 1 deg" : "within 1 deg"));
  s.if_not.push_back(
      "Crank and cam of a four-stroke turn two to one: a trigger on the cam side is 360 "
      "deg wrong half of the time, and sparks then fall into overlap.");
}

}  // namespace

void ignition_steps(Making& m) {
  add_plugs(m);
  add_firing_order(m);
  add_rotor(m);
  add_trigger(m);
}

}  // namespace fuelwright::advice::internal
