// The main job through the only door: a sheet and recordings in, a better table with its
// uncertainty out.
#include "service/service.h"

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <cmath>
#include <cstdlib>
#include <filesystem>
#include <nlohmann/json.hpp>

#include "car/build/derived.h"
#include "service/api/json.h"
#include "service/report/text.h"
#include "sim/road_drive/road_drive.h"

namespace fuelwright::service {
namespace {

constexpr const char* kSheet = R"(
[engine]
displacement = "5.7 l"
cylinders = 8
[cam]
intake_duration_050 = "218 deg"
[injection]
injector_flow = "30 lb/h at 43.5 psi"
squirts_per_cycle = 1
[fuel]
name = "E10"
[wishes]
scale = "afr 14.7"
idle_mixture = 13.5
cruise_mixture = 14.2
full_throttle_mixture = 12.6
)";

const Who kKim{"Kim", "2026-05-04T09:30:00Z"};

class Service : public testing::Test {
 protected:
  void SetUp() override {
    std::string name =
        (std::filesystem::temp_directory_path() / "fuelwright_service_XXXXXX").string();
    ASSERT_NE(mkdtemp(name.data()), nullptr);
    folder_ = name;
    job_ = folder_ + "/coupe.fw";
  }
  void TearDown() override { std::filesystem::remove_all(folder_); }

  NewRequest fresh() const {
    return {job_, kSheet, "coupe.toml", std::nullopt, std::nullopt, kKim};
  }

  // A job with a table as found, and an invented car to drive.
  void start(unsigned seed) {
    sheet_ = *car::read_sheet(kSheet, "coupe.toml");
    truth_ = sim::invent_truth(seed, sheet_.engine.displacement.value, 8,
                               sheet_.fuel.stoichiometric.value);
    truth_.injection.stated_flow = sheet_.injection.injector_flow.value;
    truth_.injection.stated_dead_time = sheet_.injection.dead_time.value;
    found_ = sim::table_as_found(truth_, car::table_grid(sheet_), seed);
    NewRequest request = fresh();
    request.ve_as_found = TableIn{
        car::write_table(found_, car::TableWhat::ve, car::TextForm::tsv, UnitSystem::metric),
        "ve.tsv",
        {}};
    const auto made = new_job(request);
    ASSERT_TRUE(made) << made.error().line();
  }

  std::string csv(const car::Surface& table, std::uint64_t seed, double minutes,
                  const sim::Columns& columns = {}) const {
    sim::DriveOptions o;
    o.seed = seed;
    o.minutes = minutes;
    o.columns = columns;
    return sim::drive(truth_, table, o);
  }

  Result<AddReply> add(const std::string& bytes, const std::string& name = "drive.csv") {
    signals::Answers answers;
    answers.afr_constant = 14.7;
    return add_recording({job_, name, bytes, answers, std::nullopt, kKim});
  }

  double error_where_driven(const car::Surface& table, const car::Evidence& e) const {
    double sum = 0;
    double weight = 0;
    for (std::size_t iy = 0; iy < e.grid.y.size(); ++iy) {
      for (std::size_t ix = 0; ix < e.grid.x.size(); ++ix) {
        const double w = e.seconds[e.grid.index(ix, iy)];
        const double truth =
            sim::true_ve(truth_, rpm(e.grid.x[ix]), absolute(e.grid.y[iy] * pascal));
        const double off = std::log(table.node(ix, iy) / truth);
        sum += w * off * off;
        weight += w;
      }
    }
    return std::sqrt(sum / weight);
  }

