// The model against ranges of the trade and textbooks. No constant has been chosen on these: where
// it misses, the test holds the miss it has, and docs/theory/combustion.md, section 7, states it.
#include <gtest/gtest.h>

#include <cmath>

#include "physics/combustion/internal/example.h"

namespace fuelwright::physics::practice_test {
namespace {

BrakePoint at_full_throttle(const EngineBuild& e, double n, double ron) {
  const WorkingGas gas = example::petrol_at(0.88);
  return brake(gas, example::charge_of(gas, e, n, 98, 0.85, 0.06), e, 20 * kPa, {.ron = ron})
      .value();
}

// 0.45-0.50 lb/(hp h) (common practice, no source). Low speed is knock-limited and no full power.
TEST(Practice, PetrolPerPowerAtFullThrottleIsWhatTheTradeReckonsWith) {
  for (const double n : {3000.0, 4000.0, 5000.0, 6000.0}) {
    const double v8 = at_full_throttle(example::wedge_v8(), n, 98).bsfc.value.in(lb_per_hp_h);
    EXPECT_GE(v8, 0.45) << n;
    EXPECT_LE(v8, 0.50) << n;
    const double four =
        at_full_throttle(example::pent_roof_four(), n, 95).bsfc.value.in(lb_per_hp_h);
    EXPECT_GE(four, 0.44) << n;
    EXPECT_LE(four, 0.50) << n;
  }
}

// 800-1000 degC in the port at full load (common practice, no source). Ours is the gas at the
// valve, before the port takes its heat: up to 50 K above.
TEST(Practice, ExhaustAtFullLoadIsAsHotAsPyrometersSay) {
  for (const double n : {2000.0, 3000.0, 4500.0, 6000.0}) {
    const double c = in_celsius(at_full_throttle(example::wedge_v8(), n, 98).exhaust.value);
    EXPECT_GT(c, 800) << n;
    EXPECT_LT(c, 1055) << n;
  }
}

// Half burnt 6-10 deg after the top at best torque (Heywood 1988, section 9.2; common practice).
// Ours: 7-8 at 1500 rpm, falling to 3.3 at 6000: up to 3 deg early.
TEST(Practice, AtBestTorqueHalfIsBurntALittleAfterTheTop) {
  for (const double n : {1500.0, 2000.0, 3000.0, 4500.0, 6000.0}) {
    const double ca50 =
        at_full_throttle(example::wedge_v8(), n, 130).choice.best.burn.ca50.degrees();
    EXPECT_GT(ca50, 3) << n;
    EXPECT_LT(ca50, 10) << n;
  }
}

// 32-36 deg in all for an older wedge-chamber V8, flat above about 3000 rpm (common practice, no
// source). Ours rises all the way: 29 at 3000, 37 at 4000, 44 at 5000 and 51 at 6000.
TEST(Practice, TotalSparkOfAWedgeV8PassesThroughTheUsualRangeButRisesTooFar) {
  const auto mbt = [](double n) {
    return at_full_throttle(example::wedge_v8(), n, 130).choice.mbt.degrees();
  };
  EXPECT_NEAR(mbt(3000), 34, 6);
  EXPECT_NEAR(mbt(4000), 34, 4);
  EXPECT_NEAR(mbt(5000), 34, 11);
  EXPECT_GT(mbt(5000), mbt(3000));
}

// 40-50 deg at light cruise (common practice, no source).
TEST(Practice, LightCruiseWantsFortyToFiftyDegrees) {
  const WorkingGas gas = example::petrol_at(0.97);
  const EngineBuild e = example::wedge_v8();
  for (const double map : {40.0, 50.0}) {
    const auto c = example::charge_of(gas, e, 2500, map, 0.75, map < 45 ? 0.15 : 0.125);
    const double mbt = spark(gas, c, {.ron = 95}).value().mbt.degrees();
    EXPECT_GT(mbt, 38) << map;
    EXPECT_LT(mbt, 50) << map;
  }
}

// Retard curve: about 0.98-0.99 at 10 deg and 0.93-0.96 at 20 deg (from memory, several texts).
TEST(Practice, TenDegreesOfRetardCostOneOrTwoPercent) {
  const WorkingGas gas = example::petrol_at(0.88);
  const ClosedCharge c = example::full_throttle(gas, 3000);
  const CrankAngle mbt = spark(gas, c, {.ron = 130}).value().mbt;
  const auto ratio = [&](double deg) {
    return retard_ratio(gas, c, mbt, crank_degrees(deg)).value();
  };
  EXPECT_NEAR(ratio(10), 0.985, 0.01);
  EXPECT_NEAR(ratio(20), 0.945, 0.02);
  for (double deg = 1; deg <= 30; ++deg) EXPECT_LT(ratio(deg), ratio(deg - 1) + 1e-5) << deg;
  EXPECT_LT(ratio(-8), 1) << "too early costs torque too";
}

// Compression 9 to 10 gives about 3 % of torque where knock allows (common practice; the ideal
// cycle: 3.0 %).
TEST(Practice, APointOfCompressionIsWorthAboutThreePercent) {
  EngineBuild ten = example::wedge_v8();
  ten.shape.compression = 10;
  const double nine = at_full_throttle(example::wedge_v8(), 4000, 130).gross_imep.si;
  EXPECT_NEAR(at_full_throttle(ten, 4000, 130).gross_imep.si / nine, 1.025, 0.015);
}

}  // namespace
}  // namespace fuelwright::physics::practice_test
