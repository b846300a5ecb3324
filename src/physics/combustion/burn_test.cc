#include <gtest/gtest.h>

#include <cmath>

#include "physics/combustion/internal/example.h"

namespace fuelwright::physics::burn_test {
namespace {

constexpr double kFiveDigits = 5e-6;

double share_at(double x) {  // z where the share x is burnt, by bisection on the curve itself
  double low = 0, high = 1;
  for (int i = 0; i < 60; ++i) {
    const double mid = (low + high) / 2;
    (wiebe(mid) < x ? low : high) = mid;
  }
  return low;
}

// Computed from 1 - exp(-5 z^3); formula from memory.
TEST(Burn, WiebesCurveIsTenFiftyAndNinetyPercentBurntWhereItShouldBe) {
  EXPECT_NEAR(share_at(0.10), 0.27621, kFiveDigits);
  EXPECT_NEAR(share_at(0.50), 0.51755, kFiveDigits);
  EXPECT_NEAR(share_at(0.90), 0.77223, kFiveDigits);
}

// By hand, gasoline at 1 atm and 298 K: phi 1: 0.305 - 0.549 * 0.21^2 = 0.2808 m/s; the floor's
// rounding adds (1e-4)/(0.26) = 0.0004.
TEST(Burn, APetrolFlameAtRoomTemperatureRunsAboutTwentyEightCentimetresASecond) {
  const auto p = absolute(101.325 * kPa);
  EXPECT_NEAR(laminar_speed(car::lambda(1), 0, p, kelvin(298)).si, 0.2808, 5e-4);
  // By hand at 10 atm and 600 K: alpha 2.129, beta -0.217: 0.2808 * 4.438 * 0.6067 = 0.756.
  EXPECT_NEAR(laminar_speed(car::lambda(1), 0, absolute(1013.25 * kPa), kelvin(600)).si, 0.757,
              0.003);
}

TEST(Burn, AFlameIsFastestSlightlyRichAndSlowerWithBurntGas) {
  const auto p = absolute(800 * kPa);
  const auto at = [&](double l, double r) {
    return laminar_speed(car::lambda(l), r, p, kelvin(620)).si;
  };
  EXPECT_GT(at(0.88, 0.1), at(0.70, 0.1));
  EXPECT_GT(at(0.88, 0.1), at(1.0, 0.1));
  EXPECT_GT(at(1.0, 0.1), at(1.2, 0.1));
  double last = at(1, 0);
  for (double r = 0.02; r < 0.6; r += 0.02) {
    EXPECT_LT(at(1, r), last);
    EXPECT_GT(at(1, r), 0);
    last = at(1, r);
  }
  EXPECT_NEAR(at(1, 0.2501) / at(1, 0.2499), 1, 2e-3) << "a step where the law is continued";
}

TEST(Burn, TheTextbookEngineBurnsInTheTextbooksAngles) {
  const WorkingGas gas = example::petrol_at(1.0);
  EngineBuild e = example::wedge_v8();
  e.shape = {100 * mm, 85 * mm, 145 * mm, 8.5};
  ClosedCharge c = example::charge_of(gas, e, 1500, 55, 0.8, 0.12);
  // Its state at closing is 55 kPa and 370 K by definition; air to fit.
  c.pressure = absolute(55 * kPa);
  c.temperature = kelvin(370);
  const double v = cylinder_volume(e.shape, c.closing).si;
  const double r = 0.88 * gas.tables->fresh.r + 0.12 * gas.tables->frozen.r;
  c.air = 55e3 * v / (r * 370) * 0.88 * (1 - gas.tables->fuel_per_fresh) * kg;
  const Burn b = burn(gas, c, crank_degrees(30)).value();
  EXPECT_NEAR(b.development.degrees(), 25, 0.05);  // step of the integral
  EXPECT_NEAR(b.rapid.degrees(), 32, 1e-6);
  EXPECT_NEAR(b.ca50.degrees(), -30 + 25 + (0.51755 - 0.27621) / 0.49602 * 32, 0.05);
}

TEST(Burn, ItTakesLongerWithSpeedResidualLeanMixtureAndAnOlderChamber) {
  const WorkingGas gas = example::petrol_at(0.9), lean = example::petrol_at(1.2);
  const EngineBuild v8 = example::wedge_v8();
  const auto angle = [&](const WorkingGas& g, double n, double map, double res) {
    const Burn b = burn(g, example::charge_of(g, v8, n, map, 0.8, res), crank_degrees(25)).value();
    return b.development.degrees() + b.rapid.degrees();
  };
  const double base = angle(gas, 2000, 80, 0.1);
  EXPECT_GT(angle(gas, 4000, 80, 0.1), base);
  EXPECT_LT(angle(gas, 4000, 80, 0.1), base * 2) << "turbulence rises with speed";
  EXPECT_GT(angle(gas, 2000, 80, 0.2), base);
  EXPECT_GT(angle(lean, 2000, 80, 0.1), base);
  EXPECT_GT(angle(gas, 2000, 40, 0.1), base);
  ClosedCharge four = example::charge_of(gas, example::pent_roof_four(), 2000, 80, 0.8, 0.1);
  EXPECT_LT(burn(gas, four, crank_degrees(25)).value().rapid.degrees(), base * 0.6);
}

TEST(Burn, MoreAdvanceBringsHalfBurntForwardButNeverByMoreThanItself) {
  const WorkingGas gas = example::petrol_at(0.95);
  const ClosedCharge c = example::charge_of(gas, example::wedge_v8(), 3000, 45, 0.75, 0.15);
  double last = burn(gas, c, crank_degrees(0)).value().ca50.degrees();
  for (double a = 2; a <= 60; a += 2) {
    const double now = burn(gas, c, crank_degrees(a)).value().ca50.degrees();
    EXPECT_LT(now, last + 1e-9) << a;
    EXPECT_GT(now, last - 4.0) << a;
    last = now;
  }
}

TEST(Burn, DilutionEndsInPartialBurnAndThenInMisfire) {
  const WorkingGas gas = example::petrol_at(1.0), lean = example::petrol_at(1.5);
  const EngineBuild v8 = example::wedge_v8();
  const auto at = [&](const WorkingGas& g, double res) {
    return burn(g, example::charge_of(g, v8, 900, 40, 0.7, res), crank_degrees(25)).value();
  };
  EXPECT_EQ(at(gas, 0.15).verdict, BurnVerdict::sound);
  EXPECT_EQ(at(gas, 0.42).verdict, BurnVerdict::partial);
  EXPECT_EQ(at(gas, 0.55).verdict, BurnVerdict::misfire);
  EXPECT_EQ(at(lean, 0.12).verdict, BurnVerdict::misfire);
  EXPECT_EQ(at(lean, 0.0).verdict, BurnVerdict::partial);
  EXPECT_DOUBLE_EQ(at(gas, 0.15).completeness, 0.97);
  EXPECT_EQ(at(gas, 0.65).completeness, 0);
  double last = 1;
  for (double r = 0; r < 0.7; r += 0.01) {
    EXPECT_LE(at(gas, r).completeness, last);
    last = at(gas, r).completeness;
  }
}

TEST(Burn, AChargeThatCannotBeIsRefusedByTheNameOfWhatIsWrong) {
  const WorkingGas gas = example::petrol_at(1.0);
  const ClosedCharge good = example::full_throttle(gas, 3000);
  const auto refused = [&](auto change) {
    ClosedCharge c = good;
    change(c);
    const auto b = burn(gas, c, crank_degrees(20));
    return b.ok() ? std::string("accepted") : b.error().where;
  };
  const double nan = std::nan("");
  EXPECT_EQ(refused([](ClosedCharge&) {}), "accepted");
  EXPECT_EQ(refused([](ClosedCharge& c) { c.closing = c.closing + crank_degrees(720); }),
            "accepted");
  EXPECT_EQ(refused([](ClosedCharge& c) { c.shape.bore = 20 * mm; }), "shape.bore");
  EXPECT_EQ(refused([](ClosedCharge& c) { c.shape.compression = 40; }), "shape.compression");
  EXPECT_EQ(refused([](ClosedCharge& c) { c.shape.rod = 40 * mm; }), "shape.rod");
  EXPECT_EQ(refused([&](ClosedCharge& c) { c.speed = rpm(nan); }), "speed");
  EXPECT_EQ(refused([&](ClosedCharge& c) { c.air = nan * kg; }), "air");
  EXPECT_EQ(refused([](ClosedCharge& c) { c.residual = 1; }), "residual");
  EXPECT_EQ(refused([](ClosedCharge& c) { c.pressure = absolute(-3 * kPa); }), "pressure");
  EXPECT_EQ(refused([](ClosedCharge& c) { c.closing = crank_degrees(10); }), "closing");
  EXPECT_EQ(refused([&](ClosedCharge& c) { c.exhaust_opening = {nan}; }), "exhaust_opening");
  EXPECT_EQ(refused([](ClosedCharge& c) { c.temperature = kelvin(520); }), "temperature");
  EXPECT_EQ(refused([](ClosedCharge& c) { c.wall = kelvin(2000); }), "wall");
  EXPECT_EQ(burn(gas, good, crank_degrees(nan)).error().where, "advance");
}

}  // namespace
}  // namespace fuelwright::physics::burn_test
