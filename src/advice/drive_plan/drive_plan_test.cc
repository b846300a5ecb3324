#include "advice/drive_plan/drive_plan.h"

#include <gtest/gtest.h>

#include <algorithm>

#include "advice/drive_plan/internal/plan_car.h"

namespace fuelwright::advice::drive_plan_test {
namespace {

const car::Sheet kSheet = plan_sheet();
const MapEstimate kNothing = nothing_known(kSheet);

DrivePlan planned(const PlanOptions& options = {}, const MapEstimate& e = kNothing,
                  const car::Sheet& sheet = kSheet) {
  auto p = plan_drive({.estimate = e, .sheet = sheet}, options);
  EXPECT_TRUE(p) << p.error().line();
  return *p;
}
PlanOptions minutes(double m) { return {.most = m * minute}; }

TEST(DrivePlan, MoreMinutesAreNeverWorseAndTheTimeIsKept) {
  double last_sd = 1, last_within = 0;
  for (const double m : {1.0, 2.0, 4.0, 8.0}) {
    const DrivePlan p = planned(minutes(m));
    ASSERT_EQ(p.verdict, PlanVerdict::drive);
    EXPECT_LE(p.time().in(minute), m);
    EXPECT_LE(p.then().sd, last_sd) << m;
    EXPECT_GE(p.then().within, last_within - 1e-12) << m;
    EXPECT_GE(p.then().sd, p.best.sd);
    last_sd = p.then().sd;
    last_within = p.then().within;
  }
  EXPECT_LT(last_sd, 0.015);  // before: 8 % and 6 %
}

TEST(DrivePlan, EachStepLeavesTheTableBetterKnownAndTakesItsTime) {
  const DrivePlan p = planned(minutes(5));
  ASSERT_EQ(p.course.size(), p.steps.size() + 1);
  Duration sum{};
  for (std::size_t i = 0; i < p.steps.size(); ++i) {
    sum = sum + p.steps[i].change_over + p.steps[i].time;
    EXPECT_LE(p.course[i + 1].sd, p.course[i].sd + 1e-12);
    EXPECT_NEAR(p.course[i + 1].after.si, sum.si, 1e-9);
    EXPECT_GT(p.steps[i].change_over.si, 0);
  }
}

TEST(DrivePlan, TheSameCarGetsTheSamePlan) {
  EXPECT_EQ(planned(minutes(3)).plan(), planned(minutes(3)).plan());
}

TEST(DrivePlan, WhatItPlansCanBeDriven) {
  const car::Plan plan = planned(minutes(5)).plan();
  EXPECT_TRUE(car::validate(plan).ok());
}

TEST(DrivePlan, LightLoadComesFirstAndMoreLoadLater) {
  const auto heavier = [](const PlannedStep& a, const PlannedStep& b) {
    const auto rank = [](const PlannedStep& s) {
      return s.feel == Feel::idle ? -1 : s.feel == Feel::light ? 0 : 1;
    };
    return rank(a) < rank(b);
  };
  const DrivePlan p = planned(minutes(6));
  EXPECT_TRUE(std::ranges::is_sorted(p.steps, heavier));
}

// Light load at high engine speed is the lever: a plan for a car that uses all speeds goes there.
TEST(DrivePlan, LightLoadIsTakenToHighEngineSpeed) {
  std::vector<car::OperatingPoint> use;
  for (double n = 1500; n <= 5500; n += 500) {
    for (double p = 35e3; p < 100e3; p += 15e3) {
      use.push_back(
          {.speed = rpm(n), .map = absolute(p * pascal), .ambient = absolute(100.0 * kPa)});
    }
  }
  auto p = plan_drive({.estimate = kNothing,
                       .sheet = kSheet,
                       .use = Use::of_points(plan_grid(), use, "everywhere")},
                      minutes(4));
  ASSERT_TRUE(p);
  double top = 0;
  for (const PlannedStep& s : p->steps) {
    if (s.feel == Feel::light) top = std::max({top, s.step.from.rpm, s.step.until.rpm});
  }
  EXPECT_GE(top, 0.6 * 6500);
}

TEST(DrivePlan, WhereTheCarIsUsedIsWhereThePlanGoes) {
  constexpr double kNear_rpm = 300;
  for (const double n : {1600.0, 4500.0}) {
    const car::OperatingPoint at{
        .speed = rpm(n), .map = absolute(45.0 * kPa), .ambient = absolute(100.0 * kPa)};
    auto p = plan_drive({.estimate = kNothing,
                         .sheet = kSheet,
                         .use = Use::of_points(plan_grid(), {&at, 1}, "one place")},
                        minutes(2));
    ASSERT_TRUE(p);
    EXPECT_TRUE(std::ranges::any_of(p->steps, [&](const PlannedStep& s) {
      const double top = std::max(s.step.from.rpm, s.step.until.rpm);
      return s.step.from.rpm <= n + kNear_rpm && top >= n - kNear_rpm &&
             std::abs(s.pressure.from_zero.si - 45e3) < 16e3;
    })) << n;
  }
}

TEST(DrivePlan, NoStepIsAskedForTwice) {
  const Outlook fine = all_fine(kNothing, kSheet);
  const car::OperatingPoint at{
      .speed = rpm(2000), .map = absolute(98.0 * kPa), .ambient = absolute(100.0 * kPa)};
  const auto p = plan_drive({.estimate = kNothing,
                             .sheet = kSheet,
                             .use = Use::of_points(plan_grid(), {&at, 1}, "full throttle"),
                             .outlook = &fine},
                            {.top_speed = {36}});
  ASSERT_TRUE(p);
  EXPECT_TRUE(
      std::ranges::any_of(p->steps, [](const PlannedStep& s) { return s.feel == Feel::full; }));
  for (std::size_t i = 0; i < p->steps.size(); ++i) {
    for (std::size_t k = 0; k < i; ++k) EXPECT_NE(p->steps[i].step, p->steps[k].step);
  }
}

// Everything known to half a percent, floor included: nothing is left that a drive could teach.
TEST(DrivePlan, WhenDrivingBringsNothingItSaysSo) {
  MapEstimate e = kNothing;
  e.covariance *= 1e-5;
  for (double& sd : e.evidence.sd_log) sd = 0.006;
  const DrivePlan p = planned({}, e);
  EXPECT_EQ(p.verdict, PlanVerdict::enough);
  EXPECT_TRUE(p.steps.empty());
  EXPECT_NE(sentence(p).find("More driving brings nothing"), std::string::npos);
}

TEST(DrivePlan, APlanEndsWhereTheRestBringsNothing) {
  const DrivePlan p = planned(minutes(60));
  EXPECT_TRUE(p.brings_little);
  EXPECT_LT(p.time().in(minute), 45);
  EXPECT_NE(sentence(p).find("After that more driving brings nothing"), std::string::npos);
}

TEST(DrivePlan, WhatTheOnlyInstrumentsLevelHidesNoPlanPromises) {
  PlanOptions o = minutes(8);
  o.shared_sd = 0.03;
  EXPECT_GE(planned(o).then().sd, 0.03);
  EXPECT_LT(planned(minutes(8)).then().sd, 0.02);
}

TEST(DrivePlan, ASheetWithoutGearingIsPlannedWithUsualOnesAndSaysSo) {
  const car::Sheet bare = plan_sheet("206 deg", false);
  const DrivePlan p = planned(minutes(2), nothing_known(bare), bare);
  EXPECT_EQ(p.verdict, PlanVerdict::drive);
  const auto says = [&](const char* what) {
    return std::ranges::any_of(
        p.assumed, [&](const std::string& line) { return line.find(what) != std::string::npos; });
  };
  EXPECT_TRUE(says("gears"));
  EXPECT_TRUE(says("nothing has been driven"));
  EXPECT_NE(p.use.find("assumed"), std::string::npos);
  EXPECT_FALSE(std::ranges::any_of(planned(minutes(2)).assumed, [](const std::string& line) {
    return line.find("gears") != std::string::npos;
  }));
}

TEST(DrivePlan, ATableOverThrottleIsRefusedInOneLine) {
  MapEstimate e = kNothing;
  e.evidence.grid.y = car::Axis::even(car::AxisKind::throttle, 0, 1, 8);
  const auto p = plan_drive({.estimate = e, .sheet = kSheet}, {});
  ASSERT_FALSE(p);
  EXPECT_EQ(p.error().code, ErrorCode::bad_input);
}

TEST(DrivePlan, OptionsOutsideTheirBoundsAreNamed) {
  const auto error = [](const PlanOptions& o) {
    const auto p = plan_drive({.estimate = kNothing, .sheet = kSheet}, o);
    return p ? std::string() : p.error().line();
  };
  EXPECT_NE(error(minutes(0.1)).find("minutes"), std::string::npos);
  EXPECT_NE(error({.top_speed = {200}}).find("top speed"), std::string::npos);
  EXPECT_NE(error({.grade = 0.2}).find("grade"), std::string::npos);
  EXPECT_EQ(error({}), "");
}

}  // namespace
}  // namespace fuelwright::advice::drive_plan_test
