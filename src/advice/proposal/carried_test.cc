#include "advice/proposal/carried.h"

#include <gtest/gtest.h>

#include "advice/proposal/invented_estimate.h"

namespace fuelwright::advice::carried_test {
namespace {

constexpr double kRounding = 1e-12;

TEST(Carried, OnItsOwnAxesAnEstimateIsItself) {
  MapEstimate e = invented_estimate(invented_grid(), 0.8, 0.03, car::NodeMark::inferred, 0.06);
  set_node(e, 7, 0.9, 0.01, car::NodeMark::measured);
  e.covariance(3, 7) = e.covariance(7, 3) = 1e-5;
  const auto c = Carried::onto(e, e.evidence.grid);
  ASSERT_TRUE(c);
  for (std::size_t i = 0; i < c->size(); ++i) {
    EXPECT_NEAR(std::exp(c->ln_value(i)), e.evidence.estimate[i], kRounding);
    EXPECT_NEAR(c->sd(i), e.evidence.sd_log[i], kRounding);
    EXPECT_EQ(c->mark(i), e.evidence.mark[i]);
    EXPECT_EQ(c->seconds(i), e.evidence.seconds[i]);
    EXPECT_TRUE(c->inside(i));
  }
  EXPECT_DOUBLE_EQ(c->covariance(3, 7), 1e-5);
  // learned: 1 - (0.5 0.03^2)/0.06^2 = 0.875
  EXPECT_NEAR(c->learned(0), 0.875, kRounding);
}

// Half way between two independent nodes of variance v the variance is v/2, by hand.
TEST(Carried, BetweenTwoNodesTheTableReadsTheirMeanAndHalfTheirVariance) {
  MapEstimate e = invented_estimate(invented_grid(), 0.8, 0.02, car::NodeMark::measured);
  set_node(e, 1, 0.9, 0.02, car::NodeMark::prior_only);
  const car::Grid between{*car::Axis::make(car::AxisKind::engine_speed, {1500}),
                          *car::Axis::make(car::AxisKind::map_absolute, {40e3})};
  const auto c = Carried::onto(e, between);
  ASSERT_TRUE(c);
  EXPECT_NEAR(std::exp(c->ln_value(0)), 0.85, kRounding);
  EXPECT_NEAR(c->covariance(0, 0), 0.25 * 0.02 * 0.02, kRounding);
  EXPECT_NEAR(c->sd(0), 0.02 * std::sqrt(0.75), kRounding);  // the discrepancy does not average
  EXPECT_EQ(c->mark(0), car::NodeMark::prior_only);          // the less sure of the two
}

TEST(Carried, BeyondTheEstimatesAxesNothingIsKnown) {
  const MapEstimate e = invented_estimate(invented_grid(), 0.8, 0.02, car::NodeMark::measured);
  const car::Grid wider{*car::Axis::make(car::AxisKind::engine_speed, {1000, 7000}),
                        *car::Axis::make(car::AxisKind::map_absolute, {40e3})};
  const auto c = Carried::onto(e, wider);
  ASSERT_TRUE(c);
  EXPECT_TRUE(c->inside(0));
  EXPECT_FALSE(c->inside(1));
  EXPECT_EQ(c->mark(1), car::NodeMark::prior_only);
  EXPECT_EQ(c->learned(1), 0);
  EXPECT_EQ(c->seconds(1), 0);
}

TEST(Carried, ATableOverVacuumIsAnotherThing) {
  const MapEstimate e = invented_estimate(invented_grid(), 0.8, 0.02, car::NodeMark::measured);
  const auto c =
      Carried::onto(e, {e.evidence.grid.x, car::Axis::even(car::AxisKind::vacuum, 0, 5e4, 2)});
  ASSERT_FALSE(c);
  EXPECT_EQ(c.error().code, ErrorCode::bad_input);
}

}  // namespace
}  // namespace fuelwright::advice::carried_test
