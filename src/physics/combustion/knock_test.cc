#include <gtest/gtest.h>

#include <cmath>

#include "physics/combustion/internal/example.h"

namespace fuelwright::physics::knock_test {
namespace {

constexpr double kLastDigit_ms = 6e-5;

// SAE 780080; formula from memory, values computed from it.
TEST(Knock, TheIgnitionDelayHasItsValues) {
  const auto at = [](double octane) {
    return knock_delay(octane, absolute(40 * 101.325 * kPa), kelvin(850)).in(ms);
  };
  EXPECT_NEAR(at(95), 2.4533, kLastDigit_ms);
  EXPECT_NEAR(at(100), 2.9210, kLastDigit_ms);
  EXPECT_NEAR(at(87), 1.8188, kLastDigit_ms);
}

TEST(Knock, TheNumberThatGoesInLiesBetweenResearchAndMotorOctane) {
  EXPECT_DOUBLE_EQ(effective_octane(95, 10), 90);
}

SparkChoice choose(double n, double ron, double map = 98, double residual = 0.06) {
  const WorkingGas gas = example::petrol_at(0.88);
  EngineBuild e = example::wedge_v8();
  e.shape.compression = 10.5;
  return spark(gas, example::charge_of(gas, e, n, map, 0.88, residual), {.ron = ron}).value();
}

TEST(Knock, MoreOctaneStandsMoreSpark) {
  double last = -90;
  for (const double ron : {88.0, 91.0, 95.0, 98.0}) {
    const SparkChoice c = choose(1500, ron);
    EXPECT_GT(c.knock_limit.degrees(), last) << ron;
    EXPECT_TRUE(c.knock_limited);
    last = c.knock_limit.degrees();
  }
}

TEST(Knock, LowSpeedAndFullThrottleKnockFirst) {
  const auto room = [](const SparkChoice& c) { return (c.knock_limit - c.mbt).degrees(); };
  EXPECT_LT(room(choose(1200, 95)), room(choose(2000, 95)));
  EXPECT_LT(room(choose(1500, 95)), room(choose(1500, 95, 75)));
}

TEST(Knock, AtTheLimitTheIntegralIsOneAndTheMarginLiesBelow) {
  const WorkingGas gas = example::petrol_at(0.88);
  EngineBuild e = example::wedge_v8();
  e.shape.compression = 10.5;
  const ClosedCharge charge = example::charge_of(gas, e, 1500, 98, 0.88, 0.06);
  const SparkChoice c = spark(gas, charge, {.ron = 95}).value();
  ASSERT_TRUE(c.knock_limited);
  const auto at =
      closed_cycle(gas, charge, c.knock_limit, {}, {.octane = effective_octane(95)}).value();
  EXPECT_NEAR(at.knock_integral, 1, 0.01);
  EXPECT_NEAR((c.knock_limit - c.used).degrees(), 2, 1e-9);
  EXPECT_GT(c.knock_chance, 0.01);
  EXPECT_LT(c.knock_chance, 0.5);
  SparkSettings careful{.ron = 95};
  careful.margin = crank_degrees(5);
  EXPECT_LT(spark(gas, charge, careful).value().knock_chance, c.knock_chance);
}

TEST(Knock, AFuelThatNeverKnocksGetsTheSparkOfBestTorque) {
  const SparkChoice c = choose(3000, 130);
  EXPECT_FALSE(c.knock_limited);
  EXPECT_EQ(c.used, c.mbt);
  EXPECT_LT(c.knock_chance, 0.05);
}

TEST(Knock, TheHalfWidthCoversASearchWithTheOctaneMoved) {
  const WorkingGas gas = example::petrol_at(0.88);
  EngineBuild e = example::wedge_v8();
  e.shape.compression = 10.5;
  const ClosedCharge charge = example::charge_of(gas, e, 1500, 98, 0.88, 0.06);
  const SparkChoice base = spark(gas, charge, {.ron = 95}).value();
  CombustionUnstated worse;
  worse.octane_shift = -3;
  const double moved =
      (base.knock_limit - spark(gas, charge, {.ron = 95}, worse).value().knock_limit).degrees();
  EXPECT_GT(moved, 0.5);
  EXPECT_LT(moved, base.knock_limit_half_width.degrees() * 1.2);  // slope against a real search
}

TEST(Knock, SettingsThatCannotBeAreRefused) {
  const WorkingGas gas = example::petrol_at(0.88);
  const ClosedCharge c = example::full_throttle(gas, 3000);
  EXPECT_EQ(spark(gas, c, {.ron = 20}).error().where, "ron");
  EXPECT_EQ(spark(gas, c, {.ron = std::nan("")}).error().where, "ron");
  EXPECT_EQ(spark(gas, c, {.sensitivity = -1}).error().where, "sensitivity");
  EXPECT_EQ(spark(gas, c, {.margin = crank_degrees(-1)}).error().where, "margin");
}

}  // namespace
}  // namespace fuelwright::physics::knock_test
