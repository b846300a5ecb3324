// Full throttle, step by step.
#include <gtest/gtest.h>

#include <Eigen/Cholesky>

#include "advice/map_estimate/posterior.h"
#include "advice/outlook/internal/test_car.h"
#include "advice/outlook/outlook.h"
#include "advice/proposal/invented_estimate.h"
#include "physics/ensemble/sample.h"

namespace fuelwright::advice::ladder_test {
namespace {

using car::NodeMark;

const car::Grid kGrid = test_grid();
const car::Surface kTable = car::Surface::flat(kGrid, 0.80);
const car::Surface kAim = car::Surface::flat(kGrid, 0.80);

Outlook look(const MapEstimate& e, const car::Surface& table = kTable) {
  const auto o = look_ahead({e, test_sheet(), table, kAim, physics::FamilyTest{}}, {});
  EXPECT_TRUE(o) << o.error().line();
  return *o;
}

TEST(Ladder, ItBeginsWhereAnEngineDoesNotLugAndEndsAtTheRevLimit) {
  const Ladder l = look(driven(kTable, row(1))).ladder;
  ASSERT_EQ(l.rungs.size(), 5u);  // 2000 to 6000; 1000 rpm is below 1500
  EXPECT_EQ(l.rungs.front().speed.rpm, 2000);
  EXPECT_EQ(l.rungs.back().speed.rpm, 6000);
  EXPECT_EQ(l.row, kFullRow);
  EXPECT_EQ(*l.light_row, 1u);
}

TEST(Ladder, TheNextStepIsTheLowestOneThatWasNotDriven) {
  const auto with = [](std::size_t last) {
    return look(driven(kTable, both(row(1), row(kFullRow, 1, last)))).ladder;
  };
  EXPECT_EQ(*look(driven(kTable, row(1))).ladder.next, 0u);
  EXPECT_EQ(*with(1).next, 1u);
  EXPECT_EQ(*with(3).next, 3u);
  EXPECT_FALSE(with(5).next);
  // A step left out below is the next one, whatever was driven above.
  const auto gap =
      look(driven(kTable, both(row(1), both(row(kFullRow, 1, 1), row(kFullRow, 3, 3)))));
  EXPECT_EQ(gap.ladder.rungs[*gap.ladder.next].speed.rpm, 3000);
}

TEST(Ladder, OnlyTheNextStepMayBeTried) {
  const Ladder l = look(driven(kTable, both(row(1), row(kFullRow, 1, 2)))).ladder;
  for (std::size_t k = 0; k < l.rungs.size(); ++k) EXPECT_EQ(l.rungs[k].may_try, k == *l.next) << k;
  EXPECT_EQ(l.rungs[*l.next + 1].step, Step::later);
}

TEST(Ladder, LightLoadAtItsSpeedComesBeforeFullThrottle) {
  // An invented estimate in which all else is known well.
  MapEstimate e = invented_estimate(kGrid, 0.80, 0.01, NodeMark::inferred);
  for (std::size_t iy = 0; iy < 3; ++iy) e.evidence.mark[6 * iy + 1] = NodeMark::prior_only;
  const Ladder l = look(e).ladder;
  EXPECT_EQ(*l.next, 0u);
  EXPECT_FALSE(l.rungs[0].light_load_known);
  EXPECT_FALSE(l.rungs[0].may_try);
  EXPECT_EQ(l.light_missing, std::vector<std::size_t>{1});
  e.evidence.mark[6 * 1 + 1] = NodeMark::measured;
  EXPECT_TRUE(look(e).ladder.rungs[0].may_try);
}

TEST(Ladder, LiftingComesBeforeHarmAndNotAtTheFirstFlicker) {
  const Outlook o = look(driven(kTable, row(1)));
  for (const Rung& r : o.ladder.rungs) {
    ASSERT_TRUE(r.lift_at);
    const NodeOutlook& n = o.nodes[r.node];
    EXPECT_LE(*r.lift_at, *n.limit);
    EXPECT_TRUE(*r.lift_at == *n.limit || r.lift_at->value >= 1.03 * n.mixture->middle.value);
  }
}

// By hand: two nodes of variance 0.01 and covariance 0.008; the lower one driven to 1.5 % leaves
// 0.01 - 0.008^2/(0.01 + 0.000225) = 0.00374083 and the discrepancy.
TEST(Ladder, WhatTheStepBelowWillTeachIsKnownBeforehand) {
  MapEstimate e = invented_estimate(kGrid, 0.80, 0.01, NodeMark::inferred);
  const Eigen::Index a = 6 * kFullRow + 1, b = a + 1;
  e.covariance(a, a) = e.covariance(b, b) = 0.01;
  e.covariance(a, b) = e.covariance(b, a) = 0.008;
  for (const Eigen::Index i : {a, b})
    e.evidence.sd_log[static_cast<std::size_t>(i)] = std::sqrt(0.0101);
  const Ladder l = look(e).ladder;
  EXPECT_NEAR(l.rungs[1].half_width, 1.959964 * std::sqrt(0.0101), 1e-9);
  EXPECT_NEAR(l.rungs[1].half_width_then, 1.959964 * std::sqrt(0.00374083 + 0.0001), 1e-7);
}

// The same through the algebra of the estimate (estimate.4), with one pull at each step below.
TEST(Ladder, TheForecastOfAStepIsWhatTheEstimateWillSayOnceTheStepsBelowAreDriven) {
  const MapEstimate e = driven(kTable, row(1));
  const Rung r = look(e).ladder.rungs[3];
  Information pulls(30);
  for (const std::size_t i : row(kFullRow, 1, 3)) {
    const Entry at{static_cast<int>(i), 1.0};
    pulls.add({&at, 1}, 0, 1 / (0.015 * 0.015));
  }
  const Posterior then = posterior(e.covariance, pulls);
  const auto k = static_cast<Eigen::Index>(r.node);
  const double floor2 = std::pow(e.evidence.sd_log[r.node], 2) - e.covariance(k, k);
  EXPECT_NEAR(r.half_width_then, 1.959964 * std::sqrt(then.covariance(k, k) + floor2), 1e-9);
  EXPECT_LT(r.half_width_then, 0.9 * r.half_width);
}

// Half a minute at each step is better than pulls: what was said beforehand is kept with room.
TEST(Ladder, OnceTheStepsBelowAreDrivenAStepIsKnownAtLeastAsWellAsWasSaid) {
  const Rung was = look(driven(kTable, row(1))).ladder.rungs[3];
  const Rung is = look(driven(kTable, both(row(1), row(kFullRow, 1, 3)))).ladder.rungs[3];
  EXPECT_LE(is.half_width, was.half_width_then);
  EXPECT_GE(is.half_width, 0.7 * was.half_width_then);
}

TEST(Ladder, LightLoadAtEverySpeedNarrowsFullThrottle) {
  const Outlook o = look(driven(kTable, row(1, 0, 1)));
  EXPECT_FALSE(o.ladder.light_missing.empty());
  EXPECT_LT(o.ladder.with_light_load, o.ladder.undriven_half_width);
}

// 150 engines drawn from the prior, each driven at light load and up the ladder to 4000 rpm; the
// step at 5000 rpm is then looked at: 95 of 100 true mixtures lie in its interval (four standard
// deviations of such a count: 7 %), and the error is what the interval says.
TEST(Ladder, ClimbedOnEnginesOfThePriorItsIntervalsHold) {
  constexpr int kEngines = 150;
  const Prior prior = table_as_found_prior();
  const Eigen::MatrixXd K = covariance(prior, kGrid);
  const Eigen::MatrixXd L = Eigen::LLT<Eigen::MatrixXd>(K).matrixL();
  const auto n = static_cast<int>(kGrid.size());
  const Eigen::MatrixXd z = physics::normal_draws(kEngines, n, 11);
  int inside = 0;
  double squares = 0;
  for (int k = 0; k < kEngines; ++k) {
    const Eigen::VectorXd delta = L * z.row(k).transpose();
    const MapEstimate e =
        driven(kTable, both(row(1), row(kFullRow, 1, 3)), delta, static_cast<unsigned>(k), 10);
    const Outlook o = look(e);
    const std::size_t i = 6 * kFullRow + 4;
    const double ln = std::log(0.80) + delta[static_cast<Eigen::Index>(i)];
    ASSERT_TRUE(o.nodes[i].mixture);
    const double mixture = std::exp(ln);
    inside +=
        mixture >= o.nodes[i].mixture->rich.value && mixture <= o.nodes[i].mixture->lean.value;
    squares += std::pow((ln - std::log(o.nodes[i].mixture->middle.value)) / o.nodes[i].sd, 2);
  }
  EXPECT_GE(inside / 150.0, 0.95 - 0.07);
  EXPECT_NEAR(std::sqrt(squares / kEngines), 1.0, 0.2);
}

}  // namespace
}  // namespace fuelwright::advice::ladder_test
