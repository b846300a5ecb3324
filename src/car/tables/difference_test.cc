#include "car/tables/difference.h"

#include <gtest/gtest.h>

namespace fuelwright::car::difference_test {
namespace {

Surface table(AxisKind load = AxisKind::map_absolute) {
  const bool throttle = load == AxisKind::throttle;
  return Surface::flat({Axis::even(AxisKind::engine_speed, 1000, 3000, 3),
                        Axis::even(load, throttle ? 0.2 : 40e3, throttle ? 1 : 80e3, 2)},
                       0.50);
}

TEST(Difference, TheLargestRiseAndFallAreSharesAndSayWhere) {
  const Surface before = table();
  Surface after = before;
  after.node(0, 0) = 0.51;   // +2 %
  after.node(2, 1) = 0.55;   // +10 %
  after.node(1, 1) = 0.475;  // -5 %
  const TableDifference d = difference(TableWhat::ve, &before, &after);
  EXPECT_EQ(d.changed, 3U);
  EXPECT_EQ(d.largest_rise->ix, 2U);
  EXPECT_EQ(d.largest_rise->iy, 1U);
  EXPECT_NEAR(d.largest_rise->share(), 0.10, 1e-12);
  EXPECT_NEAR(d.largest_fall->share(), -0.05, 1e-12);
  EXPECT_TRUE(d.any());
  EXPECT_FALSE(difference(TableWhat::ve, &before, &before).any());
}

TEST(Difference, OtherAxesOfTheSameKindAreComparedAtTheNodesBefore) {
  const Surface before = table();
  const Surface after = Surface::flat({Axis::even(AxisKind::engine_speed, 500, 3500, 7),
                                       Axis::even(AxisKind::map_absolute, 40e3, 80e3, 5)},
                                      0.60);
  const TableDifference d = difference(TableWhat::ve, &before, &after);
  EXPECT_TRUE(d.other_axes);
  EXPECT_EQ(d.changed, 6U);
  EXPECT_NEAR(d.largest_rise->share(), 0.20, 1e-12);
}

TEST(Difference, ANewTableAndOtherKindsOfAxesAreSaidNotCompared) {
  const Surface map = table();
  const Surface throttle = table(AxisKind::throttle);
  EXPECT_TRUE(difference(TableWhat::ve, nullptr, &map).any());
  const TableDifference d = difference(TableWhat::ve, &map, &throttle);
  EXPECT_TRUE(d.other_axes);
  EXPECT_EQ(d.changed, 0U);
  Calibration a;
  Calibration b;
  a.tables.emplace(TableWhat::lambda_target, map);
  b.tables.emplace(TableWhat::lambda_target, map);
  EXPECT_TRUE(differences(a, b).empty());
  b.tables.emplace(TableWhat::ve, map);
  ASSERT_EQ(differences(a, b).size(), 1U);
  EXPECT_FALSE(differences(a, b)[0].before);
}

}  // namespace
}  // namespace fuelwright::car::difference_test
