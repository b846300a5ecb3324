// Checks of whole jobs: what is said first, what an estimate makes of it, and the guard's rules as
// data of the job. Virtual cars with plain air; seeds stated.
#include "service/checking.h"

#include <fmt/format.h>
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <nlohmann/json.hpp>
#include <sstream>

#include "service/api/json.h"
#include "service/report/text.h"
#include "service/test_job.h"

namespace fuelwright::service::checking_test {
namespace {

using advice::Grade;
using testing::HasSubstr;
using testing::Not;

constexpr const char* kSheet = R"(
[engine]
displacement = "2.0 l"
cylinders = 4
[cam]
intake_duration_050 = "205 deg"
[injection]
injector_flow = "250 cc/min at 3 bar"
[fuel]
name = "E10"
[wishes]
scale = "afr 14.7"
)";

constexpr const char* kLeanAlways = R"({"rule":"lean_under_load","limit":{"value":0.7,"unit":""},
      "while_above":{"value":60,"unit":"kPa"},"dwell":{"value":0,"unit":"s"}})";

// One column of a CSV, by its name without the unit, changed row by row.
std::string with_column(const std::string& csv, const std::string& name,
                        const std::function<double(double, int)>& f) {
  std::istringstream in(csv);
  std::string line, out;
  int column = -1;
  for (int row = -1; std::getline(in, line);) {
    std::vector<std::string> cells;
    std::istringstream one(line);
    for (std::string cell; std::getline(one, cell, ',');) cells.push_back(cell);
    if (column < 0) {
      for (std::size_t i = 0; i < cells.size(); ++i) {
        if (cells[i].rfind(name, 0) == 0) column = static_cast<int>(i);
      }
    } else if (!cells.empty() && !cells[static_cast<std::size_t>(column)].empty()) {
      auto& cell = cells[static_cast<std::size_t>(column)];
      cell = fmt::format("{:.3f}", f(std::stod(cell), ++row));
    }
    for (std::size_t i = 0; i < cells.size(); ++i) out += (i ? "," : "") + cells[i];
    out += "\n";
  }
  EXPECT_GE(column, 0) << name;
  return out;
}

class Checking : public JobTest {
 protected:
  Result<CheckReply> checked(std::vector<std::string> key_on = {}) {
    return check({job_, {}, std::move(key_on), {}});
  }
  std::string town(std::uint64_t seed) const { return csv(table_found(), seed, 6); }
};

TEST_F(Checking, ASoundDriveIsBelievedAndTheGuardsRulesAreTheSafeOnes) {
  start(kSheet, 61);
  ASSERT_TRUE(add(town(610)));
  const auto r = checked();
  ASSERT_TRUE(r) << r.error().line();
  EXPECT_EQ(r->stops, 0) << r->sentence;
  EXPECT_THAT(r->sentence, HasSubstr("can be believed"));
  EXPECT_FALSE(r->own_rules);
  EXPECT_EQ(r->rules, advice::safe_rules(sheet_));
  ASSERT_EQ(r->recordings.size(), 1U);
  EXPECT_FALSE(r->recordings[0].refused);
  EXPECT_GT(r->recordings[0].findings.size(), 15U);
  // It has no oil pressure: said, not passed over.
  EXPECT_THAT(text(*r), HasSubstr("oil pressure: not recorded"));
  EXPECT_THAT(text(*r), HasSubstr("safe defaults"));
}

TEST_F(Checking, APressureThatDoesNotFollowIsSaidFirstAndTeachesNothing) {
  start(kSheet, 62);
  ASSERT_TRUE(add(town(620), "sound.csv"));
  const std::string dead =
      with_column(town(621), "MAP", [](double, int row) { return 48 + 0.1 * (row % 3); });
  ASSERT_TRUE(add(dead, "dead.csv"));
  const auto r = checked();
  ASSERT_TRUE(r) << r.error().line();
  EXPECT_GT(r->stops, 0);
  EXPECT_THAT(r->sentence, HasSubstr("first put right"));
  EXPECT_THAT(r->sentence, HasSubstr("recording 2"));
  ASSERT_TRUE(r->recordings[1].refused);
  EXPECT_THAT(*r->recordings[1].refused, HasSubstr("manifold pressure"));
  const auto e = estimated();
  ASSERT_TRUE(e) << e.error().line();
  EXPECT_TRUE(e->recordings[0].left_out.empty()) << e->recordings[0].left_out;
  EXPECT_EQ(e->recordings[1].left_out, *r->recordings[1].refused);
}

