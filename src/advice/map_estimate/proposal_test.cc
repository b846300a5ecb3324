#include "advice/map_estimate/proposal.h"

#include <gtest/gtest.h>

namespace fuelwright::advice {
namespace {

// Two nodes in speed, two in load (50 and 90 kPa), all known alike.
MapEstimate known(double ve, double sd, car::NodeMark mark) {
  MapEstimate e{.evidence = {car::TableWhat::ve,
                             {car::Axis::even(car::AxisKind::engine_speed, 1000, 2000, 2),
                              car::Axis::even(car::AxisKind::map_absolute, 50e3, 90e3, 2)},
                             std::vector<double>(4, ve),
                             std::vector<double>(4, sd),
                             std::vector<double>(4, 30.0),
                             std::vector<car::NodeMark>(4, mark)}};
  return e;
}

TEST(Proposal, AnEngineThatNeedsMoreFuelGetsItWhole) {
  const auto e = known(0.88, 0.05, car::NodeMark::inferred);
  const car::Surface now = car::Surface::flat(e.evidence.grid, 0.80);
  const auto p = propose(e, &now);
  for (const double v : p.surface.values) EXPECT_DOUBLE_EQ(v, 0.88);
  EXPECT_EQ(p.richer, 4);
}

TEST(Proposal, ALeanerMoveGoesOnlyAsFarAsItIsProven) {
  // ln(0.72/0.80) = -0.10536; + 1.645 * 0.02 = -0.07246; 0.80 e^-0.07246 = 0.74408 -> 0.745
  // (rounded rich), by hand
  const auto e = known(0.72, 0.02, car::NodeMark::measured);
  const car::Surface now = car::Surface::flat(e.evidence.grid, 0.80);
  const auto p = propose(e, &now);
  for (const double v : p.surface.values) EXPECT_DOUBLE_EQ(v, 0.745);
  EXPECT_EQ(p.held_back, 4);
}

TEST(Proposal, AnUnprovenLeanerMoveIsNotMade) {
  const auto e = known(0.76, 0.10, car::NodeMark::prior_only);
  const car::Surface now = car::Surface::flat(e.evidence.grid, 0.80);
  for (const double v : propose(e, &now).surface.values) EXPECT_DOUBLE_EQ(v, 0.80);
}

TEST(Proposal, FullThrottleNeverGoesLeanerWithoutBeingDriven) {
  const auto e = known(0.70, 0.03, car::NodeMark::inferred);
  const car::Surface now = car::Surface::flat(e.evidence.grid, 0.80);
  const auto p = propose(e, &now);
  EXPECT_LT(p.surface.node(0, 0), 0.80);         // 50 kPa: proven enough to move
  EXPECT_DOUBLE_EQ(p.surface.node(0, 1), 0.80);  // 90 kPa: inferred only
}

TEST(Proposal, ValuesStandInStepsOfTheUnitAndRoundToTheRichSide) {
  const auto e = known(0.80321, 0.01, car::NodeMark::measured);
  const car::Surface now = car::Surface::flat(e.evidence.grid, 0.80);
  for (const double v : propose(e, &now).surface.values) EXPECT_DOUBLE_EQ(v, 0.804);
}

TEST(Proposal, ANodeThatWantsTwiceTheFuelMovesByAQuarterAndIsNamed) {
  const auto e = known(1.60, 0.02, car::NodeMark::measured);
  const car::Surface now = car::Surface::flat(e.evidence.grid, 0.80);
  const auto p = propose(e, &now);
  for (const double v : p.surface.values) EXPECT_DOUBLE_EQ(v, 1.0);
  EXPECT_EQ(p.cut, 4);
  EXPECT_NE(p.reason.find("look for the cause first"), std::string::npos);
}

TEST(Proposal, WithoutATableTheEstimateIsTheFirstOne) {
  const auto e = known(0.65, 0.2, car::NodeMark::prior_only);
  for (const double v : propose(e, nullptr).surface.values) EXPECT_DOUBLE_EQ(v, 0.65);
}

}  // namespace
}  // namespace fuelwright::advice
