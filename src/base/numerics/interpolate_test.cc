#include "base/numerics/interpolate.h"

#include <gtest/gtest.h>

#include <cmath>
#include <vector>

#include "base/contract.h"

namespace fuelwright::interpolate_test {
namespace {

const std::vector<double> kRpm = {800, 1600, 3200};
const std::vector<double> kVe = {0.60, 0.80, 0.90};

TEST(Interpolate, HalfWayBetweenTwoSpeedsLiesHalfWayBetweenTheirValues) {
  EXPECT_DOUBLE_EQ(interpolate(kRpm, kVe, 1200), 0.70);
  EXPECT_DOUBLE_EQ(interpolate(kRpm, kVe, 2400), 0.85);
}

TEST(Interpolate, EveryPointGivesItsOwnValue) {
  for (std::size_t i = 0; i < kRpm.size(); ++i)
    EXPECT_DOUBLE_EQ(interpolate(kRpm, kVe, kRpm[i]), kVe[i]);
}

TEST(Interpolate, OutsideTheAxisTheEdgeValueHolds) {
  EXPECT_DOUBLE_EQ(interpolate(kRpm, kVe, 0), 0.60);
  EXPECT_DOUBLE_EQ(interpolate(kRpm, kVe, 9000), 0.90);
  EXPECT_DOUBLE_EQ(interpolate(std::vector<double>{5.0}, std::vector<double>{7.0}, 100), 7.0);
}

TEST(Interpolate, WeightsOfABracketAreSharesThatAddUpToOne) {
  for (double x = -100; x < 5000; x += 37) {
    const Bracket b = bracket(kRpm, x);
    EXPECT_LE(b.i + 1, kRpm.size() - 1);
    EXPECT_GE(b.t, 0.0);
    EXPECT_LE(b.t, 1.0);
  }
}

TEST(Interpolate, AnAxisThatTurnsBackOrHoldsNoNumberIsNotIncreasing) {
  EXPECT_TRUE(strictly_increasing(kRpm));
  EXPECT_FALSE(strictly_increasing(std::vector<double>{1, 1}));
  EXPECT_FALSE(strictly_increasing(std::vector<double>{2, 1}));
  EXPECT_FALSE(strictly_increasing(std::vector<double>{1, NAN}));
  EXPECT_THROW((void)bracket(kRpm, NAN), Bug);
}

}  // namespace
}  // namespace fuelwright::interpolate_test