TEST_F(Checking, ReadingsThatJumpAwayAreNotLearnedFromAndTheRestIs) {
  start(kSheet, 63);
  const std::string sound = town(630);
  ASSERT_TRUE(
      add(with_column(sound, "MAP", [](double v, int row) { return row % 97 == 50 ? 5.0 : v; })));
  const auto r = checked();
  ASSERT_TRUE(r) << r.error().line();
  EXPECT_THAT(r->sentence, HasSubstr("readings that jump away"));
  const auto e = estimated();
  ASSERT_TRUE(e) << e.error().line();
  ASSERT_TRUE(e->recordings[0].left_out.empty()) << e->recordings[0].left_out;
  EXPECT_THAT(e->recordings[0].notes, testing::Contains(HasSubstr("jumped away")));
  // Three of each 97 rows are gone, not the drive.
  EXPECT_GT(e->recordings[0].seconds_used, 0.4 * e->recordings[0].seconds_total);
}

TEST_F(Checking, ABlankedRowHasNoValueAndItsNeighboursKeepTheirs) {
  start(kSheet, 64);
  ASSERT_TRUE(add(town(640)));
  const auto job = Job::open(job_, Access::read);
  ASSERT_TRUE(job);
  const auto g = load_ground(const_cast<Job&>(*job), job_);
  ASSERT_TRUE(g) << g.error().line();
  const signals::Recording& r = g->recordings[0].recording;
  advice::Masks masks(r.rows);
  masks.set(signals::Quantity::map, 1, 10, 12, "a test");
  masks.set(signals::Quantity::time, 1, 20, 21, "a test");
  const signals::Recording t = trusted_rows(r, masks);
  const auto& map = t.find(signals::Quantity::map)->si;
  EXPECT_TRUE(std::isnan(map[10]) && std::isnan(map[11]) && std::isnan(map[20]));
  EXPECT_EQ(map[12], r.find(signals::Quantity::map)->si[12]);
  EXPECT_FALSE(std::isnan(t.find(signals::Quantity::rpm)->si[10]));
  EXPECT_TRUE(std::isnan(t.find(signals::Quantity::rpm)->si[20]));
  EXPECT_EQ(t.time_s, r.time_s);
}

TEST_F(Checking, GuardRulesAreKeptInTheJobAsDataAndBadOnesAreRefusedByTheFilesName) {
  start(kSheet, 65);
  ASSERT_TRUE(add(town(650)));
  const auto keep = [&](const std::string& json) {
    return keep_guard_rules({job_, json, "rules.json", kKim.name, kKim.when});
  };
  const auto bad = keep(R"({"format":"fuelwright guard rules 1","rules":[
      {"rule":"coolant","limit":{"value":900,"unit":"degC"}}]})");
  ASSERT_FALSE(bad);
  EXPECT_THAT(bad.error().line(), HasSubstr("rules.json"));
  EXPECT_THAT(bad.error().line(), HasSubstr("coolant"));
  EXPECT_FALSE(checked()->own_rules);
  ASSERT_TRUE(keep(R"({"format":"fuelwright guard rules 1","rules":[
      {"rule":"coolant","limit":{"value":212,"unit":"degF"}}]})"));
  const auto r = checked();
  ASSERT_TRUE(r) << r.error().line();
  EXPECT_TRUE(r->own_rules);
  EXPECT_NEAR(r->rules.of(advice::RuleKind::coolant).limit, 373.15, 1e-6);  // 212 degF boils water
  EXPECT_EQ(r->rules.of(advice::RuleKind::duty),
            advice::safe_rules(sheet_).of(advice::RuleKind::duty));
  const auto journal = show({job_, ShowWhat::journal});
  ASSERT_TRUE(journal);
  EXPECT_THAT(journal->journal.back().why, HasSubstr("rules.json"));
}