  std::string folder_;
  std::string job_;
  car::Sheet sheet_;
  sim::Truth truth_;
  car::Surface found_ = car::Surface::flat({car::Axis::even(car::AxisKind::engine_speed, 0, 1, 2),
                                            car::Axis::even(car::AxisKind::map_absolute, 0, 1, 2)},
                                           0.8);
};

TEST_F(Service, FiveAnswersMakeAJobThatKnowsHowMuchIsTypical) {
  const auto made = new_job(fresh());
  ASSERT_TRUE(made) << made.error().line();
  EXPECT_GT(made->typical, 40);
  EXPECT_FALSE(new_job(fresh()));  // it exists now and is not overwritten
  const auto shown = show({job_, ShowWhat::journal});
  ASSERT_TRUE(shown);
  ASSERT_EQ(shown->journal.size(), 2U);
  EXPECT_EQ(shown->journal[0].who, "Kim");
}

TEST_F(Service, ADriveMakesTheTableBetterAndASecondOneDoesNotSpoilIt) {
  start(3);
  ASSERT_TRUE(add(csv(found_, 31, 15)));
  const auto first = estimate({job_, std::nullopt, false, kKim});
  ASSERT_TRUE(first) << first.error().line();
  EXPECT_EQ(first->verdict, advice::Verdict::good);
  const double before = error_where_driven(found_, *first->evidence);
  const double after = error_where_driven(*first->proposed, *first->evidence);
  EXPECT_LT(after, 0.5 * before) << "before " << before << ", after " << after;

  const auto accepted = accept({job_, "", kKim});
  ASSERT_TRUE(accepted) << accepted.error().line();
  EXPECT_EQ(accepted->revision, 1);
  ASSERT_TRUE(add(csv(*first->proposed, 32, 15), "second.csv"));
  const auto second = estimate({job_, std::nullopt, false, kKim});
  ASSERT_TRUE(second) << second.error().line();
  EXPECT_LT(error_where_driven(*second->proposed, *first->evidence), after * 1.2);
  EXPECT_GE(second->measured, first->measured);
}

TEST_F(Service, AProposalChangesTheTableItKnowsAndKeepsCurvesAndSettings) {
  start(3);
  BringInRequest parts;
  parts.job = job_;
  parts.table.text = R"({"format": "fuelwright tables 1", "tables": [],
    "settings": [{"name": "idle_spark", "unit": "deg", "value": 18, "reason": "by the cam"}]})";
  parts.why = "a first setting";
  parts.who = kKim;
  ASSERT_TRUE(bring_in(parts));
  ASSERT_TRUE(add(csv(found_, 31, 15)));
  const auto e = estimate({job_, std::nullopt, false, kKim});
  ASSERT_TRUE(e) << e.error().line();
  ASSERT_TRUE(accept({job_, "", kKim}));
  const car::Calibration c = show({job_, ShowWhat::calibration})->revision_in_force.calibration;
  EXPECT_EQ(*c.find(car::SettingWhat::idle_spark), 18);
  EXPECT_EQ(c.origin(car::SettingWhat::idle_spark)->reason, "by the cam");
  EXPECT_EQ(*c.find(car::TableWhat::ve), *e->proposed);
  const car::Origin& ve = *c.origin(car::TableWhat::ve);
  EXPECT_EQ(ve.reason, e->reason);
  ASSERT_EQ(ve.half_width.size(), e->evidence->sd_log.size());
  EXPECT_DOUBLE_EQ(ve.half_width[5], e->evidence->half_width(5));
}

TEST_F(Service, ADriveWithTheNewTableIsExplainedWithTheNewTable) {
  // Trap: laid over the start table, corrections of the second drive would be applied once too
  // often or not at all.
  start(5);
  ASSERT_TRUE(add(csv(found_, 51, 10)));
  const auto first = estimate({job_, std::nullopt, false, kKim});
  ASSERT_TRUE(first);
  ASSERT_TRUE(accept({job_, "", kKim}));
  const auto again = estimate({job_, std::nullopt, false, kKim});  // nothing new was driven
  ASSERT_TRUE(again);
  EXPECT_EQ(again->evidence->estimate, first->evidence->estimate);
  for (std::size_t i = 0; i < again->proposed->values.size(); ++i) {
    // Unproven leaner moves may creep on by what was held back; nothing may jump.
    EXPECT_NEAR(again->proposed->values[i], first->proposed->values[i], 0.0015);
  }
}

TEST_F(Service, PulseWidthAndCorrectionTellTheSameStory) {
  start(7);
  truth_.injection.flow_error = 0;
  truth_.injection.dead_time_error = {};
  ASSERT_TRUE(add(csv(found_, 71, 10)));
  const auto a = estimate({job_, advice::Way::correction, false, kKim});
  const auto b = estimate({job_, advice::Way::pulse_width, false, kKim});
  ASSERT_TRUE(a) << a.error().line();
  ASSERT_TRUE(b) << b.error().line();
  EXPECT_NEAR(a->shift, b->shift, 0.04);
}

TEST_F(Service, WithoutATableInTheUnitTheCorrectionIsATableOfFactors) {
  start(9);
  const std::string bytes = csv(found_, 91, 10, {.pulse_width = false});
  job_ = folder_ + "/no_table.fw";
  ASSERT_TRUE(new_job(fresh()));
  ASSERT_TRUE(add(bytes));
  const auto e = estimate({job_, std::nullopt, false, kKim});
  ASSERT_TRUE(e) << e.error().line();
  EXPECT_EQ(e->evidence->what, car::TableWhat::correction);
}

