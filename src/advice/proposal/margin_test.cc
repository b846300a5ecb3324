// The margin at high load: by hand, its limits, and a thousand invented engines.
#include <gtest/gtest.h>

#include <random>

#include "advice/map_estimate/posterior.h"
#include "advice/proposal/invented_estimate.h"
#include "advice/proposal/proposal.h"
#include "physics/ensemble/sample.h"

namespace fuelwright::advice::margin_test {
namespace {

using car::NodeMark;

constexpr std::size_t kFull = 17;  // 3000 rpm, 100 kPa
const car::Grid kGrid = invented_grid();
const ProposalOptions kSeaLevel{.ambient = absolute(100.0 * kPa)};

ProposedTable propose_with(const MapEstimate& e, double now, double aim,
                           const ProposalOptions& options) {
  const car::Surface table = car::Surface::flat(kGrid, now);
  const auto p = propose(e, &table, car::Surface::flat(kGrid, aim), options);
  EXPECT_TRUE(p) << p.error().line();
  return *p;
}
double full(double sd, double chance, double aim = 0.85, double limit = 0.92) {
  ProposalOptions o = kSeaLevel;
  o.lean_chance = chance;
  o.most_change = 0.5;
  o.unit.step = 1e-6;
  o.safe.leanest = car::lambda(limit);
  o.safe.leanest_boosted = car::lambda(std::min(limit, 0.85));
  return propose_with(invented_estimate(kGrid, 0.80, sd, NodeMark::prior_only), 0.80, aim, o)
      .surface.values[kFull];
}

// By hand: sd 6 %, aim 0.85, limit 0.92: 2.32635 0.06 = 0.13958; ln(0.92/0.85) = 0.07914; the
// difference 0.06044 raises 0.80 to 0.84985. z of 1 %: 2.32635 (any table of the normal
// distribution).
TEST(Margin, AFullThrottleKnownToSixPercentIsSixPercentRicher) {
  EXPECT_NEAR(full(0.06, 0.01), 0.84985, 2e-5);
}

TEST(Margin, AFullThrottleKnownWellNeedsNoMargin) {
  EXPECT_DOUBLE_EQ(full(0.02, 0.01), 0.80);  // 4.7 % of spread within 7.9 % of room
}

TEST(Margin, TheLessSureTheRicherAndTheLessRiskTheRicher) {
  double before = 0;
  for (double sd = 0.01; sd < 0.20; sd += 0.01) {
    EXPECT_GE(full(sd, 0.01), before) << sd;
    EXPECT_GE(full(sd, 0.001), full(sd, 0.01)) << sd;
    EXPECT_GE(full(sd, 0.01), full(sd, 0.05)) << sd;
    EXPECT_GE(full(sd, 0.01, 0.85, 0.88), full(sd, 0.01, 0.85, 0.92)) << sd;
    EXPECT_GE(full(sd, 0.01, 0.90), full(sd, 0.01, 0.85)) << sd;
    before = full(sd, 0.01);
  }
}

TEST(Margin, DrivingFullThrottleTakesTheMarginBack) {
  MapEstimate e = invented_estimate(kGrid, 0.80, 0.08, NodeMark::prior_only);
  const auto before = propose_with(e, 0.80, 0.85, kSeaLevel);
  EXPECT_GT(before.surface.values[kFull], 0.88);
  EXPECT_EQ(before.nodes[kFull].why, Why::margin);
  EXPECT_EQ(before.nodes[kFull].held, Held::margin);
  set_node(e, kFull, 0.80, 0.015, NodeMark::measured);
  const auto p = propose(e, &before.surface, car::Surface::flat(kGrid, 0.85), kSeaLevel);
  ASSERT_TRUE(p);
  // Leaner as far as it is proven: 0.80 e^(1.645 0.015) = 0.8200
  EXPECT_NEAR(p->surface.values[kFull], 0.820, 0.0011);
}

TEST(Margin, ATargetLeanerThanTheLimitIsMadeUpForAndNamed) {
  const auto p =
      propose_with(invented_estimate(kGrid, 0.80, 0.01, NodeMark::measured), 0.80, 1.0, kSeaLevel);
  EXPECT_EQ(p.lean_targets, 5);  // full throttle; at 80 kPa the limit is lambda 1 itself
  // 0.02326 + ln(1/0.92) = 0.10664: 0.80 e^0.10664 = 0.89003
  EXPECT_NEAR(p.surface.values[kFull], 0.891, 0.0006);
  EXPECT_LE(*p.nodes[kFull].lean_chance, 0.01);
}

TEST(Margin, TheChanceThatIsStatedIsTheOneThatWasAskedFor) {
  for (const double chance : {0.0005, 0.01, 0.05}) {
    ProposalOptions o = kSeaLevel;
    o.lean_chance = chance;
    o.unit.step = 1e-6;
    const auto p =
        propose_with(invented_estimate(kGrid, 0.80, 0.06, NodeMark::prior_only), 0.80, 0.88, o);
    EXPECT_NEAR(*p.nodes[kFull].lean_chance, chance, 1e-4 * chance + 1e-5);
    EXPECT_FALSE(p.nodes[0].lean_chance);  // light load has no such limit
    EXPECT_EQ(p.unsafe, 0);
  }
}

// 100,000 engines drawn from what is believed, every node with its own spread, and read as a sensor
// would: the share that is leaner than the limit at each node of high load is at most what was
// asked for, within four standard deviations of such a count.
TEST(Margin, OfAHundredThousandEnginesNoMoreThanOneInAHundredIsTooLean) {
  constexpr int kEngines = 100000;
  std::mt19937_64 random(20240611);
  MapEstimate e = invented_estimate(kGrid, 0.80, 0.05, NodeMark::prior_only);
  for (std::size_t i = 0; i < kGrid.size(); ++i) {
    const double u = static_cast<double>(random() % 1000) / 1000;
    set_node(e, i, 0.70 + 0.25 * u, 0.01 + 0.09 * static_cast<double>(random() % 1000) / 1000,
             i % 3 == 0 ? NodeMark::measured : NodeMark::prior_only);
  }
  int at_work = 0;
  for (const double chance : {0.01, 0.05}) {
    for (const double aim : {0.82, 0.88, 0.95}) {
      ProposalOptions o = kSeaLevel;
      o.lean_chance = chance;
      o.most_change = 0.5;
      o.unit.step = 1e-4;
      const auto p = propose_with(e, 0.85, aim, o);
      EXPECT_EQ(p.unsafe, 0);
      for (std::size_t i = 10; i < kGrid.size(); ++i) {  // 80 and 100 kPa
        const double limit = i < 15 ? 1.0 : 0.92;
        int lean = 0;
        const Eigen::VectorXd z =
            physics::normal_draws(kEngines, 1, 100 + static_cast<std::uint64_t>(i));
        for (int k = 0; k < kEngines; ++k) {
          const double truth = e.evidence.estimate[i] * std::exp(e.evidence.sd_log[i] * z[k]);
          lean += aim * truth / p.surface.values[i] > limit;
        }
        const double share = lean / static_cast<double>(kEngines);
        const double count_sd = std::sqrt(chance * (1 - chance) / kEngines);
        EXPECT_LE(share, chance + 4 * count_sd) << i << " aim " << aim;
        EXPECT_NEAR(share, *p.nodes[i].lean_chance,
                    4 * std::sqrt((share + 1e-5) / kEngines) + 1e-5);
        // Nor is it reached by being rich beyond need: where the margin is at work the chance is
        // used.
        if (p.nodes[i].why == Why::margin) {
          EXPECT_GE(share, 0.9 * chance - 4 * count_sd) << i << " aim " << aim;
          ++at_work;
        }
      }
    }
  }
  EXPECT_GE(at_work, 10);
}

}  // namespace
}  // namespace fuelwright::advice::margin_test