TEST_F(Checking, NoProposalLeansARegionInWhichTheGuardFired) {
  start(kSheet, 66);
  ASSERT_TRUE(add(town(660)));
  const auto before = estimated();
  ASSERT_TRUE(before) << before.error().line();
  ASSERT_TRUE(before->proposed && before->in_force && before->change);
  ASSERT_GT(before->change->leaner, 0) << "the table as found is nowhere too rich: another seed";
  const auto with_rule = [&](const std::string& rule) {
    return keep_guard_rules({job_,
                             R"({"format":"fuelwright guard rules 1","rules":[)" + rule + "]}",
                             "rules.json", kKim.name, kKim.when});
  };
  // A coolant limit that this drive breaks from its beginning to its end says nothing about a cell.
  ASSERT_TRUE(with_rule(R"({"rule":"coolant","limit":{"value":80,"unit":"degC"}})"));
  const auto hot = estimated();
  ASSERT_TRUE(hot) << hot.error().line();
  EXPECT_EQ(hot->proposed->values, before->proposed->values);
  EXPECT_GT(checked()->recordings[0].guard.firings.size(), 0U);
  // A lean limit that it breaks whenever it pulls a little does.
  ASSERT_TRUE(with_rule(kLeanAlways));
  auto job = Job::open(job_, Access::read);
  ASSERT_TRUE(job);
  const auto g = load_ground(*job, job_);
  ASSERT_TRUE(g);
  const Guarded guarded = guarded_nodes(*g, before->proposed->grid);
  const auto count = std::ranges::count(guarded.nodes, true);
  ASSERT_GT(count, 3);
  EXPECT_LT(count, static_cast<long>(guarded.nodes.size()) / 2);
  ASSERT_EQ(guarded.because.size(), 1U);
  EXPECT_THAT(guarded.because[0], HasSubstr("lean under load in recording 1"));
  EXPECT_THAT(guarded.because[0], HasSubstr(" kPa"));
  const auto after = estimated();
  ASSERT_TRUE(after) << after.error().line();
  ASSERT_TRUE(after->proposed && after->in_force);
  for (std::size_t i = 0; i < guarded.nodes.size(); ++i) {
    const double least = guarded.nodes[i]
                             ? std::max(before->proposed->values[i], after->in_force->values[i])
                             : before->proposed->values[i];
    EXPECT_NEAR(after->proposed->values[i], least, 1e-12) << i;
  }
  EXPECT_LT(after->change->leaner, before->change->leaner);
  EXPECT_THAT(after->change_words, testing::Contains(HasSubstr(guarded.because[0])));
}

TEST_F(Checking, ALaterDriveWithALaterRevisionThatPassesThereReleasesTheRegion) {
  start(kSheet, 70);
  ASSERT_TRUE(add(town(700)));
  ASSERT_TRUE(keep_guard_rules(
      {job_, R"({"format":"fuelwright guard rules 1","rules":[)" + std::string(kLeanAlways) + "]}",
       "rules.json", kKim.name, kKim.when}));
  auto job = Job::open(job_, Access::read);
  ASSERT_TRUE(job);
  auto g = load_ground(*job, job_);
  ASSERT_TRUE(g) << g.error().line();
  const car::Grid grid = car::table_grid(sheet_);
  const auto kept = [&] { return std::ranges::count(guarded_nodes(*g, grid).nodes, true); };
  const auto alone = kept();
  ASSERT_GT(alone, 3);
  // The same drive again, and it reads richer than the limit all along.
  Loaded later = g->recordings[0];
  later.row.id.value = 2;
  for (signals::Channel& c : later.recording.channels) {
    if (c.what == signals::Quantity::lambda) std::ranges::fill(c.si, 0.66);
  }
  later.how.driven_with = 0;  // the same revision: it proves nothing about another
  g->recordings.push_back(later);
  EXPECT_EQ(kept(), alone);
  g->recordings.back().how.driven_with = 1;
  EXPECT_LT(kept(), alone);
  std::swap(g->recordings[0], g->recordings[1]);  // and what fires last stands
  EXPECT_EQ(kept(), alone);
}

TEST_F(Checking, AKeyOnFileIsLookedAtWithoutBeingTakenIntoTheJob) {
  start(kSheet, 71);
  std::string rows = "Time (s),RPM (rpm),MAP (kPa),Battery (V),AFR\n";
  for (int i = 0; i < 400; ++i) {
    rows += fmt::format("{:.2f},0,{:.1f},12.6,22.4\n", 0.05 * i, 85.0 + 0.1 * (i % 2));
  }
  CheckRequest request{job_, {}, {"drives/key.csv"}, {}};
  request.files = {{"drives/key.csv", rows, {}}};
  const auto asked = check(request);
  ASSERT_FALSE(asked);  // its scale is not known
  EXPECT_THAT(asked.error().line(), HasSubstr("key.csv"));
  request.files[0].answers.afr_constant = 14.7;
  const auto r = check(request);
  ASSERT_TRUE(r) << r.error().line();
  EXPECT_EQ(r->recordings[0].id, 0);
  EXPECT_GT(r->stops, 0);  // 85 kPa at sea level
  EXPECT_THAT(text(*r), HasSubstr("key.csv (not in the job)"));
  EXPECT_THAT(r->sentence, HasSubstr("(key.csv)"));
  EXPECT_TRUE(nlohmann::json::parse(json(*r))["recordings"][0]["id"].is_null());
  EXPECT_TRUE(show({job_, ShowWhat::recordings})->recordings.empty());
}