TEST_F(Service, ARecordingThatTeachesNothingIsKeptAndTheEstimateSaysSo) {
  ASSERT_TRUE(new_job(fresh()));
  const auto added = add("Time (s),RPM,Coolant (degC)\n0,800,90\n1,820,90\n2,810,90\n3,800,90\n");
  ASSERT_TRUE(added) << added.error().line();
  EXPECT_TRUE(added->teaches.empty());
  const auto e = estimate({job_, std::nullopt, false, kKim});
  ASSERT_FALSE(e);
  EXPECT_EQ(e.error().code, ErrorCode::not_found);
}

TEST_F(Service, AColdEngineStandingStillLeavesItNotKnown) {
  start(11);
  sim::DriveOptions o;
  o.seed = 4;
  o.minutes = 0.5;  // half a minute from cold: nothing is warm
  ASSERT_TRUE(add(sim::drive(truth_, found_, o)));
  const auto e = estimate({job_, std::nullopt, false, kKim});
  ASSERT_TRUE(e) << e.error().line();
  EXPECT_EQ(e->verdict, advice::Verdict::do_not_know);
  EXPECT_FALSE(e->proposal);
  EXPECT_EQ(e->sentence.rfind("I do not know", 0), 0U) << e->sentence;
  EXPECT_FALSE(accept({job_, "", kKim}));
}

TEST_F(Service, HowARecordingWasReadIsKeptWithIt) {
  start(14);
  signals::Answers answers;
  ASSERT_TRUE(signals::add_channel_answer(answers, "AFR=lambda:afr 14.7"));
  ASSERT_TRUE(signals::add_channel_answer(answers, "AFR target=target:afr 14.7"));
  const auto added =
      add_recording({job_, "drive.csv", csv(found_, 1, 6), answers, std::nullopt, kKim});
  ASSERT_TRUE(added) << added.error().line();
  const auto e =
      estimate({job_, std::nullopt, false, kKim});  // reads the bytes again, with the answers
  ASSERT_TRUE(e) << e.error().line();
  const auto next = add_recording({job_, "other.csv", csv(found_, 2, 1), {}, std::nullopt, kKim});
  ASSERT_TRUE(next) << "the answers serve the next file of this kind";
  EXPECT_NE(next->kept_answers.find("AFR=lambda:afr 14.7"), std::string::npos);
}

// A synthetic drive in which the mixture asks for the same factor everywhere.
std::string asks_for(double factor, const char* lambda_header = "Lambda") {
  std::string out = std::string("Time (s),RPM,MAP (kPa),Coolant (degC),") + lambda_header +
                    ",Lambda target,Correction (%)\n";
  for (int i = 0; i < 6000; ++i) {
    const double n = 1500 + 900 * std::sin(i / 700.0);
    const double p = 55 + 20 * std::sin(i / 430.0);
    out += fmt::format("{:.1f},{:.0f},{:.1f},90,{:.4f},1.0,{:.2f}\n", 0.1 * i, n, p, factor / 1.05,
                       5.0);
  }
  return out;
}

TEST_F(Service, AMixtureThatAsksForEightPercentEverywhereGetsEightPercent) {
  start(21);
  ASSERT_TRUE(add(asks_for(1.08)));
  const auto e = estimate({job_, std::nullopt, false, kKim});
  ASSERT_TRUE(e) << e.error().line();
  EXPECT_NEAR(e->shift, 0.08, 0.002);
  EXPECT_TRUE(e->warnings.empty());
}

TEST_F(Service, RecordingsThatContradictEachOtherAreNamed) {
  start(23);
  ASSERT_TRUE(add(asks_for(1.08)));
  ASSERT_TRUE(add(asks_for(0.92), "other.csv"));
  const auto e = estimate({job_, std::nullopt, false, kKim});
  ASSERT_TRUE(e) << e.error().line();
  ASSERT_EQ(e->warnings.size(), 1U);
  EXPECT_NE(e->warnings[0].find("recordings 2 and 1 disagree by"), std::string::npos)
      << e->warnings[0];
}

