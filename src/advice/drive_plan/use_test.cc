#include "advice/drive_plan/use.h"

#include <gtest/gtest.h>

#include <numeric>

#include "advice/drive_plan/internal/plan_car.h"

namespace fuelwright::advice::use_test {
namespace {

const car::Sheet kSheet = plan_sheet();
const OnRoad kRoad(kSheet, nullptr);

double sum(const Use& use) {
  return std::accumulate(use.places.begin(), use.places.end(), 0.0,
                         [](double s, const Use::Place& p) { return s + p.weight; });
}
// Mean of an axis over the use.
double mean(const Use& use, bool speed) {
  const car::Grid g = plan_grid();
  double out = 0;
  for (const Use::Place& p : use.places) {
    for (std::size_t i = 0; i < static_cast<std::size_t>(p.shares.count); ++i) {
      const auto n = static_cast<std::size_t>(p.shares.node[i]);
      out += p.weight * p.shares.share[i] * (speed ? g.x[n % g.x.size()] : g.y[n / g.x.size()]);
    }
  }
  return out;
}

TEST(Use, WeightsAddUpToTheWholeTime) {
  const std::vector<double> v{0, 0, 1, 3, 6, 9, 12, 14, 15, 15, 15, 14, 12, 9, 5, 0};
  EXPECT_NEAR(sum(Use::of_speeds(kRoad, plan_grid(), v, "")), 1, 1e-12);
  const Use assumed = Use::assumed(kRoad, plan_grid(), {25});
  EXPECT_NEAR(sum(assumed), 1, 1e-12);
  EXPECT_NEAR(assumed.weights(plan_grid().size()).sum(), 1, 1e-12);
}

// 25 m/s steady in an easy driver's gear, fifth: 25 0.75 4.0/0.30 = 250 rad/s, 2387 rpm.
TEST(Use, ASteadySpeedIsOnePlaceInTheHighestGearByHand) {
  const std::vector<double> v(50, 25.0);
  const Use use = Use::of_speeds(kRoad, plan_grid(), v, "");
  ASSERT_EQ(use.places.size(), 1U);
  EXPECT_NEAR(mean(use, true), 2387.3, 1);
  EXPECT_NEAR(mean(use, false), kRoad.pressure_of_hold(rpm(2387.3), 5, 0)->from_zero.si, 50);
}

TEST(Use, BriskDrivingIsAtMoreLoadAndStandingAtIdle) {
  std::vector<double> easy, brisk;
  for (int i = 0; i <= 40; ++i) easy.push_back(0.5 * i), brisk.push_back(std::min(20.0, 2.0 * i));
  brisk.resize(11);
  EXPECT_GT(mean(Use::of_speeds(kRoad, plan_grid(), brisk, ""), false),
            mean(Use::of_speeds(kRoad, plan_grid(), easy, ""), false));
  const std::vector<double> standing(10, 0.0);
  EXPECT_NEAR(mean(Use::of_speeds(kRoad, plan_grid(), standing, ""), true), 850, 1);
}

TEST(Use, AnEstimatesOwnDrivingIsTheUseOfTheCar) {
  MapEstimate e = nothing_known(kSheet);
  EXPECT_FALSE(Use::of_estimate(e).known());
  e.seconds = 600;
  e.usage[5] = 3;
  e.usage[7] = 1;
  const Use use = Use::of_estimate(e);
  ASSERT_EQ(use.places.size(), 2U);
  EXPECT_DOUBLE_EQ(use.places[0].weight, 0.75);
  EXPECT_NE(use.says.find("10 minutes"), std::string::npos);
}

}  // namespace
}  // namespace fuelwright::advice::use_test
