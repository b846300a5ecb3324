#include "sim/virtual_car/internal/drivetrain.h"

#include <cmath>
#include <numbers>

#include "sim/virtual_car/internal/power.h"
#include "sim/virtual_car/test_car.h"

namespace fuelwright::sim::virtual_car::drivetrain_test {
namespace {

constexpr double kStep_s = 0.005;

Truth by_hand() {
  Truth t = test_truth(test_sheet());
  t.weather.ambient = absolute(101.325 * kPa);
  t.weather.air = celsius(15);
  t.vehicle.automatic = false;
  t.vehicle.mass = 1500.0 * kg;
  t.vehicle.drag_area = 0.7 * m2;
  t.vehicle.rolling = 0.012;
  return t;
}

TEST(RoadLoad, IsDragRollingAndWeightAsWorkedByHand) {
  const Truth t = by_hand();
  const double density = air_density(t.weather);
  EXPECT_NEAR(density, 1.225, 0.0005);  // standard air at 15 degC
  // 25 m/s: 0.5 * 1.22500 * 0.7 * 625 = 267.97 N; 0.012 * 1500 * 9.80665 = 176.52 N.
  EXPECT_NEAR(road_load_n(t.vehicle, 1.225, 25, 0), 267.97 + 176.52, 0.01);
  // 5 % up: 14709.98 N * 0.05/sqrt(1.0025) = 734.58 N more, rolling 0.22 N less.
  EXPECT_NEAR(road_load_n(t.vehicle, 1.225, 25, 0.05), 267.97 + 176.30 + 734.58, 0.02);
}

TEST(Drivetrain, CoastsDownOutOfGearInTheTimeThatTheExactSolutionGives) {
  // m dv/dt = -(a + c v^2): t = m/sqrt(a c) (atan(v1 k) - atan(v2 k)), k = sqrt(c/a).
  const Truth t = by_hand();
  const double mass = 1.03 * 1500;  // with what turns
  const double a = 0.012 * 1500 * 9.80665;
  const double c = 0.5 * air_density(t.weather) * 0.7;
  const double k = std::sqrt(c / a);
  const auto exact_s = [&](double v1, double v2) {
    return mass / std::sqrt(a * c) * (std::atan(v1 * k) - std::atan(v2 * k));
  };
  Drivetrain car(t, 800);
  for (int i = 0; i < 20000 && car.speed_m_s() < 30; ++i) {
    car.step(150, {.gear = 1, .clutch = 1}, 0, kStep_s);
  }
  const double from = car.speed_m_s();
  double seconds = 0, before = from;
  while (car.speed_m_s() > 10) {
    before = car.speed_m_s();
    car.step(0, {.gear = 1, .clutch = 0}, 0, kStep_s);
    seconds += kStep_s;
  }
  seconds -= kStep_s * (10 - car.speed_m_s()) / (before - car.speed_m_s());
  EXPECT_GT(from, 29);
  EXPECT_NEAR(seconds, exact_s(from, 10), 2 * kStep_s);  // first order in time
}

TEST(Drivetrain, WithTheClutchShutEngineAndWheelsTurnTogether) {
  const Truth t = by_hand();
  Drivetrain car(t, 800);
  for (int i = 0; i < 4000; ++i) car.step(60, {.gear = 0, .clutch = 1}, 0, kStep_s);
  ASSERT_TRUE(car.locked());
  const double per_metre = t.vehicle.gears[0] * t.vehicle.axle / t.vehicle.tyre_radius.si;
  EXPECT_NEAR(car.rpm() * std::numbers::pi / 30, car.speed_m_s() * per_metre, 1e-9);
}

TEST(Drivetrain, BrakesHoldTheCarOnAHillAndLetItRollWhenReleased) {
  const Truth t = by_hand();
  Drivetrain car(t, 800);
  for (int i = 0; i < 400; ++i) car.step(0, {.clutch = 0, .brake_n = 3000}, -0.06, kStep_s);
  EXPECT_EQ(car.speed_m_s(), 0);
  for (int i = 0; i < 400; ++i) car.step(0, {.clutch = 0}, -0.06, kStep_s);
  EXPECT_GT(car.speed_m_s(), 0.5);
}

TEST(Drivetrain, AConverterMultipliesTorqueAtRestAndCouplesAtSpeed) {
  EXPECT_DOUBLE_EQ(Drivetrain::multiplication(0), 2);
  EXPECT_DOUBLE_EQ(Drivetrain::multiplication(0.95), 1);
  const Truth t = by_hand();
  const Drivetrain car(t, 800);
  EXPECT_GT(car.converter_nm(200, 0), car.converter_nm(200, 180));
  EXPECT_LT(car.converter_nm(150, 200), 0);  // the car drives the engine
}

TEST(Power, ManifoldPressureSettlesWhereWhatComesInIsDrawnOut) {
  const Truth t = by_hand();
  const Power power(t);
  const double area = power.throttle_area(0.2);
  double p = 90e3;
  for (int i = 0; i < 2000; ++i) {
    p = power.next_map_pa(p, area, power.intake(2500, p, 298, 361).moist_kg_s, 298, kStep_s);
  }
  const double in = power.flow_kg_s(area, p), out = power.intake(2500, p, 298, 361).moist_kg_s;
  EXPECT_NEAR(in / out, 1, 1e-4);
  EXPECT_LT(p, 80e3);
}

TEST(Power, AChokedThrottleFlowsAsTheTextbookSays) {
  // 100 mm2, 101.325 kPa, 288.15 K: 1e-4 * 101325/sqrt(287.05 * 288.15) * 0.68473 = 24.12 g/s.
  const Truth t = by_hand();
  EXPECT_NEAR(Power(t).flow_kg_s(1e-4, 30e3), 24.12e-3, 0.01e-3);
  EXPECT_NEAR(Power(t).flow_kg_s(1e-4, 101325), 0, 1e-12);
  EXPECT_LT(Power(t).flow_kg_s(1e-4, 101800), 0);
}

TEST(Power, TorqueRisesWithPressureAndFallsOffTheBestSparkAndMixture) {
  const Truth t = by_hand();
  const Power power(t);
  const double best = power.best_spark_deg(3000, 95e3);
  const double full = power.torque_nm(3000, 95e3, 1.14, best, 0, 361);
  EXPECT_GT(full, 130);  // a two-litre engine gives about 90 N m a litre (common practice)
  EXPECT_LT(full, 220);
  EXPECT_GT(full, power.torque_nm(3000, 60e3, 1.14, best, 0, 361));
  EXPECT_GT(full, power.torque_nm(3000, 95e3, 1.0, best, 0, 361));
  EXPECT_GT(full, power.torque_nm(3000, 95e3, 1.4, best, 0, 361));
  EXPECT_GT(full, power.torque_nm(3000, 95e3, 1.14, best - 10, 0, 361));
  EXPECT_LT(power.torque_nm(3000, 25e3, 0, best, 0, 361), 0);  // without fuel it brakes
  const double asked = 80;
  const double p = power.map_for_torque_pa(3000, asked, 361);
  EXPECT_NEAR(power.torque_nm(3000, p, 1, power.best_spark_deg(3000, p) - 3, 0, 361), asked, 0.1);
}

TEST(TrueAir, ThinnerAirOutsideLeavesLessExhaustBehindAtTheSameManifoldPressure) {
  Truth t = by_hand();
  const double low = true_ve(t, rpm(2500), absolute(40.0 * kPa));
  t.weather.ambient = absolute(80.0 * kPa);
  EXPECT_GT(true_ve(t, rpm(2500), absolute(40.0 * kPa)), low);
  EXPECT_LT(true_residual(t, rpm(2500), absolute(40.0 * kPa)), 0.21);
}

TEST(TrueAir, MoistAirHoldsLessOxygen) {
  // 30 degC, 60 %: 0.6 * 4.24 kPa = 2.55 kPa of 101.3: 2.5 % (steam table: 4.246 kPa, from memory).
  EXPECT_NEAR(dry_share({.ambient = absolute(101.325 * kPa), .air = celsius(30), .humidity = 0.6}),
              0.9749, 0.0003);
}

TEST(TrueAir, TheChargeIsWarmedByTheWallsLessTheFasterItFlows) {
  const Truth t = by_hand();
  const auto at = [&](double kg_s) {
    return true_charge_temperature(t, celsius(20), celsius(90), MassFlow{kg_s});
  };
  EXPECT_NEAR(in_celsius(at(0)), 20 + 70 * t.air.heating, 1e-9);
  EXPECT_NEAR(in_celsius(at(t.air.heating_flow.si)), 20 + 35 * t.air.heating, 1e-9);
  EXPECT_LT(at(0.1), at(0.01));
}

}  // namespace
}  // namespace fuelwright::sim::virtual_car::drivetrain_test
