#include "advice/proposal/proposal.h"

#include <gtest/gtest.h>

#include "advice/proposal/invented_estimate.h"

namespace fuelwright::advice::proposal_test {
namespace {

using car::NodeMark;

// Node 0: 1000 rpm, 40 kPa (light load). Node 17: 3000 rpm, 100 kPa (full throttle).
constexpr std::size_t kLight = 0;
constexpr std::size_t kFull = 17;
const car::Grid kGrid = invented_grid();
const car::Surface kNow = car::Surface::flat(kGrid, 0.80);
const car::Surface kAim = car::Surface::flat(kGrid, 0.85);
const ProposalOptions kSeaLevel{.ambient = absolute(100.0 * kPa)};

ProposedTable propose_all(double ve, double sd, NodeMark mark, double prior_sd = 0.20,
                          const ProposalOptions& options = kSeaLevel) {
  const auto p = propose(invented_estimate(kGrid, ve, sd, mark, prior_sd), &kNow, kAim, options);
  EXPECT_TRUE(p) << p.error().line();
  return *p;
}

TEST(Proposal, AnEngineThatNeedsMoreFuelGetsItWhole) {
  const auto p = propose_all(0.88, 0.02, NodeMark::inferred);
  for (const double v : p.surface.values) EXPECT_DOUBLE_EQ(v, 0.88);
  EXPECT_EQ(p.richer, 20);
  EXPECT_EQ(p.nodes[kLight].why, Why::richer);
}

TEST(Proposal, ALeanerMoveGoesOnlyAsFarAsItIsProven) {
  // ln(0.72/0.80) = -0.10536; + 1.645 * 0.02 = -0.07246; 0.80 e^-0.07246 = 0.74408 -> 0.745
  // (rounded rich), by hand
  const auto p = propose_all(0.72, 0.02, NodeMark::measured);
  for (const double v : p.surface.values) EXPECT_DOUBLE_EQ(v, 0.745);
  EXPECT_EQ(p.held_back, 20);
  EXPECT_EQ(p.nodes[kLight].held, Held::not_proven);
}

TEST(Proposal, AnUnprovenLeanerMoveIsNotMade) {
  const auto p = propose_all(0.76, 0.035, NodeMark::inferred);  // 5.1 % wanted, 5.8 % needed
  EXPECT_DOUBLE_EQ(p.surface.values[kLight], 0.80);
  EXPECT_EQ(p.nodes[kLight].why, Why::unchanged);
}

TEST(Proposal, FullThrottleNeverGoesLeanerWithoutBeingDriven) {
  const auto p = propose_all(0.70, 0.03, NodeMark::inferred);
  EXPECT_LT(p.surface.values[kLight], 0.80);
  EXPECT_DOUBLE_EQ(p.surface.values[kFull], 0.80);
  EXPECT_EQ(p.nodes[kFull].held, Held::not_driven);
}

TEST(Proposal, WhereLittleWasLearnedAChangeShrinksAndWhereNothingWasItIsNone) {
  // Variance 0.5 sd^2 of prior 0.05^2; light load, wanted ln(0.88/0.80) = 0.09531.
  // sd 0.05: learned 0.5, rho 0.5/0.75 = 2/3, 0.80 e^(0.06354) = 0.85248 -> 0.853, by hand
  const auto half = propose_all(0.88, 0.05, NodeMark::prior_only, 0.05);
  EXPECT_DOUBLE_EQ(half.surface.values[kLight], 0.853);
  EXPECT_EQ(half.nodes[kLight].held, Held::thin);
  const auto nothing = propose_all(0.88, 0.05 * std::sqrt(2.0), NodeMark::prior_only, 0.05);
  EXPECT_DOUBLE_EQ(nothing.surface.values[kLight], 0.80);
  // A node that was driven itself moves whole, however sharp the prior was.
  const auto driven = propose_all(0.88, 0.02, NodeMark::measured, 0.016);
  EXPECT_DOUBLE_EQ(driven.surface.values[kLight], 0.88);
}

TEST(Proposal, TheLessIsKnownTheLessALightNodeMoves) {
  double before_rich = 1, before_lean = 0;
  for (double sd = 0.01; sd < 0.20; sd += 0.005) {
    const double rich = propose_all(0.88, sd, NodeMark::prior_only, 0.15).surface.values[kLight];
    const double lean = propose_all(0.72, sd, NodeMark::prior_only, 0.15).surface.values[kLight];
    EXPECT_LE(rich, before_rich) << sd;
    EXPECT_GE(lean, before_lean) << sd;
    EXPECT_GE(rich, 0.80);
    EXPECT_LE(lean, 0.80);
    before_rich = rich;
    before_lean = lean;
  }
}

TEST(Proposal, ValuesStandInStepsOfTheUnitAndRoundToTheRichSide) {
  const auto p = propose_all(0.80321, 0.01, NodeMark::measured);
  for (const double v : p.surface.values) EXPECT_DOUBLE_EQ(v, 0.804);
  ProposalOptions coarse = kSeaLevel;
  coarse.unit.step = 0.005;
  const auto c = propose_all(0.80321, 0.01, NodeMark::measured, 0.2, coarse);
  for (const double v : c.surface.values) EXPECT_DOUBLE_EQ(v, 0.805);
}

TEST(Proposal, ANodeThatDoesNotMoveKeepsItsValueToTheLastBit) {
  const car::Surface odd = car::Surface::flat(kGrid, 0.8003217);
  const auto e = invented_estimate(kGrid, 0.79, 0.10, NodeMark::prior_only, 0.0708);
  const auto p = propose(e, &odd, car::Surface::flat(kGrid, 0.70), kSeaLevel);
  ASSERT_TRUE(p);
  EXPECT_EQ(p->surface, odd);
}

TEST(Proposal, ANodeThatWantsTwiceTheFuelMovesByAQuarterAndIsNamed) {
  const auto p = propose_all(1.60, 0.02, NodeMark::measured);
  for (const double v : p.surface.values) EXPECT_DOUBLE_EQ(v, 1.0);
  EXPECT_EQ(p.cut, 20);
  EXPECT_NE(reason(p).find("look for the cause first"), std::string::npos);
  // lambda would be 0.85 1.6/1.0 = 1.36 at full throttle: not safe yet, and it says so.
  EXPECT_EQ(p.unsafe, 10);
  EXPECT_GT(*p.nodes[kFull].lean_chance, 0.99);
}

TEST(Proposal, ACellCannotHoldMoreThanTheUnitCan) {
  ProposalOptions small = kSeaLevel;
  small.unit.highest = 0.8275;  // no whole step: the last one is 0.827
  const auto p = propose_all(0.88, 0.02, NodeMark::measured, 0.2, small);
  for (const double v : p.surface.values) EXPECT_DOUBLE_EQ(v, 0.827);
  EXPECT_EQ(p.nodes[kLight].held, Held::unit_range);
  small.unit.highest = 1.0;
  small.unit.lowest = 0.78;
  const auto low = propose_all(0.70, 0.01, NodeMark::measured, 0.2, small);
  for (const double v : low.surface.values) EXPECT_DOUBLE_EQ(v, 0.78);
}

TEST(Proposal, ATableLargerThanTheUnitHoldsIsRefused) {
  ProposalOptions small = kSeaLevel;
  small.unit.most_rows = 3;
  const auto p =
      propose(invented_estimate(kGrid, 0.8, 0.02, NodeMark::measured), &kNow, kAim, small);
  ASSERT_FALSE(p);
  EXPECT_EQ(p.error().line(),
            "table size: came 5 speeds x 4 loads, expected at most 64 x 3, which is what the unit "
            "holds");
}

TEST(Proposal, TheTableKeepsTheAxesItHasInTheUnit) {
  const car::Grid other{car::Axis::even(car::AxisKind::engine_speed, 1250, 4750, 8),
                        car::Axis::even(car::AxisKind::map_absolute, 45e3, 95e3, 3)};
  const car::Surface now = car::Surface::flat(other, 0.80);
  const auto p =
      propose(invented_estimate(kGrid, 0.88, 0.02, NodeMark::measured), &now, kAim, kSeaLevel);
  ASSERT_TRUE(p);
  EXPECT_EQ(p->surface.grid, other);
  for (const double v : p->surface.values) EXPECT_DOUBLE_EQ(v, 0.88);
}

TEST(Proposal, ProposingAgainWithoutDrivingChangesNothing) {
  MapEstimate e = invented_estimate(kGrid, 0.85, 0.06, NodeMark::prior_only, 0.10);
  set_node(e, 3, 0.83, 0.015, NodeMark::measured);
  set_node(e, kFull, 0.79, 0.02, NodeMark::measured);
  const auto first = propose(e, &kNow, kAim, kSeaLevel);
  ASSERT_TRUE(first);
  const auto second = propose(e, &first->surface, kAim, kSeaLevel);
  ASSERT_TRUE(second);
  // Only what was shrunk or bounded in the first may go on; nothing goes back.
  for (std::size_t i = 0; i < kGrid.size(); ++i) {
    if (first->nodes[i].held == Held::thin) continue;
    EXPECT_DOUBLE_EQ(second->surface.values[i], first->surface.values[i]) << i;
  }
}

TEST(Proposal, OutsideItsFamilyGuessesStay) {
  ProposalOptions strict = kSeaLevel;
  strict.may_extrapolate = false;
  MapEstimate e = invented_estimate(kGrid, 0.90, 0.03, NodeMark::prior_only);
  set_node(e, 3, 0.90, 0.015, NodeMark::measured);
  set_node(e, 4, 0.90, 0.015, NodeMark::inferred);
  const auto p = propose(e, &kNow, kAim, strict);
  ASSERT_TRUE(p);
  for (std::size_t i = 0; i < kGrid.size(); ++i) {
    const bool learned = i == 3 || i == 4;
    EXPECT_DOUBLE_EQ(p->surface.values[i], learned ? 0.90 : 0.80) << i;
    EXPECT_EQ(p->nodes[i].held, learned ? Held::no : Held::not_believed) << i;
  }
  EXPECT_FALSE(p->nodes[kFull].lean_chance);  // nothing is claimed there
}

TEST(Proposal, BeyondTheEstimatesAxesTheTableStaysAsItIs) {
  const car::Grid wider{car::Axis::even(car::AxisKind::engine_speed, 1000, 7000, 7), kGrid.y};
  const car::Surface now = car::Surface::flat(wider, 0.80);
  const auto p =
      propose(invented_estimate(kGrid, 0.90, 0.02, NodeMark::measured), &now, kAim, kSeaLevel);
  ASSERT_TRUE(p);
  EXPECT_DOUBLE_EQ(p->surface.node(4, 0), 0.90);
  EXPECT_DOUBLE_EQ(p->surface.node(5, 0), 0.80);
  EXPECT_DOUBLE_EQ(p->surface.node(6, 3), 0.80);
}

TEST(Proposal, WithoutATableTheEstimateIsTheFirstOneAndFullThrottleHasItsMargin) {
  const auto e = invented_estimate(kGrid, 0.65, 0.08, NodeMark::prior_only);
  const auto p = propose(e, nullptr, kAim, kSeaLevel);
  ASSERT_TRUE(p);
  EXPECT_TRUE(p->first);
  EXPECT_DOUBLE_EQ(p->surface.values[kLight], 0.65);
  // 2.32635 * 0.08 - ln(0.92/0.85) = 0.18611 - 0.07914 = 0.10697; 0.65 e^0.10697 = 0.72338 -> 0.724
  EXPECT_DOUBLE_EQ(p->surface.values[kFull], 0.724);
}

TEST(Proposal, OptionsOutsideTheirBoundsAreRefusedAndNamed) {
  const auto refused = [](auto change) {
    ProposalOptions o = kSeaLevel;
    change(o);
    return !propose(invented_estimate(kGrid, 0.8, 0.02, NodeMark::measured), &kNow, kAim, o);
  };
  EXPECT_TRUE(refused([](auto& o) { o.lean_chance = 0.2; }));
  EXPECT_TRUE(refused([](auto& o) { o.lean_chance = NAN; }));
  EXPECT_TRUE(refused([](auto& o) { o.lean_proof = 0.5; }));
  EXPECT_TRUE(refused([](auto& o) { o.enough_learned = 0; }));
  EXPECT_TRUE(refused([](auto& o) { o.most_change = 0.9; }));
  EXPECT_TRUE(refused([](auto& o) { o.unit.step = 0; }));
  EXPECT_TRUE(refused([](auto& o) { o.unit.lowest = 1, o.unit.highest = 0.5; }));
  EXPECT_TRUE(refused([](auto& o) { o.unit.highest = 9; }));
  EXPECT_TRUE(refused([](auto& o) { o.safe.leanest = car::lambda(1.2); }));
  EXPECT_FALSE(refused([](auto& o) { o.lean_chance = 0.05; }));
  const auto lean_aim = propose(invented_estimate(kGrid, 0.8, 0.02, NodeMark::measured), &kNow,
                                car::Surface::flat(kGrid, 14.7), kSeaLevel);
  ASSERT_FALSE(lean_aim);
  EXPECT_EQ(lean_aim.error().line(), "lambda_target: came 14.7, expected 0.5 to 2");
}

}  // namespace
}  // namespace fuelwright::advice::proposal_test
