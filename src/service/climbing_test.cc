// Steps of full throttle over several drives: predicted with a proposal, driven, judged. A virtual
// car gives the estimate something to stand on; the steps themselves are rows written by hand.
#include "service/climbing.h"

#include <fmt/format.h>
#include <gmock/gmock.h>

#include <nlohmann/json.hpp>

#include "service/report/text.h"
#include "service/test_job.h"

namespace fuelwright::service::climbing_test {
namespace {

using testing::HasSubstr;

constexpr const char* kSheet =
    "[engine]\ndisplacement = \"2.0 l\"\ncylinders = 4\n[cam]\nintake_duration_050 = \"205 deg\"\n"
    "[injection]\ninjector_flow = \"250 cc/min at 3 bar\"\n[fuel]\nname = \"E10\"\n"
    "[wishes]\nscale = \"afr 14.7\"\n";

class Climbing : public JobTest {
 protected:
  // Town driving, a proposal that says of one step of full throttle lambda 0.86, 0.83 to 0.89, and
  // accepted.
  void SetUp() override {
    JobTest::SetUp();
    start(kSheet, 81);
    ASSERT_TRUE(add(csv(table_found(), 810, 5), "town.csv"));
    ASSERT_TRUE(estimated());
    auto job = Job::open(job_, Access::write);
    ASSERT_TRUE(job);
    const auto open = job->proposal();
    ASSERT_TRUE(open) << open.error().line();
    const car::Grid& grid = open->proposal.calibration.find(car::TableWhat::ve)->grid;
    const std::size_t ix = grid.x.size() / 2;
    speed_ = grid.x[ix];
    pressure_ = grid.y[grid.y.size() - 1];
    ProposalIn in{open->proposal, "", open->recordings};
    in.details_json = nlohmann::json{{"ladder",
                                      {{{"node", grid.index(ix, grid.y.size() - 1)},
                                        {"rpm", speed_},
                                        {"rich", 0.83},
                                        {"middle", 0.86},
                                        {"lean", 0.89},
                                        {"sd", 0.015}}}}}
                          .dump();
    said_ = in;
    ASSERT_TRUE(job->save_proposal(in, {kKim.name, kKim.when, ""}));
    ASSERT_TRUE(job->accept_proposal({kKim.name, kKim.when, ""}));
  }

  struct How {
    double seconds = 5, coolant_degc = 88, correction = 0, aim = 0.86;
  };
  std::string pull(double off) const { return pull(off, How{}); }
  // Cruise, then full throttle that reads `off` times what the unit aims at.
  std::string pull(double off, const How& how) const {
    std::string rows = "Time (s),RPM,MAP (kPa),AFR,AFR target,Correction (%),Coolant (degC)\n";
    for (int i = 0; i < 1200; ++i) {
      const double t = 0.05 * i;
      const bool full = t >= 30 && t < 30 + how.seconds;
      const double aim = full ? how.aim : 1.0;
      rows += fmt::format("{:.2f},{:.0f},{:.1f},{:.3f},{:.3f},{:.1f},{:.2f}\n", t,
                          (full ? speed_ : 2000.0) + 6 * (i % 3),
                          full ? pressure_ / 1e3 - 0.1 * (i % 4) : 45.0 + 0.2 * (i % 5),
                          14.7 * aim * (full ? off : 1) * (1 + 0.001 * (i % 3)), 14.7 * aim,
                          full ? how.correction : 0.0, how.coolant_degc + 0.002 * i);
    }
    return rows;
  }
  std::vector<advice::RungCheck> checks() const {
    auto job = Job::open(job_, Access::read);
    const auto g = load_ground(*job, job_);
    EXPECT_TRUE(g) << g.error().line();
    return g->climbed;
  }

