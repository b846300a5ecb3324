// The network in balance: mass, limits, and a slow independent solution beside the fast one.
#include "physics/supply/balance.h"

#include <cmath>
#include <numbers>

#include "physics/supply/from_sheet.h"
#include "physics/supply/test_car.h"
#include "physics/supply/vapour.h"

namespace fuelwright::physics::supply::balance_test {
namespace {

System sound() { return supply_of(sheet_of(sound_v8())).value().system; }
Need need_at(double n, double grams) { return {rpm(n), absolute(100.0 * kPa), grams * g_per_s}; }

TEST(Balance, WhatThePumpSendsIsBurntOrReturned) {
  System s = sound();
  for (const bool at_tank : {false, true}) {
    s.regulator.at_tank = at_tank;
    for (const double strength : {0.3, 0.6, 1.0, 3.0}) {
      s.pump.strength = strength;
      for (const double g : {0.3, 5.0, 20.0, 40.0}) {
        const OperatingPoint p = balance(s, need_at(5000, g));
        EXPECT_NEAR(p.pumped.si, p.injected.si + p.returned.si, 1e-15);
        EXPECT_GE(p.returned.si, -1e-12);
        EXPECT_LE(p.delivered.si, g * 1e-3 * (1 + 1e-6));
      }
    }
  }
}

TEST(Balance, TheRailStandsAtItsSettingWhileSomethingIsLeftToReturn) {
  const System s = sound();
  const OperatingPoint p = balance(s, need_at(3000, 8));
  EXPECT_TRUE(p.rail_held);
  EXPECT_NEAR(p.across.in(kPa), 300, 1e-6);
  EXPECT_NEAR(p.rail.above_ambient.in(kPa), 298.7, 0.01);  // the manifold stands 1.3 kPa below
  EXPECT_NEAR(p.delivered.in(g_per_s), 8, 1e-6);
}

// Where the pump is at its end the rail falls until both agree: the injectors, open for the share
// that was commanded, then take what the pump sends there.
TEST(Balance, AWeakPumpLetsTheRailFallUntilBothAgree) {
  System s = sound();
  s.pump.strength = 0.4;
  const Need n = need_at(5500, 26);
  const OperatingPoint p = balance(s, n);
  EXPECT_FALSE(p.rail_held);
  EXPECT_LT(p.across.in(kPa), 300);
  const double open = p.pulse.effective / squirt_period(s.arrangement, n.speed);
  const double through = open * 8 * injector_flow(s.injectors, p.across, s.rail_density()).si;
  EXPECT_NEAR(through / p.delivered.si, 1, 2e-4);
  EXPECT_NEAR(p.pumped.si / pump_can(s, p.rail).si, 1, 1e-3);
  EXPECT_GT(p.leaner, 0);
}

// The same network by brute force: the pump's flow at a rail pressure is where a fine scan of the
// flow first sends no more than the curve allows; friction by Swamee and Jain (1976, from memory:
// within 1 % of Colebrook here), everything written out again.
TEST(Balance, AScanOfTheSameNetworkFindsTheSameFlow) {
  const System s = sound();
  for (const double rail : {200e3, 300e3, 400e3}) {
    const double rho = s.tank_density().si, mu = viscosity_pa_s(s.liquid, s.tank);
    double found = 0;
    for (double q = 1e-7; q < 2e-4; q += 1e-8) {
      const double v = q * 4 / (std::numbers::pi * 64e-6), re = rho * v * 8e-3 / mu;
      const double f = 0.25 / std::pow(std::log10(0.005 / 8 / 3.7 + 5.74 / std::pow(re, 0.9)), 2);
      const double hose = (f * 4.5 / 8e-3 + 3) * rho * v * v / 2;
      const double p = rail + hose + 6e3 * q / (150e-3 / 3600);
      const double amp = 6 * (0.45 + 0.55 * p / 300e3);
      const double ohm = 6.0 / 58 / 4 * (1 + 0.00393 * 20) + 0.15 / 6;
      const double speed = (13.8 - amp * ohm) / 13.5;
      const double curve = speed * (202.5 - 52.5 * (p / speed / speed) / 300e3) * 1e-3 / 3600;
      if (q > curve) break;
      found = q;
    }
    EXPECT_NEAR(pump_can(s, gauge(PressureStep{rail})).si / found, 1, 0.002) << rail;
  }
}

TEST(Balance, ANarrowReturnHoseHoldsTheRailUp) {
  System s = sound();
  s.pump.strength = 3;
  s.regulator.return_hose = {4.5 * metre, 3.0 * mm};
  const OperatingPoint p = balance(s, need_at(800, 0.4));
  EXPECT_TRUE(p.return_full);
  EXPECT_GT(p.rail.above_ambient.in(kPa), 310);
  const double loss = pipe_loss(s.regulator.return_hose, p.returned, s.tank_density(),
                                viscosity_pa_s(s.liquid, s.tank))
                          .si;
  EXPECT_NEAR(p.rail.above_ambient.si / loss, 1, 1e-4);
}

TEST(Balance, ARegulatorAgainstTheOpenAirLosesWhatTheManifoldGains) {
  System s = sound();
  s.regulator.follows_manifold = false;
  EXPECT_NEAR(across_nozzle(s, absolute(141.3 * kPa), 20.0 * g_per_s).in(kPa), 260, 1e-9);
  EXPECT_NEAR(across_nozzle(s, absolute(41.3 * kPa), 1.0 * g_per_s).in(kPa), 360, 1e-9);
  s.regulator.follows_manifold = true;
  EXPECT_NEAR(across_nozzle(s, absolute(141.3 * kPa), 20.0 * g_per_s).in(kPa), 300, 1e-9);
}

TEST(Balance, WithoutAReturnTheHoseTakesFromTheRail) {
  System s = sound();
  s.regulator.at_tank = true;
  const double at_rest = across_nozzle(s, absolute(101.3 * kPa), 0.0 * g_per_s).in(kPa);
  EXPECT_NEAR(at_rest, 300, 1e-9);
  EXPECT_LT(across_nozzle(s, absolute(101.3 * kPa), 30.0 * g_per_s).in(kPa), 297);
  // The pump no longer works against the hose, so it sends a little more.
  System with_return = s;
  with_return.regulator.at_tank = false;
  EXPECT_GT(most_at(s, rpm(5000), absolute(101.3 * kPa)).pump,
            most_at(with_return, rpm(5000), absolute(101.3 * kPa)).pump);
}

TEST(Balance, EveryPartThatGetsWorseSendsLess) {
  const System s = sound();
  const auto pump = [&](auto change) {
    System worse = s;
    change(worse);
    return most_at(worse, rpm(5000), absolute(100.0 * kPa)).pump;
  };
  const MassFlow before = pump([](System&) {});
  EXPECT_LT(pump([](System& x) { x.hose.diameter = 6.0 * mm; }), before);
  EXPECT_LT(pump([](System& x) { x.filter.loss = 60.0 * kPa; }), before);
  EXPECT_LT(pump([](System& x) { x.wiring.area = 0.75 * mm2; }), before);
  EXPECT_LT(pump([](System& x) { x.wiring.source = 12.5 * volt; }), before);
  EXPECT_LT(pump([](System& x) { x.regulator.setting = 400.0 * kPa; }), before);
  EXPECT_LT(pump([](System& x) { x.tank = celsius(55); }), before);
}

// Hand calculation of the suction limit: at 49 degC petrol of 60 kPa Reid has 60 exp(3300 (1/310.93
// - 1/322.15)) = 60 exp(0.3697) = 86.8 kPa; 101.3 + 0.35 - 4 - 86.8 = 10.8 kPa are left for the
// suction hose.
TEST(Vapour, HotFuelLimitsWhatThePumpCanDraw) {
  System s = sound();
  s.tank = celsius(49);
  s.inlet.suction = {1.5 * metre, 6.0 * mm};
  s.inlet.height = 350.0 * pascal;
  s.pump.strength = 2;
  EXPECT_NEAR(vapour_pressure(s.liquid, s.tank).from_zero.in(kPa), 86.8, 0.2);
  const VolumeFlow most = inlet_can(s, 300.0 * litre_per_h);
  ASSERT_TRUE(std::isfinite(most.si));
  EXPECT_NEAR(
      pipe_loss(s.inlet.suction, most, s.tank_density(), viscosity_pa_s(s.liquid, s.tank)).in(kPa),
      10.8, 0.2);
  EXPECT_LE(pump_can(s, gauge(300.0 * kPa)), most);
  EXPECT_TRUE(balance(s, need_at(5000, 10)).inlet_boils);
  s.tank = celsius(60);
  EXPECT_EQ(inlet_can(s, 300.0 * litre_per_h).si, 0);
  const VapourMargin v = vapour_margin(s, 100.0 * litre_per_h, gauge(300.0 * kPa));
  EXPECT_LT(v.inlet.si, 0);
  EXPECT_GT(v.rail_boils_at, s.rail());
}

TEST(Vapour, ThinAirOnAMountainBoilsTheFuelEarlier) {
  System s = sound();
  const Temperature low = vapour_margin(s, 100.0 * litre_per_h, gauge(300.0 * kPa)).inlet_boils_at;
  s.ambient = absolute(79.5 * kPa);
  EXPECT_LT(vapour_margin(s, 100.0 * litre_per_h, gauge(300.0 * kPa)).inlet_boils_at, low);
}

}  // namespace
}  // namespace fuelwright::physics::supply::balance_test
