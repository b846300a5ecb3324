// What a plan never does.
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>

#include "advice/drive_plan/drive_plan.h"
#include "advice/drive_plan/internal/candidates.h"
#include "advice/drive_plan/internal/plan_car.h"

namespace fuelwright::advice::plan_limits_test {
namespace {

const car::Sheet kSheet = plan_sheet();
const MapEstimate kNothing = nothing_known(kSheet);

std::vector<PlannedStep> all_candidates(const PlanInput& in, const PlanOptions& o) {
  std::vector<PlannedStep> out;
  for (const auto& c : internal::candidates_of(in, o).all) out.push_back(c.planned);
  return out;
}
bool any(const std::vector<PlannedStep>& steps, Feel feel) {
  return std::ranges::any_of(steps, [&](const PlannedStep& s) { return s.feel == feel; });
}
std::string left_out(const PlanInput& in, const PlanOptions& o = {}) {
  std::string out;
  for (const auto& line : internal::candidates_of(in, o).left_out) out += line + "\n";
  return out;
}

TEST(PlanLimits, NoStepIsFasterThanTheRoadAllows) {
  const Outlook fine = all_fine(kNothing, kSheet);
  for (const double limit : {14.0, 20.0, 27.0, 36.0}) {
    PlanOptions o{.top_speed = {limit}};
    const auto steps = all_candidates({.estimate = kNothing, .sheet = kSheet, .outlook = &fine}, o);
    EXPECT_GT(steps.size(), 20U) << limit;
    for (const PlannedStep& s : steps) {
      EXPECT_LE(s.begins.si, limit);
      EXPECT_LE(s.ends.si, limit);
    }
  }
}

TEST(PlanLimits, NoStepIsBeyondTheRevLimitOrLugs) {
  const Outlook fine = all_fine(kNothing, kSheet);
  for (const PlannedStep& s : all_candidates(
           {.estimate = kNothing, .sheet = kSheet, .outlook = &fine}, {.top_speed = {60}})) {
    if (s.feel == Feel::idle) continue;
    EXPECT_LE(std::max(s.step.from.rpm, s.step.until.rpm), 6500);
    EXPECT_GE(s.step.from.rpm, 1100);
  }
}

TEST(PlanLimits, NothingAtHighLoadBeforeItsMixtureIsPredicted) {
  const PlanInput in{.estimate = kNothing, .sheet = kSheet};
  const auto steps = all_candidates(in, {});
  EXPECT_FALSE(any(steps, Feel::full));
  EXPECT_FALSE(any(steps, Feel::high));
  EXPECT_NE(left_out(in).find("nothing predicts"), std::string::npos);
}

TEST(PlanLimits, WhatTheOutlookAllowsIsPlannedAsALadderFromItsLowestStep) {
  const Outlook fine = all_fine(kNothing, kSheet);
  const auto all =
      internal::candidates_of({.estimate = kNothing, .sheet = kSheet, .outlook = &fine}, {}).all;
  int before = -1;
  double speed = 0;
  int rungs = 0;
  for (std::size_t i = 0; i < all.size(); ++i) {
    if (all[i].planned.feel != Feel::full) continue;
    EXPECT_EQ(all[i].after, before);
    EXPECT_GT(all[i].planned.step.until.rpm, speed);
    EXPECT_FALSE(all[i].planned.step.map);
    EXPECT_TRUE(all[i].planned.lift_at);
    EXPECT_LE(all[i].planned.time.si, 10);
    before = static_cast<int>(i);
    speed = all[i].planned.step.until.rpm;
    ++rungs;
  }
  EXPECT_GE(rungs, 2);
}

// At light foot the road takes the speed away: a load that no speed can be held at.
TEST(PlanLimits, LoadsBelowThoseThatAreHeldAreReachedByEasingOff) {
  const OnRoad road(kSheet, nullptr);
  int eases = 0;
  for (const PlannedStep& s : all_candidates({.estimate = kNothing, .sheet = kSheet}, {})) {
    if (s.step.kind != car::PlanStepKind::sweep || !(s.step.until < s.step.from)) continue;
    ++eases;
    EXPECT_EQ(s.feel, Feel::light);
    EXPECT_LT(s.ends, s.begins);
    const auto held = road.pressure_of_hold(s.step.from, s.step.gear, 0);
    ASSERT_TRUE(held);
    EXPECT_LT(s.pressure.from_zero.si, held->from_zero.si);
  }
  EXPECT_GE(eases, 5);  // several, so that the checks above judge something
}

TEST(PlanLimits, AStopFindingForbidsHighLoadWhateverThePrediction) {
  const Outlook fine = all_fine(kNothing, kSheet);
  const PlanInput in{.estimate = kNothing, .sheet = kSheet, .outlook = &fine, .stop_finding = true};
  for (const bool dyno : {false, true}) {
    const auto steps = all_candidates(in, {.dyno = dyno});
    EXPECT_FALSE(any(steps, Feel::full));
    EXPECT_FALSE(any(steps, Feel::high));
  }
  EXPECT_NE(left_out(in).find("says stop"), std::string::npos);
}

TEST(PlanLimits, APlaceThatIsNotToBeTriedIsNotInAnyStep) {
  Outlook o = all_fine(kNothing, kSheet);
  for (NodeOutlook& n : o.nodes) n.go = Go::not_yet;
  o.ladder.rungs[0].may_try = false;
  const PlanInput in{.estimate = kNothing, .sheet = kSheet, .outlook = &o};
  const auto steps = all_candidates(in, {});
  EXPECT_FALSE(any(steps, Feel::full));
  EXPECT_FALSE(any(steps, Feel::high));
  EXPECT_TRUE(any(steps, Feel::light));
  EXPECT_NE(left_out(in).find("not to be tried yet"), std::string::npos);
}

TEST(PlanLimits, AFurtherStepOfTheLadderNeedsMoreThanCare) {
  Outlook o = all_fine(kNothing, kSheet);
  for (NodeOutlook& n : o.nodes) n.go = Go::with_care;
  const auto steps = all_candidates({.estimate = kNothing, .sheet = kSheet, .outlook = &o}, {});
  EXPECT_EQ(std::ranges::count(steps, Feel::full, &PlannedStep::feel), 1);
}

TEST(PlanLimits, PullsAreDrivenLastAndInTheirOrder) {
  const Outlook fine = all_fine(kNothing, kSheet);
  std::vector<car::OperatingPoint> use;
  for (double n = 1500; n <= 5500; n += 250) {
    use.push_back({.speed = rpm(n), .map = absolute(98.0 * kPa), .ambient = absolute(100.0 * kPa)});
  }
  const auto p = plan_drive({.estimate = kNothing,
                             .sheet = kSheet,
                             .use = Use::of_points(plan_grid(), use, "full throttle"),
                             .outlook = &fine},
                            {.top_speed = {36}});
  ASSERT_TRUE(p);
  double speed = 0;
  for (const PlannedStep& s : p->steps) {
    if (s.feel != Feel::full) {
      EXPECT_EQ(speed, 0);
      continue;
    }
    EXPECT_GT(s.step.until.rpm, speed);
    speed = s.step.until.rpm;
  }
  EXPECT_GT(speed, 0);
}

TEST(PlanLimits, CoastingTeachesOnlyWhereTheUnitGivesFuelMeanwhile) {
  PlanInput in{.estimate = kNothing, .sheet = kSheet};
  EXPECT_FALSE(any(all_candidates(in, {}), Feel::overrun));
  in.overrun_cut = false;
  EXPECT_TRUE(any(all_candidates(in, {}), Feel::overrun));
}

TEST(PlanLimits, AnIdleWithMuchOverlapIsNotMeasuredByMixture) {
  const car::Sheet big = plan_sheet("244 deg");
  const MapEstimate e = nothing_known(big);
  const PlanInput in{.estimate = e, .sheet = big};
  EXPECT_FALSE(any(all_candidates(in, {}), Feel::idle));
  EXPECT_NE(left_out(in).find("idle"), std::string::npos);
  EXPECT_TRUE(any(all_candidates({.estimate = kNothing, .sheet = kSheet}, {}), Feel::idle));
}

// 2.0 l, 1200 kg, 3000 rpm in fourth (0.95 x 4.0): 24.8 m/s, where a road asks for 378 N (drag
// 0.32 x 2.0 m2 and rolling 0.012) and rollers for 141 N.
TEST(PlanLimits, ADynoHoldsLoadsBelowAndAboveThoseOfTheRoad) {
  const Outlook fine = all_fine(kNothing, kSheet);
  const PlanInput in{.estimate = kNothing, .sheet = kSheet, .outlook = &fine};
  const PlanOptions o{.top_speed = {45}, .dyno = true};
  const OnRoad road(kSheet, nullptr);
  const auto by_road = road.pressure_of_hold(rpm(3000), 4, 0);
  ASSERT_TRUE(by_road);
  const Torque rollers{141 * 0.30 / (0.95 * 4.0 * 0.92)};
  const auto turning = road.pressure_for(rpm(3000), rollers);
  ASSERT_TRUE(turning);
  double least = 1e9, most = 0;
  for (const PlannedStep& s : all_candidates(in, o)) {
    if (s.step.kind != car::PlanStepKind::hold || s.step.from != rpm(3000)) continue;
    EXPECT_EQ(s.step.gear, 4);  // direct, within 45 m/s
    const double pa = s.step.map->from_zero.si;
    EXPECT_NEAR(std::fmod(pa, 1000), 0, 1e-6);   // as it is read out
    EXPECT_GT(pa, 1.1 * turning->from_zero.si);  // a brake cannot push
    least = std::min(least, pa);
    most = std::max(most, pa);
  }
  EXPECT_LT(least, 0.95 * by_road->from_zero.si);
  EXPECT_GT(most, 1.8 * by_road->from_zero.si);
}

TEST(PlanLimits, NoWheelTurnsFasterOnADynoThanIsAllowed) {
  const Outlook fine = all_fine(kNothing, kSheet);
  for (const double limit : {15.0, 25.0, 45.0}) {
    double fastest_rpm = 0;
    for (const PlannedStep& s :
         all_candidates({.estimate = kNothing, .sheet = kSheet, .outlook = &fine},
                        {.top_speed = {limit}, .dyno = true})) {
      EXPECT_LE(std::max(s.begins.si, s.ends.si), limit);
      fastest_rpm = std::max(fastest_rpm, s.step.from.rpm);
    }
    EXPECT_GE(fastest_rpm, limit > 20 ? 5000 : 4500) << limit;  // in a lower gear
  }
}

TEST(PlanLimits, ADynoHoldsAnyLoadWithoutARoad) {
  const auto p = plan_drive({.estimate = kNothing, .sheet = kSheet}, {.dyno = true});
  ASSERT_TRUE(p);
  ASSERT_EQ(p->verdict, PlanVerdict::drive);
  for (const PlannedStep& s : p->steps) {
    if (s.step.kind != car::PlanStepKind::hold) continue;
    ASSERT_TRUE(s.step.map);  // a dyno that holds a load must be told which
    EXPECT_EQ(s.step.map->from_zero.si, s.pressure.from_zero.si);
  }
  EXPECT_EQ(p->plan().steps.size(), p->steps.size());
  for (std::size_t i = 1; i < p->steps.size(); ++i) {
    const bool rolling = p->steps[i - 1].feel != Feel::idle && p->steps[i].feel != Feel::idle;
    if (rolling) {
      EXPECT_EQ(p->steps[i].other_gear, p->steps[i].step.gear != p->steps[i - 1].step.gear);
    }
  }
  const auto road = plan_drive({.estimate = kNothing, .sheet = kSheet}, {});
  EXPECT_LT(p->then().sd, 1.3 * road->then().sd);
}

}  // namespace
}  // namespace fuelwright::advice::plan_limits_test