  double speed_ = 0, pressure_ = 0;
  std::optional<ProposalIn> said_;
};

TEST_F(Climbing, AStepThatReadsWhatWasPredictedIsSaidSoAndNothingStops) {
  ASSERT_TRUE(add(pull(1.0), "pull.csv"));
  const auto c = checks();
  ASSERT_EQ(c.size(), 1U);
  EXPECT_EQ(c[0].came, advice::Came::as_predicted);
  EXPECT_NEAR(c[0].read.value, 0.861, 0.02);  // the aim of the table of targets, near 0.86
  EXPECT_NEAR(c[0].speed.rpm, speed_, 1);
  EXPECT_THAT(says(c[0], {UnitSystem::metric, sheet_.wishes.scale.value}),
              HasSubstr("as predicted"));
}

TEST_F(Climbing, ALeanStepStopsTheClimbUntilItsCauseIsFound) {
  ASSERT_TRUE(add(pull(1.12), "pull.csv"));
  ASSERT_EQ(checks().size(), 1U);
  EXPECT_EQ(checks()[0].came, advice::Came::leaner);
  const auto e = estimated();
  ASSERT_TRUE(e) << e.error().line();
  ASSERT_TRUE(e->outlook && e->outlook->refuted);
  EXPECT_THAT(text(*e), HasSubstr("Stop climbing"));
  const auto p = plan({.job = job_, .minutes = 3});
  ASSERT_TRUE(p) << p.error().line();
  for (const auto& s : p->plan.steps) EXPECT_NE(s.feel, advice::Feel::full);
  EstimateRequest found{.job = job_, .who = kKim};
  found.cause_found = true;
  const auto after = estimate(found);
  ASSERT_TRUE(after) << after.error().line();
  EXPECT_FALSE(after->outlook->refuted);
  EXPECT_TRUE(checks().empty());
  EXPECT_THAT(show({job_, ShowWhat::journal})->journal.end()[-2].why, HasSubstr("cause"));
}

TEST_F(Climbing, ARichStepIsSaidAndForbidsNoFurtherStep) {
  ASSERT_TRUE(add(pull(0.90), "pull.csv"));
  const auto c = checks();
  ASSERT_EQ(c.size(), 1U);
  EXPECT_EQ(c[0].came, advice::Came::richer);
  EXPECT_THAT(says(c[0], {UnitSystem::metric, sheet_.wishes.scale.value}),
              HasSubstr("richer than predicted"));
}

// The mixture at which the unit's own correction of a tenth arrives would be 1.1 times as lean
// without it: as the table alone would give it.
TEST_F(Climbing, FuelThatTheUnitAddedByItselfDoesNotHideALeanStep) {
  ASSERT_TRUE(add(pull(1.0, How{.correction = 10}), "pull.csv"));
  const auto c = checks();
  ASSERT_EQ(c.size(), 1U);
  EXPECT_EQ(c[0].came, advice::Came::leaner);
  EXPECT_NEAR(c[0].read.value, 1.10 * 0.861, 0.025);
}

TEST_F(Climbing, AUnitThatAimsAtAnotherMixtureIsJudgedByWhatItAimsAt) {
  ASSERT_TRUE(add(pull(1.0, How{.aim = 0.80}), "pull.csv"));
  const auto c = checks();
  ASSERT_EQ(c.size(), 1U);
  EXPECT_EQ(c[0].came, advice::Came::as_predicted);
}

TEST_F(Climbing, AColdEngineJudgesNoStep) {
  ASSERT_TRUE(add(pull(1.12, How{.coolant_degc = 40}), "cold.csv"));
  EXPECT_TRUE(checks().empty());
}

TEST_F(Climbing, WhatWasPredictedIsKeptOnlyOfStepsNotYetDriven) {
  advice::Outlook o{.grid = said_->proposal.calibration.find(car::TableWhat::ve)->grid};
  o.nodes.resize(o.grid.size());
  for (const std::size_t node : {std::size_t{3}, std::size_t{4}, std::size_t{5}}) {
    o.nodes[node].mixture = {car::lambda(0.83), car::lambda(0.86), car::lambda(0.89)};
    o.nodes[node].go = node == 3 ? advice::Go::driven : advice::Go::fine;
    o.nodes[node].sd = 0.015;
    o.ladder.rungs.push_back({.speed = rpm(1000.0 * static_cast<double>(node)), .node = node});
  }
  o.nodes[5].mixture.reset();  // nothing was predicted there
  const auto kept = predicted_steps(o);
  ASSERT_EQ(kept.size(), 1U);
  EXPECT_EQ(kept[0]["node"], 4);
  EXPECT_EQ(kept[0]["rpm"], 4000.0);
  EXPECT_NEAR(kept[0]["lean"].get<double>(), 0.89, 1e-12);
}

TEST_F(Climbing, ADamagedPredictionIsSaidInOneLine) {
  auto job = Job::open(job_, Access::write);
  ASSERT_TRUE(job);
  ProposalIn in = *said_;
  in.proposal.parent = job->revision_in_force()->number;
  in.details_json = R"({"ladder": [{"node": 3}]})";
  ASSERT_TRUE(job->save_proposal(in, {kKim.name, kKim.when, ""}));
  ASSERT_TRUE(job->accept_proposal({kKim.name, kKim.when, ""}));
  ASSERT_TRUE(add(pull(1.0), "pull.csv"));
  const auto e = estimated();
  ASSERT_FALSE(e);
  EXPECT_EQ(e.error().code, ErrorCode::damaged);
  EXPECT_THAT(e.error().line(), HasSubstr("predicted steps"));
}

TEST_F(Climbing, AnInstantOfFullThrottleJudgesNothing) {
  ASSERT_TRUE(add(pull(1.12, How{.seconds = 0.7}), "tip_in.csv"));
  EXPECT_TRUE(checks().empty());
}

TEST_F(Climbing, ADriveWithAnotherRevisionIsNotJudgedByThisPrediction) {
  AddRequest before = adding(pull(1.12), "pull.csv");
  before.driven_with = 0;
  ASSERT_TRUE(add_recording(before));
  EXPECT_TRUE(checks().empty());
}

}  // namespace
}  // namespace fuelwright::service::climbing_test