TEST_F(Checking, AtKeyOnTheManifoldMustHaveThePressureOfThePlace) {
  start(kSheet, 67);
  std::string rows = "Time (s),RPM (rpm),MAP (kPa),Battery (V),Coolant (degC),Intake air (degC)\n";
  for (int i = 0; i < 400; ++i) {
    rows += fmt::format("{:.2f},0,{:.1f},12.6,{:.1f},{:.1f}\n", 0.05 * i, 90.0 + 0.1 * (i % 2),
                        15.0 + 0.1 * (i / 200), 15.2 + 0.1 * (i / 250));
  }
  ASSERT_TRUE(add(rows, "key.csv")) << add(rows, "key.csv").error().line();
  CheckRequest request{job_, {}, {"key.csv"}, {}};
  // U.S. Standard Atmosphere 1976: 89.87 kPa at 1000 m.
  request.weather = {.sea_level = absolute(101.325 * kPa), .altitude = 1000.0 * metre};
  const auto up_there = check(request);
  ASSERT_TRUE(up_there) << up_there.error().line();
  EXPECT_EQ(up_there->stops, 0) << text(*up_there);
  request.weather = {.station = absolute(101.3 * kPa)};
  const auto at_sea = check(request);
  ASSERT_TRUE(at_sea);
  EXPECT_EQ(at_sea->recordings[0].findings[0].check, advice::Check::ambient_pressure);
  EXPECT_EQ(at_sea->recordings[0].findings[0].grade, Grade::stop);
  request.weather = {.station = absolute(10.0 * kPa)};
  EXPECT_THAT(check(request).error().line(), HasSubstr("--barometer"));
}

TEST_F(Checking, ARecordingThatIsNotThereIsNamedWithThoseThatAre) {
  start(kSheet, 68);
  EXPECT_THAT(checked().error().line(), HasSubstr("add one first"));
  ASSERT_TRUE(add(town(680)));
  const auto r = check({job_, {"7"}, {}, {}});
  ASSERT_FALSE(r);
  EXPECT_EQ(r.error().code, ErrorCode::not_found);
  EXPECT_THAT(r.error().line(), HasSubstr("\"7\""));
  EXPECT_THAT(r.error().line(), HasSubstr("1 drive.csv"));
  EXPECT_TRUE(check({job_, {"1"}, {}, {}}));
  EXPECT_TRUE(check({job_, {"drive.csv"}, {}, {}}));
}

TEST_F(Checking, FiguresComeInThePersonsUnitsAndTheJsonSaysTheSame) {
  start(kSheet, 69);
  ASSERT_TRUE(add(town(690)));
  ASSERT_TRUE(keep_units(job_, UnitSystem::us, kKim));
  const auto us = checked();
  ASSERT_TRUE(us);
  EXPECT_THAT(text(*us), HasSubstr("inHg"));
  EXPECT_THAT(text(*us), HasSubstr("degF"));
  EXPECT_THAT(text(*us), Not(HasSubstr(" kPa)")));
  ASSERT_TRUE(keep_units(job_, UnitSystem::metric, kKim));
  const auto metric = checked();
  EXPECT_THAT(text(*metric), HasSubstr("kPa"));
  EXPECT_THAT(text(*metric), Not(HasSubstr("inHg")));
  const auto j = nlohmann::json::parse(json(*metric));
  EXPECT_EQ(j["sentence"], metric->sentence);
  EXPECT_EQ(j["recordings"][0]["findings"].size(), metric->recordings[0].findings.size());
  EXPECT_EQ(j["guard_rules"]["rules"].size(), static_cast<std::size_t>(advice::kRules));
}

}  // namespace
}  // namespace fuelwright::service::checking_test
