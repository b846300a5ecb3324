#include "advice/proposal/safe_limit.h"

#include <gtest/gtest.h>

#include "advice/proposal/targets.h"
#include "car/build/sheet_file.h"

namespace fuelwright::advice::safe_limit_test {
namespace {

const AbsolutePressure kSeaLevel = absolute(101.325 * kPa);

TEST(SafeLimit, FullThrottleIsTheSamePlaceOnEveryLoadAxis) {
  EXPECT_DOUBLE_EQ(load_share(car::AxisKind::map_absolute, 101.325e3, kSeaLevel), 1.0);
  EXPECT_DOUBLE_EQ(load_share(car::AxisKind::vacuum, 0, kSeaLevel), 1.0);
  EXPECT_DOUBLE_EQ(load_share(car::AxisKind::throttle, 1.0, kSeaLevel), 1.0);
  EXPECT_DOUBLE_EQ(load_share(car::AxisKind::throttle, 0.5, kSeaLevel), 1.0);
  EXPECT_THROW(load_share(car::AxisKind::coolant_temperature, 300, kSeaLevel), Bug);
}

// U.S. Standard Atmosphere 1976: 79,501 Pa at 2000 m. All there is of air there is full load.
TEST(SafeLimit, FullThrottleOnAMountainIsFullThrottle) {
  const AbsolutePressure mountain = absolute(79.501 * kPa);
  EXPECT_DOUBLE_EQ(load_share(car::AxisKind::map_absolute, 79.501e3, mountain), 1.0);
  EXPECT_TRUE(SafeLimit{}.at(load_share(car::AxisKind::map_absolute, 75e3, mountain)));
  EXPECT_FALSE(SafeLimit{}.at(load_share(car::AxisKind::map_absolute, 75e3, kSeaLevel)));
}

TEST(SafeLimit, ALightLoadMayBeLeanAndAHeavyOneMayNot) {
  const SafeLimit safe;
  EXPECT_FALSE(safe.at(0.79));
  EXPECT_DOUBLE_EQ(safe.at(0.80)->value, 1.0);
  EXPECT_DOUBLE_EQ(safe.at(0.85)->value, 0.96);  // half way from 1.00 to 0.92
  EXPECT_DOUBLE_EQ(safe.at(0.90)->value, 0.92);
  EXPECT_DOUBLE_EQ(safe.at(1.00)->value, 0.92);
  EXPECT_NEAR(safe.at(1.05)->value, 0.885, 1e-12);  // half way from 0.92 to 0.85
  EXPECT_DOUBLE_EQ(safe.at(2.00)->value, 0.85);
}

TEST(SafeLimit, TheLimitNeverRisesWithTheLoad) {
  for (const SafeLimit& safe :
       {SafeLimit{}, SafeLimit{car::lambda(0.88), car::lambda(0.80), 0.95}}) {
    double before = 2;
    for (double load = safe.high_load; load < 2.5; load += 0.01) {
      EXPECT_LE(safe.at(load)->value, before + 1e-12) << load;
      before = safe.at(load)->value;
    }
  }
}

TEST(SafeLimit, ALimitNobodyWouldSetIsRefusedAndNamed) {
  EXPECT_TRUE(validate(SafeLimit{}));
  const auto lean = validate(SafeLimit{.leanest = car::lambda(1.1)});
  ASSERT_FALSE(lean);
  EXPECT_EQ(lean.error().line(), "leanest lambda at full load: came 1.1, expected 0.8 to 1");
  EXPECT_FALSE(
      validate(SafeLimit{.leanest = car::lambda(0.84)}));  // leaner with boost than without
  EXPECT_FALSE(validate(SafeLimit{.high_load = 0.3}));
  EXPECT_FALSE(validate(SafeLimit{.leanest = car::lambda(NAN)}));
}

car::Sheet sheet() {
  auto s = car::read_sheet(
      "[engine]\ndisplacement = \"5.0 l\"\ncylinders = 8\n[cam]\nintake_duration_050 = \"214 "
      "deg\"\n"
      "[injection]\ninjector_flow = \"24 lb/h at 43.5 psi\"\n[fuel]\nname = \"petrol\"\n"
      "[wishes]\nscale = \"afr 14.7\"\ncruise_mixture = 14.7\nfull_throttle_mixture = "
      "12.5\n",
      "test");
  EXPECT_TRUE(s) << s.error().line();
  return *s;
}

car::Grid grid() {
  return {car::Axis::even(car::AxisKind::engine_speed, 1000, 5000, 3),
          car::Axis::even(car::AxisKind::map_absolute, 50e3, 100e3, 2)};
}

TEST(Targets, AUnitWithoutTargetsAimsAtWhatTheOwnerWishes) {
  const auto aim = target_mixture({}, sheet(), grid());
  ASSERT_TRUE(aim);
  EXPECT_DOUBLE_EQ(aim->node(1, 0), 1.0);            // 14.7 on the 14.7 scale
  EXPECT_NEAR(aim->node(1, 1), 12.5 / 14.7, 1e-12);  // 100 kPa is beyond 88 % of 101.3
}

TEST(Targets, WhatTheUnitHoldsComesBeforeTheWish) {
  car::Calibration c;
  c.tables.emplace(car::TableWhat::lambda_target, car::Surface::flat(grid(), 0.88));
  EXPECT_DOUBLE_EQ(target_mixture(c, sheet(), grid())->node(0, 0), 0.88);
}

TEST(Targets, TargetsOverVacuumDoNotFitATableOverPressure) {
  car::Calibration c;
  c.tables.emplace(
      car::TableWhat::lambda_target,
      car::Surface::flat({grid().x, car::Axis::even(car::AxisKind::vacuum, 0, 50e3, 2)}, 0.88));
  const auto aim = target_mixture(c, sheet(), grid());
  ASSERT_FALSE(aim);
  EXPECT_EQ(aim.error().code, ErrorCode::bad_input);
}

}  // namespace
}  // namespace fuelwright::advice::safe_limit_test