TEST_F(Service, AProposalOlderThanTheLastRecordingIsNotAccepted) {
  start(25);
  ASSERT_TRUE(add(asks_for(1.08)));
  ASSERT_TRUE(estimate({job_, std::nullopt, false, kKim}));
  ASSERT_TRUE(add(asks_for(1.07), "other.csv"));
  const auto accepted = accept({job_, "", kKim});
  ASSERT_FALSE(accepted);
  EXPECT_EQ(accepted.error().code, ErrorCode::conflict);
  ASSERT_TRUE(estimate({job_, std::nullopt, false, kKim}));
  EXPECT_TRUE(accept({job_, "", kKim}));
}

TEST_F(Service, VeThatNoEngineHasIsAWarningAboutTheSheet) {
  std::string sheet = kSheet;
  sheet.replace(sheet.find("5.7 l"), 5, "2.8 l");  // half the engine that was driven
  NewRequest request = fresh();
  request.sheet_toml = sheet;
  ASSERT_TRUE(new_job(request));
  std::string csv = "Time (s),RPM,MAP (kPa),Coolant (degC),Intake air (degC),MAF (g/s)\n";
  for (int i = 0; i < 6000; ++i) {
    const double n = 2000 + 900 * std::sin(i / 700.0);
    const double p = 55 + 20 * std::sin(i / 430.0);
    const double air =
        0.8 * p * 1e3 * 5.7e-3 * n / (120 * 287.05 * 300);  // VE 0.80 of the true engine
    csv += fmt::format("{:.1f},{:.0f},{:.1f},90,26.85,{:.3f}\n", 0.1 * i, n, p, 1e3 * air);
  }
  ASSERT_TRUE(add(csv));
  const auto e = estimate({job_, std::nullopt, false, kKim});
  ASSERT_TRUE(e) << e.error().line();
  ASSERT_FALSE(e->warnings.empty());
  EXPECT_NE(e->warnings[0].find("displacement"), std::string::npos);
}

TEST_F(Service, AJobWithoutAVeTableExportsNothingInItsPlace) {
  ASSERT_TRUE(new_job(fresh()));
  const auto none = export_tables({job_, ExportForm::tsv, std::nullopt, std::nullopt});
  ASSERT_FALSE(none);
  EXPECT_NE(none.error().message.find("--table lambda_target"), std::string::npos);
}

TEST_F(Service, TheSameRecordingTwiceIsNoticed) {
  start(13);
  const std::string bytes = csv(found_, 1, 1);
  ASSERT_TRUE(add(bytes));
  const auto again = add(bytes, "copy.csv");
  ASSERT_FALSE(again);
  EXPECT_EQ(again.error().code, ErrorCode::conflict);
}

TEST_F(Service, AGaugeWhoseConstantNobodyStatedIsAskedAbout) {
  start(15);
  const auto added = add_recording({job_, "drive.csv", csv(found_, 1, 1), {}, std::nullopt, kKim});
  ASSERT_FALSE(added);
  EXPECT_EQ(added.error().code, ErrorCode::needs_answer);
  EXPECT_TRUE(show({job_, ShowWhat::recordings})->recordings.empty());
}

TEST_F(Service, AnExportedTableReadsBackAndJsonIsJson) {
  start(17);
  const auto tsv = export_tables({job_, ExportForm::tsv, std::nullopt, car::TableWhat::ve});
  ASSERT_TRUE(tsv) << tsv.error().line();
  const auto back = car::read_table(*tsv, {});
  ASSERT_TRUE(back) << back.error().line();
  EXPECT_EQ(back->surface, found_);
  const auto j = export_tables({job_, ExportForm::json, std::nullopt, std::nullopt});
  ASSERT_TRUE(j);
  const auto parsed = nlohmann::json::parse(*j);
  EXPECT_EQ(parsed["tables"].size(), 2U);
  EXPECT_FALSE(export_tables({job_, ExportForm::csv, 7, std::nullopt}));
}

TEST_F(Service, EveryReplyIsJsonAndBeginsWithASentence) {
  start(19);
  const auto added = add(csv(found_, 1, 6));
  ASSERT_TRUE(added);
  const auto e = estimate({job_, std::nullopt, false, kKim});
  ASSERT_TRUE(e);
  for (const std::string& j : {json(*added), json(*e), json(*show({job_, ShowWhat::summary}))}) {
    const auto parsed = nlohmann::json::parse(j);
    EXPECT_FALSE(parsed["sentence"].get<std::string>().empty());
  }
  EXPECT_EQ(text(*e).rfind(e->sentence, 0), 0U);
  EXPECT_EQ(nlohmann::json::parse(json(*e))["evidence"]["estimate"].size(),
            e->evidence->estimate.size());
}

}  // namespace
}  // namespace fuelwright::service
