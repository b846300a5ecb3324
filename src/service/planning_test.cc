#include <gmock/gmock.h>

#include <nlohmann/json.hpp>

#include "car/plan/plan_file.h"
#include "service/api/json.h"
#include "service/report/text.h"
#include "test_job.h"

namespace fuelwright::service::planning_test {
namespace {

using ::testing::HasSubstr;

constexpr const char* kSheet =
    "[engine]\ndisplacement = \"2.0 l\"\ncylinders = 4\n[cam]\nintake_duration_050 = \"205 deg\"\n"
    "[injection]\ninjector_flow = \"250 cc/min at 3 bar\"\n[fuel]\nname = \"E10\"\n"
    "[[sensors.mixture]]\nname = \"collector\"\nscale = \"afr 14.7\"\nbank = 0\n"
    "[car]\nmass = \"1250 kg\"\n";

class Planning : public JobTest {
 protected:
  void SetUp() override {
    JobTest::SetUp();
    start(kSheet, 5);
  }
  PlanReply planned(PlanRequest request = {}) const {
    request.job = job_;
    const auto p = plan(request);
    EXPECT_TRUE(p) << (p ? "" : p.error().line());
    return p ? *p : PlanReply{};
  }
};

TEST_F(Planning, BeforeTheFirstDriveThePlanStaysAwayFromHighLoadAndSaysWhatItTook) {
  const PlanReply p = planned({.minutes = 3});
  ASSERT_EQ(p.plan.verdict, advice::PlanVerdict::drive);
  EXPECT_LE(p.plan.time().in(minute), 3);
  for (const auto& s : p.plan.steps) {
    EXPECT_NE(s.feel, advice::Feel::full);
    EXPECT_NE(s.feel, advice::Feel::high);
  }
  const std::string said = text(p);
  EXPECT_EQ(said.find(p.sentence), 0U);
  EXPECT_THAT(said, HasSubstr("no speed limit was stated"));
  EXPECT_THAT(said, HasSubstr("does not say gears"));
  EXPECT_THAT(said, HasSubstr("nothing has been driven yet"));
  EXPECT_THAT(said, HasSubstr("Two people"));
}

TEST_F(Planning, WhatWasPlannedIsDrivenAndTheNextPlanKnowsMore) {
  const PlanReply first = planned({.minutes = 3, .top_speed = Speed{30}});
  const auto back = car::read_plan(car::write_plan(first.plan.plan()), "plan.toml");
  ASSERT_TRUE(back) << back.error().line();
  vc::Truth truth = truth_;
  truth.vehicle.coolant_at_start = celsius(85);
  const auto drive = vc::drive_car(truth, sheet_, found_, {.task = *back, .seed = 3});
  ASSERT_TRUE(drive) << drive.error().line();
  ASSERT_TRUE(add(drive->recording));
  const PlanReply next = planned({.minutes = 3, .top_speed = Speed{30}});
  EXPECT_EQ(next.recordings, 1);
  EXPECT_LT(next.plan.now().sd, 0.6 * first.plan.now().sd);
  const auto again = planned({.minutes = 3, .top_speed = Speed{30}});
  EXPECT_EQ(text(next), text(again));
}

TEST_F(Planning, TheUseOfTheCarComesFromACycleIfOneIsGiven) {
  const PlanReply p = planned(
      {.minutes = 1, .cycle_csv = "time_s,speed_mps\n0,20\n60,20\n", .cycle_name = "motorway.csv"});
  EXPECT_THAT(p.plan.use, HasSubstr("motorway.csv"));
  const auto wrong = plan({.job = job_, .cycle_csv = "no\n", .cycle_name = "bad.csv"});
  ASSERT_FALSE(wrong);
  EXPECT_THAT(wrong.error().line(), HasSubstr("bad.csv"));
}

TEST_F(Planning, ARecordingThatIsNotThereAndANumberOutOfBoundsAreNamed) {
  const auto none = plan({.job = job_, .use = {7}});
  ASSERT_FALSE(none);
  EXPECT_EQ(none.error().code, ErrorCode::not_found);
  const auto long_one = plan({.job = job_, .minutes = 600});
  ASSERT_FALSE(long_one);
  EXPECT_EQ(long_one.error().code, ErrorCode::out_of_range);
}

TEST_F(Planning, JsonSaysTheSameAsTheText) {
  const PlanReply p = planned({.minutes = 2});
  const auto j = nlohmann::json::parse(json(p));
  EXPECT_EQ(j["sentence"], p.sentence);
  EXPECT_EQ(j["steps"].size(), p.steps.size());
  EXPECT_EQ(j["course"].size(), p.steps.size() + 1);
  EXPECT_NEAR(j["minutes"].get<double>(), p.plan.time().in(minute), 1e-12);
  EXPECT_EQ(j["verdict"], "drive");
}

}  // namespace
}  // namespace fuelwright::service::planning_test
