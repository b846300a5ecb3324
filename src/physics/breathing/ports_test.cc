#include "physics/breathing/internal/ports.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <numbers>

namespace fuelwright::physics {
namespace {

// A stock V8 intake port at 28 inH2O as the trade knows it (common practice, no source).
constexpr double kCfm = 4.719474e-4;
PortBench stock() {
  PortBench b;
  b.stated = true;
  for (const double lift_in : {0.1, 0.2, 0.3, 0.4, 0.5}) b.lift_m.push_back(lift_in * 0.0254);
  for (const double cfm : {65.0, 128.0, 188.0, 228.0, 245.0}) b.flow_m3_s.push_back(cfm * kCfm);
  b.depression_pa = 28 * 249.089;
  b.valves = 1;
  b.diameter_m = 1.94 * 0.0254;
  return b;
}

PortArea made(const PortBench& bench) {
  auto port = PortArea::make(bench);
  EXPECT_TRUE(port.ok()) << (port.ok() ? "" : port.error().line());
  return *port;
}

// checks of the compressible orifice: air at 101,325 Pa and 298.15 K, ratio 0.95, passes 0.106553
// g/s per mm2 (computed); bench air is 294.14 K, so by sqrt(298.15/294.14) more.
TEST(Ports, TheEffectiveAreaPassesWhatTheBenchMeasured) {
  const double bench_k = 101'325 / (287.05 * 1.2);
  const double mass = 0.106553e-3 * std::sqrt(298.15 / bench_k);  // through 1 mm2
  EXPECT_NEAR(effective_area_m2(mass / 1.2, 0.05 * 101'325), 1e-6, 2e-11);
}

// Q / sqrt(2 dp/rho) = 0.1 / sqrt(2 * 6974.5 / 1.2) = 9.275e-4 m2, and a little more since air
// expands.
TEST(Ports, AtTwentyEightInchesCompressibilityIsWorthFourPercent) {
  const double plain = 0.1 / std::sqrt(2 * 6974.5 / 1.2);
  EXPECT_NEAR(effective_area_m2(0.1, 6974.5) / plain, 1.038, 0.002);
  EXPECT_NEAR(effective_area_m2(0.1, 50) / (0.1 / std::sqrt(2 * 50 / 1.2)), 1, 5e-4);
}

TEST(Ports, EveryListedLiftFlowsAsListed) {
  const PortBench b = stock();
  const PortArea port = made(b);
  for (std::size_t i = 0; i < b.lift_m.size(); ++i) {
    const double a = effective_area_m2(b.flow_m3_s[i], b.depression_pa);
    EXPECT_NEAR(port.at(b.lift_m[i]), a, 1e-12);
    EXPECT_NEAR(port.at(b.lift_m[i] * (1 + 1e-9)), a, 1e-9);  // and there is no jump
    EXPECT_NEAR(port.at(b.lift_m[i] * (1 - 1e-9)), a, 1e-9);
  }
}

TEST(Ports, AreaGrowsFromZeroWithLiftAndSettlesBeyondTheTable) {
  const PortArea port = made(stock());
  EXPECT_EQ(port.at(0), 0);
  EXPECT_EQ(port.at(-0.001), 0);
  double before = 0;
  for (double lift = 1e-5; lift < 0.030; lift += 1e-5) {
    const double here = port.at(lift);
    EXPECT_GE(here, before) << lift;
    EXPECT_LT(here - before, 1e-5 * std::numbers::pi * 1.94 * 0.0254)
        << lift;  // never above the curtain's growth
    before = here;
  }
  EXPECT_LT(before, 1.05 * port.at(0.5 * 0.0254) + 1e-12);
}

// A valve barely open passes 0.70 of its curtain pi D L (common practice, no source).
TEST(Ports, BelowTheTableTheCurtainRules) {
  PortBench b = stock();
  b.lift_m = {b.lift_m[3], b.lift_m[4]};  // begins at 0.4 in, where the port already settles
  b.flow_m3_s = {b.flow_m3_s[3], b.flow_m3_s[4]};
  const double lift = 1e-5;
  EXPECT_NEAR(made(b).at(lift) / (std::numbers::pi * b.diameter_m * lift), 0.70, 0.01);
}

TEST(Ports, AStallingPortFallsBackWithoutOvershoot) {
  PortBench b = stock();
  b.flow_m3_s.back() = 215 * kCfm;
  const PortArea port = made(b);
  const double top = effective_area_m2(228 * kCfm, b.depression_pa);
  for (double lift = 0; lift < 0.02; lift += 1e-5) EXPECT_LE(port.at(lift), top * (1 + 1e-12));
  EXPECT_NEAR(port.at(0.02), effective_area_m2(215 * kCfm, b.depression_pa), 1e-9);
}

TEST(Ports, TheLowLiftFactorFadesOutBetweenTenAndTwentyFivePercent) {
  EXPECT_EQ(low_lift_factor(0.02, 0.87), 0.87);
  EXPECT_EQ(low_lift_factor(0.10, 0.87), 0.87);
  EXPECT_NEAR(low_lift_factor(0.175, 0.87), 0.935, 1e-12);
  EXPECT_EQ(low_lift_factor(0.25, 0.87), 1.0);
  EXPECT_EQ(low_lift_factor(0.4, 0.87), 1.0);
}

LiftCurve hump(int centre, int half, double lift) {
  LiftCurve out{};
  for (int d = -half + 1; d < half; ++d) {
    const double x = static_cast<double>(d) / half;
    out[static_cast<std::size_t>((centre + d + 1440) % 720)] = lift * (1 - x * x);
  }
  return out;
}

TEST(Ports, AValveIsShutExactlyOutsideItsDegrees) {
  const ValveArea v = valve_area(hump(470, 120, 0.011), made(stock()), {});
  EXPECT_EQ(v.opens_deg, 351);
  EXPECT_EQ(v.shuts_deg, 589);
  EXPECT_EQ(v.forward[350], 0);
  EXPECT_EQ(v.forward[590], 0);
  EXPECT_GT(v.forward[351], 0);
  EXPECT_GT(v.forward[589], 0);
  for (std::size_t d = 0; d < v.forward.size(); ++d)
    EXPECT_DOUBLE_EQ(v.reverse[d], 0.85 * v.forward[d]);
}

TEST(Ports, AValveOpenAcrossTheEndOfTheCycleIsFollowedAcrossIt) {
  const ValveArea late = valve_area(hump(700, 120, 0.011), made(stock()), {});
  EXPECT_EQ(late.opens_deg, 581);
  EXPECT_EQ(late.shuts_deg, 819);
  const ValveArea early = valve_area(hump(20, 120, 0.011), made(stock()), {});
  EXPECT_EQ(early.opens_deg, 621);
  EXPECT_EQ(early.shuts_deg, 859);
}

TEST(Ports, AFullyOpenValveFlowsAsTheBenchAndABarelyOpenOneLess) {
  const PortArea port = made(stock());
  const ValveArea v = valve_area(hump(470, 120, 0.0127), port, {});
  EXPECT_NEAR(v.forward[470], port.at(0.0127), 1e-12);
  EXPECT_LT(v.forward[353], 0.88 * port.at(0.0127 * (1 - (117.0 * 117.0) / (120.0 * 120.0))));
}

void expect_refused(const PortBench& bench, const std::string& says) {
  const auto port = PortArea::make(bench);
  ASSERT_FALSE(port.ok()) << says;
  EXPECT_EQ(port.error().where, "heads.flow_intake");
  EXPECT_EQ(port.error().code, ErrorCode::out_of_range);
  EXPECT_NE(port.error().message.find(says), std::string::npos) << port.error().line();
}

TEST(Ports, ABenchThatCannotBeIsRefused) {
  PortBench b = stock();
  b.flow_m3_s[0] = 200 * kCfm;
  expect_refused(b, "200 cfm at 2.54 mm of lift is more than 1 valve of 49.28 mm can pass");
  b = stock();
  for (double& q : b.flow_m3_s) q *= 0.005;
  expect_refused(b, "no flow");
  b = stock();
  b.flow_m3_s[2] = std::nan("");
  expect_refused(b, "a port without flow");
  b = stock();
  b.flow_m3_s.pop_back();
  expect_refused(b, "4 flows for 5 lifts");
  b = stock();
  std::swap(b.lift_m[1], b.lift_m[2]);
  expect_refused(b, "must increase");
  b = stock();
  b.depression_pa = 0;
  expect_refused(b, "depression");
}

}  // namespace
}  // namespace fuelwright::physics
