#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "advice/drive_plan/drive_plan.h"
#include "advice/drive_plan/internal/plan_car.h"

namespace fuelwright::advice::words_test {
namespace {

using ::testing::HasSubstr;
using ::testing::Not;

const Reader kMetric{UnitSystem::metric, *car::MixtureScale::in_afr(14.7)};
const Reader kUs{UnitSystem::us, *car::MixtureScale::in_afr(14.7)};

PlannedStep hold() {
  return {.step = car::hold_at(rpm(2400), 3, 12.0 * second),
          .feel = Feel::light,
          .pressure = absolute(45.0 * kPa),
          .begins = {20},
          .ends = {20},
          .time = 12.0 * second};
}
PlannedStep pull() {
  return {.step = car::sweep(rpm(2500), rpm(4200), 2),
          .feel = Feel::full,
          .pressure = absolute(97.0 * kPa),
          .begins = {12},
          .ends = {20},
          .time = 4.0 * second,
          .lift_at = car::lambda(0.90)};
}

// 20 m/s is 72 km/h and 44.7 mph.
TEST(PlanWords, AStepIsReadOutInTheDriversUnits) {
  EXPECT_EQ(
      says(hold(), kMetric, false),
      "Third gear: hold 2400 rpm (72 km/h) for 12 s, light foot; about 45 kPa is to be expected.");
  EXPECT_THAT(says(hold(), kUs, false), HasSubstr("(45 mph)"));
}

TEST(PlanWords, APullSaysWhereToLiftAndAtWhat) {
  const std::string line = says(pull(), kMetric, false);
  EXPECT_THAT(line, HasSubstr("lift at 4200 rpm"));
  EXPECT_THAT(line, HasSubstr("0.9"));
  EXPECT_THAT(line, HasSubstr("any guard"));
  EXPECT_THAT(line, HasSubstr("knock"));
}

TEST(PlanWords, EasingOffSaysWherePressureAndSpeedGo) {
  const PlannedStep s{.step = car::sweep(rpm(2000), rpm(1200), 3, absolute(32.0 * kPa)),
                      .feel = Feel::light,
                      .pressure = absolute(32.0 * kPa),
                      .begins = {15},
                      .ends = {9},
                      .time = 11.0 * second};
  EXPECT_EQ(says(s, kMetric, false),  // 9 m/s is 32 km/h
            "Third gear, from 2000 rpm: ease off, keep 32 kPa manifold pressure down to 1200 rpm "
            "(32 km/h), about 11 s, no brake; the helper calls more or less.");
}

TEST(PlanWords, ADynoIsToldItsLoadAndTheGearOnlyWhereItChanges) {
  PlannedStep s = hold();
  EXPECT_EQ(says(s, kMetric, true),
            "Third gear: hold 2400 rpm at 45 kPa manifold pressure for 12 s, light throttle.");
  s.other_gear = false;
  s.feel = Feel::moderate;
  for (const Reader& r : {kMetric, kUs}) {
    EXPECT_EQ(says(s, r, true),
              "Hold 2400 rpm at 45 kPa manifold pressure for 12 s, moderate throttle.");
  }
}

TEST(PlanWords, TheSentenceSaysMinutesShareAndBound) {
  DrivePlan p{.verdict = PlanVerdict::drive, .steps = {hold()}};
  p.course = {{Duration{}, 0.05, 0.31}, {9.0 * minute, 0.008, 0.951}};
  EXPECT_EQ(sentence(p),
            "9.0 minutes of driving: 95 % of your driving within 2 % (now 31 %); \xC2\xB1"
            "1.6 % on average over its use instead of \xC2\xB1"
            "9.8 %.");
}

TEST(PlanWords, SomebodyElseReadsTheLaptopAndTheLawHolds) {
  DrivePlan p{.verdict = PlanVerdict::drive, .steps = {hold()}};
  const auto all = [&] {
    std::string out;
    for (const auto& line : cautions(p, kMetric)) out += line + "\n";
    return out;
  };
  EXPECT_THAT(all(), HasSubstr("Two people"));
  EXPECT_THAT(all(), HasSubstr("local law"));
  EXPECT_THAT(all(), HasSubstr("90 km/h"));
  EXPECT_THAT(all(), Not(HasSubstr("closed road")));
  p.steps.push_back(pull());
  EXPECT_THAT(all(), HasSubstr("closed road"));
  p.options.dyno = true;
  EXPECT_THAT(all(), HasSubstr("exhaust"));
  EXPECT_THAT(all(), HasSubstr("up to 72 km/h: within what the tyres are rated for"));  // 20 m/s
}

}  // namespace
}  // namespace fuelwright::advice::words_test
