// The fuel system in the outlook: what it cannot send makes the mixture lean, and no more than
// that.
#include "advice/outlook/supply_ahead.h"

#include <gtest/gtest.h>

#include <cmath>

#include "advice/outlook/internal/test_car.h"
#include "advice/outlook/outlook.h"
#include "advice/outlook/rung.h"
#include "advice/proposal/invented_estimate.h"
#include "physics/supply/balance.h"
#include "physics/supply/from_sheet.h"

namespace fuelwright::advice::supply_ahead_test {
namespace {

using car::NodeMark;
using physics::supply::Need;
using physics::supply::System;

const car::Grid kGrid = test_grid();
const car::Surface kTable = car::Surface::flat(kGrid, 0.80);
const car::Surface kAim = car::Surface::flat(kGrid, 0.85);
constexpr std::size_t kTop = 6 * kFullRow + 5;  // 6000 rpm, 100 kPa

System system_with(double pump_l_per_h) {
  System s = physics::supply::supply_of(test_sheet()).value().system;
  s.pump.strength *= pump_l_per_h / s.pump.flow.back().in(litre_per_h) / s.pump.count;
  return s;
}
Outlook look(const MapEstimate& e, std::vector<System> systems) {
  OutlookOptions options;
  options.supply = std::move(systems);
  const auto o = look_ahead({e, test_sheet(), kTable, kAim, physics::FamilyTest{}}, options);
  EXPECT_TRUE(o) << (o ? "" : o.error().line());
  return *o;
}
MapEstimate alike(double value, double sd) {
  MapEstimate e = invented_estimate(kGrid, value, sd, NodeMark::inferred);
  set_node(e, 0, value, 0.01, NodeMark::measured);
  return e;
}

// By hand: two systems, one sends everything, one 10 % less: chance and quantiles are the mean of
// two normal distributions 0.10536 apart.
TEST(SupplyAhead, AMixtureOfTwoSystemsByHand) {
  const MixedMixture m(std::log(0.85), 0.02, {0.0, -std::log(0.9)});
  const double x = std::log(0.92);
  // z = (ln 0.92 - ln 0.85)/0.02 = 3.957 and (0.079137 - 0.105361)/0.02 = -1.311.
  EXPECT_NEAR(m.above(x), (3.8e-5 + 0.9051) / 2, 2e-4);
  EXPECT_NEAR(m.quantile(0.5), std::log(0.85) + 0.10536 / 2, 1e-4);
  // 5 % of the upper one lie beyond 1.645 sd.
  EXPECT_NEAR(m.quantile(0.975), std::log(0.85) + 0.10536 + 1.6449 * 0.02, 1e-4);
  const MixedMixture one(std::log(0.85), 0.02, {0.0});
  EXPECT_NEAR(one.quantile(0.975), std::log(0.85) + 1.959964 * 0.02, 1e-8);
}

TEST(SupplyAhead, AStrongPumpTakesTheAllowanceAway) {
  const Outlook o = look(alike(0.80, 0.02), {system_with(600)});
  const NodeOutlook& n = o.nodes[kTop];
  ASSERT_TRUE(n.mixture);
  EXPECT_TRUE(o.supply_computed);
  EXPECT_TRUE(n.new_flow);
  EXPECT_NEAR(n.mixture->lean.value, 0.85 * std::exp(1.959964 * 0.02), 1e-6);
  EXPECT_EQ(n.missing, 0);
}

// The pump sends Q at whatever rail pressure; injectors held open as long as before pass what the
// fallen rail presses through: sent/asked is between Q over the demand and 1, and a pump of half
// the demand leaves it leaner than one of 0.9 of it.
TEST(SupplyAhead, AWeakPumpMakesFullThrottleLeanAndLightLoadNot) {
  const Outlook before = look(alike(0.80, 0.02), {system_with(600)});
  const double asked_l_per_h = before.nodes[kTop].fuel->flow.si / 750 * 3.6e6;
  double lean_before = 0;
  for (const double share : {1.2, 0.9, 0.5}) {
    const Outlook o = look(alike(0.80, 0.02), {system_with(share * asked_l_per_h)});
    const NodeOutlook& n = o.nodes[kTop];
    EXPECT_GE(n.missing, lean_before);
    lean_before = n.missing;
    EXPECT_EQ(o.nodes[6].missing, 0) << share;  // 1000 rpm, 50 kPa
  }
  EXPECT_GT(lean_before, 0.10);
  EXPECT_LT(lean_before, std::log(2.0) + 0.1);
}

// What was missing at the largest driven flow is in what was read there.
TEST(SupplyAhead, OnlyWhatIsMissingBeyondTheDrivenFlowCounts) {
  const Outlook all = look(alike(0.80, 0.02), {system_with(60)});
  MapEstimate e = alike(0.80, 0.02);
  set_node(e, kTop - 1, 0.80, 0.01, NodeMark::measured);  // 5000 rpm, full throttle
  const Outlook rest = look(e, {system_with(60)});
  ASSERT_GT(all.nodes[kTop - 1].missing, 0);
  EXPECT_NEAR(rest.nodes[kTop].missing, all.nodes[kTop].missing - all.nodes[kTop - 1].missing,
              1e-9);
  EXPECT_EQ(rest.nodes[kTop - 2].missing, 0);  // less flow than was driven
}

// Beyond the largest duty no fuel is counted on: the injectors' shortage shows as lean, not as
// silence.
TEST(SupplyAhead, InjectorsAtTheirEndAreLeanNotUnknown) {
  System s = system_with(600);
  s.injectors.rated = 0.6 * s.injectors.rated;
  const Outlook o = look(alike(0.80, 0.01), {s});
  const NodeOutlook& n = o.nodes[kTop];
  ASSERT_TRUE(n.mixture);
  EXPECT_GT(n.missing, 0.05);
  EXPECT_EQ(n.go, Go::not_yet);
  EXPECT_EQ(n.because, Because::too_lean);
}

TEST(SupplyAhead, TheRicherReadingOfAStrongerPumpStopsNoClimb) {
  std::vector<System> either{system_with(600)};
  for (int k = 0; k < 3; ++k) either.push_back(system_with(60));
  const Outlook o = look(alike(0.80, 0.02), either);
  ASSERT_GT(o.nodes[kTop].missing, 0.1);
  EXPECT_FALSE(check_rung(o, kTop, car::lambda(0.85), 0.01)->refuted());
  EXPECT_TRUE(check_rung(o, kTop, car::lambda(0.70), 0.01)->refuted());
}

TEST(SupplyAhead, SystemsAreDrawnFromTheSheetAndByTheRecordedRail) {
  const car::Sheet sheet = test_sheet();
  const auto drawn = drawn_supply(sheet, {});
  ASSERT_TRUE(drawn) << drawn.error().line();
  EXPECT_EQ(drawn->size(), 96u);
  EXPECT_EQ(drawn_supply(sheet, {.systems = 3}).error().code, ErrorCode::out_of_range);
  // A rail that falls to 250 kPa where the engine asks 10 g/s: every system drawn falls with it.
  SupplyAheadSettings seen;
  seen.trace = physics::supply::RailTrace{};
  const System middle = physics::supply::supply_of(sheet).value().system;
  const double set = middle.regulator.setting.si;
  for (int i = 0; i < 40; ++i) {
    const double n = 2000 + 100.0 * i;
    seen.trace->speed.push_back(rpm(n));
    seen.trace->rail.push_back(gauge(PressureStep{n < 4000 ? set : set - 20 * (n - 4000)}));
    seen.trace->manifold.push_back(absolute(100.0 * kPa));
  }
  for (const double n : {1000.0, 6000.0})
    seen.needs.push_back({rpm(n), absolute(100.0 * kPa), MassFlow{10e-3 * n / 6000}});
  const auto fitted = drawn_supply(sheet, seen);
  ASSERT_TRUE(fitted) << fitted.error().line();
  for (const System& s : *fitted) {
    const auto p = physics::supply::balance(
        s, {rpm(5500), absolute(100.0 * kPa), MassFlow{10e-3 * 5500 / 6000}});
    EXPECT_NEAR(p.rail.above_ambient.si, set - 30e3, 0.05 * set);
  }
}

}  // namespace
}  // namespace fuelwright::advice::supply_ahead_test
