// Tables brought in by hand, compared and taken back, through the only door.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include <filesystem>
#include <nlohmann/json.hpp>

#include "service/api/json.h"
#include "service/report/text.h"
#include "service/service.h"

namespace fuelwright::service::bringing_in_test {
namespace {

constexpr const char* kSheet = R"(
[engine]
displacement = "5.7 l"
cylinders = 8
[cam]
intake_duration_050 = "218 deg"
[injection]
injector_flow = "30 lb/h at 43.5 psi"
[fuel]
name = "E10"
)";
// 3 speeds by 2 loads; VE 50 % everywhere, so that shares can be seen at a glance.
constexpr const char* kFound = "MAP kPa \\ rpm\t1000\t2000\t3000\n40\t50\t50\t50\n80\t50\t50\t50\n";
const Who kKim{"Kim", "2026-05-04T09:30:00Z"};

class BringIn : public testing::Test {
 protected:
  void SetUp() override {
    std::string name =
        (std::filesystem::temp_directory_path() / "fuelwright_bring_in_XXXXXX").string();
    ASSERT_NE(mkdtemp(name.data()), nullptr);
    folder_ = name;
    job_ = folder_ + "/coupe.fw";
    NewRequest request{job_,         kSheet, "coupe.toml", TableIn{kFound, "ve.tsv", {}},
                       std::nullopt, kKim};
    request.units = UnitSystem::metric;
    const auto made = new_job(request);
    ASSERT_TRUE(made) << made.error().line();
  }
  void TearDown() override { std::filesystem::remove_all(folder_); }

  BringInRequest pasted(const std::string& text) const {
    BringInRequest r;
    r.job = job_;
    r.table = {text, "paste", {}};
    r.why = "surges at cruise";
    r.who = kKim;
    return r;
  }
  std::size_t journal_rows() const { return show({job_, ShowWhat::journal})->journal.size(); }
  car::Surface ve() const { return *show({job_, ShowWhat::summary})->in_force; }

  std::string folder_;
  std::string job_;
};

TEST_F(BringIn, APreviewSaysWhichNodesChangeByHowMuchAndWritesNothing) {
  const std::size_t rows = journal_rows();
  // 55/50 is +10 %, 49/50 is -2 %.
  const auto p = preview_tables(pasted("kPa \\ rpm\t2000\t3000\n80\t55,0\t49\n"));
  ASSERT_TRUE(p) << p.error().line();
  EXPECT_EQ(p->sentence,
            "This would change revision 0: VE: 2 of 6 nodes, up to 10.0 % more fuel at 2000 rpm, "
            "80.00 kPa and up to 2.0 % less fuel at 3000 rpm, 80.00 kPa; nothing is written yet.");
  ASSERT_EQ(p->tables.size(), 1U);
  EXPECT_EQ(p->tables[0].axes, car::AxesThatCame::part);
  EXPECT_EQ(p->tables[0].understood,
            "engine speed in rpm, manifold pressure (absolute) in kPa; values read as %");
  EXPECT_FALSE(p->revision);
  EXPECT_EQ(journal_rows(), rows);
  EXPECT_EQ(ve().node(1, 1), 0.50);
  const std::string shown = text(*p);
  EXPECT_NE(shown.find("+10.0"), std::string::npos) << shown;
  EXPECT_NE(shown.find("-2.0"), std::string::npos);
  EXPECT_EQ(shown.find(" 1000"), std::string::npos) << shown;  // that column stays
}

TEST_F(BringIn, AChangeByHandIsARevisionWithItsReasonInTheJournal) {
  const auto done = bring_in(pasted("kPa \\ rpm\t2000\n80\t55\n"));
  ASSERT_TRUE(done) << done.error().line();
  EXPECT_EQ(done->revision, 1);
  EXPECT_EQ(done->parent, 0);
  EXPECT_EQ(ve().node(1, 1), 0.55);
  EXPECT_EQ(ve().node(0, 1), 0.50);
  const auto shown = show({job_, ShowWhat::journal});
  EXPECT_EQ(shown->journal.back().command, "edit");
  EXPECT_EQ(shown->journal.back().why, "surges at cruise");
  EXPECT_EQ(shown->revisions.back().author, "Kim");
}

TEST_F(BringIn, WithoutAReasonOrAChangeNoRevisionIsMade) {
  BringInRequest r = pasted("kPa \\ rpm\t2000\n80\t55\n");
  r.why = "  ";
  const auto no_reason = bring_in(r);
  ASSERT_FALSE(no_reason);
  EXPECT_EQ(no_reason.error().code, ErrorCode::usage);
  const auto same = bring_in(pasted("kPa \\ rpm\t2000\n80\t50\n"));
  ASSERT_TRUE(same);
  EXPECT_FALSE(same->revision);
  EXPECT_EQ(same->sentence, "Nothing changes: revision 0 holds these values already.");
  EXPECT_EQ(show({job_, ShowWhat::revisions})->revisions.size(), 1U);
}

TEST_F(BringIn, OtherAxesAreInterpolatedOnlyWhenThatIsSaid) {
  BringInRequest r = pasted("kPa \\ rpm\t1000\t1500\t2000\n40\t50\t56\t50\n80\t50\t50\t50\n");
  const auto asked = bring_in(r);
  ASSERT_FALSE(asked);
  EXPECT_EQ(asked.error().code, ErrorCode::needs_answer);
  EXPECT_NE(asked.error().line().find("loses up to 6 %"), std::string::npos)
      << asked.error().line();
  EXPECT_NE(asked.error().line().find("--interpolate"), std::string::npos);
  r.interpolate = true;
  const auto p = preview_tables(r);
  ASSERT_TRUE(p) << p.error().line();
  EXPECT_EQ(p->tables[0].axes, car::AxesThatCame::other);
  EXPECT_NEAR(p->tables[0].largest_loss, 0.06, 1e-12);
  EXPECT_NE(text(*p).find("Interpolation loses up to 6.00 %"), std::string::npos) << text(*p);
}

TEST_F(BringIn, ABlockWithoutAxesGoesWhereItIsSaid) {
  BringInRequest r = pasted("51\t52\n");
  EXPECT_EQ(preview_tables(r).error().code, ErrorCode::needs_answer);
  r.at = "2000 rpm, 80 kPa";
  ASSERT_TRUE(bring_in(r));
  EXPECT_EQ(ve().values, (std::vector<double>{0.5, 0.5, 0.5, 0.5, 0.51, 0.52}));
  for (const char* nowhere :
       {"2100 rpm, 80 kPa", "2000 rpm", "fast, 80 kPa", "2000 rpm, 8 furlong"}) {
    r.at = nowhere;
    const auto no = preview_tables(r);
    ASSERT_FALSE(no) << nowhere;
    EXPECT_EQ(no.error().where, "--at");
  }
}

TEST_F(BringIn, ATableThatTheJobHasNotYetMustComeWhole) {
  BringInRequest r = pasted("1\t1\n");
  r.what = car::TableWhat::correction;
  const auto part = preview_tables(r);
  ASSERT_FALSE(part);
  EXPECT_EQ(part.error().code, ErrorCode::bad_input);
  r.table.text = "kPa \\ rpm\t1000\t2000\n40\t100\t101\n80\t100\t100\n";
  const auto p = preview_tables(r);
  ASSERT_TRUE(p) << p.error().line();
  EXPECT_NE(p->sentence.find("the correction: a new table"), std::string::npos) << p->sentence;
}

TEST_F(BringIn, ARevisionThatWasNotLookedAtIsNotChanged) {
  BringInRequest r = pasted("kPa \\ rpm\t2000\n80\t55\n");
  r.seen = 0;
  ASSERT_TRUE(bring_in(r));
  const auto late = bring_in(r);
  ASSERT_FALSE(late);
  EXPECT_EQ(late.error().code, ErrorCode::conflict);
}

TEST_F(BringIn, WhatIsExportedInAnyFormComesBackAsNoChangeToTheLastBit) {
  ASSERT_TRUE(bring_in(pasted("52.123456789\t53\t54.1\n50\t61.00000000001\t0.7e2\n")));
  for (const ExportForm form :
       {ExportForm::csv, ExportForm::tsv, ExportForm::json, ExportForm::cdf}) {
    for (const UnitSystem units : {UnitSystem::metric, UnitSystem::us}) {
      ASSERT_TRUE(keep_units(job_, units, kKim));
      const auto file = export_tables({job_, form, std::nullopt, std::nullopt});
      ASSERT_TRUE(file) << file.error().line();
      const auto back = bring_in(pasted(*file));
      ASSERT_TRUE(back) << back.error().line();
      EXPECT_FALSE(back->revision) << back->sentence;
    }
  }
}

TEST_F(BringIn, JsonAndCdfBringEveryTableTheyHold) {
  const auto found = export_tables({job_, ExportForm::json, std::nullopt, std::nullopt});
  const auto cdf = export_tables({job_, ExportForm::cdf, std::nullopt, std::nullopt});
  ASSERT_TRUE(found && cdf);
  ASSERT_TRUE(bring_in(pasted("60\t60\t60\n60\t60\t60\n")));
  BringInRequest lambda = pasted("0.9");
  lambda.what = car::TableWhat::lambda_target;
  EXPECT_EQ(preview_tables(lambda).error().code, ErrorCode::needs_answer);
  for (const auto& file : {*found, *cdf}) {
    const auto p = preview_tables(pasted(file));
    ASSERT_TRUE(p) << p.error().line();
    EXPECT_EQ(p->tables.size(), 2U);
    EXPECT_NE(p->sentence.find("VE: 6 of 6 nodes"), std::string::npos) << p->sentence;
    EXPECT_EQ(p->sentence.find("lambda"), std::string::npos) << p->sentence;  // that one is equal
  }
}

TEST_F(BringIn, AMapOfACdfFileMayHaveAnotherName) {
  std::string file = *export_tables({job_, ExportForm::cdf, std::nullopt, car::TableWhat::ve});
  const auto rename = [&](const char* to) {
    std::string out = file;
    const std::string name = "<SHORT-NAME>ve</SHORT-NAME>";
    return out.replace(out.find(name), name.size(), fmt::format("<SHORT-NAME>{}</SHORT-NAME>", to));
  };
  EXPECT_TRUE(preview_tables(pasted(rename("air.main"))));  // the only map
  // Two maps, none of them called so.
  std::string two = rename("air.main");
  const auto from = two.find("      <SW-INSTANCE>\n");
  const auto to = two.find("    </SW-INSTANCE-TREE>");
  two.insert(to, two.substr(from, to - from));
  two.replace(two.rfind("air.main"), 8, "air.spare");
  const auto asked = preview_tables(pasted(two));
  ASSERT_FALSE(asked);
  EXPECT_EQ(asked.error().line(),
            "paste: CDF: no map is called \"ve\"; give --named with one of: air.main, air.spare");
  BringInRequest named = pasted(two);
  named.named = "air.spare";
  EXPECT_TRUE(preview_tables(named));
  named.named = "air";
  EXPECT_EQ(preview_tables(named).error().code, ErrorCode::not_found);
}

TEST_F(BringIn, WhatIsNoTableIsOneLineAndTheJobStaysAsItIs) {
  const std::size_t rows = journal_rows();
  for (const char* text : {"", "hello", "<MSRSW>", "{\"format\": 1}", "=1+1\t2\n", "{", "<",
                           "kPa \\ rpm\t2000\n80\t=A1\n", "kPa \\ rpm\t2000\n80\t990\n",
                           "throttle % \\ rpm\t2000\n80\t50\n", "1\t2\t3\t4\n5\t6\t7\t8\n"}) {
    const auto r = bring_in(pasted(text));
    ASSERT_FALSE(r) << text;
    EXPECT_EQ(r.error().where.rfind("paste", 0), 0U) << r.error().line();
    EXPECT_EQ(r.error().line().find('\n'), std::string::npos);
  }
  EXPECT_EQ(journal_rows(), rows);
}

TEST_F(BringIn, CompareSaysInOneSentenceWhatDiffersAndRevertBringsItBack) {
  ASSERT_TRUE(bring_in(pasted("kPa \\ rpm\t2000\n80\t55\n")));
  const auto c = compare({job_, 0, 1});
  ASSERT_TRUE(c) << c.error().line();
  EXPECT_EQ(
      c->sentence,
      "Revision 1 differs from revision 0 in VE: 1 of 6 nodes, up to 10.0 % more fuel at 2000 "
      "rpm, 80.00 kPa.");
  EXPECT_NE(text(*c).find("+10.0"), std::string::npos);
  const auto j = nlohmann::json::parse(json(*c));
  EXPECT_EQ(j["tables"][0]["largest_rise"]["y_si"], 80e3);
  EXPECT_EQ(j["tables"][0]["after"][4], 0.55);
  EXPECT_EQ(compare({job_, 1, 1})->sentence, "Revisions 1 and 1 hold the same tables.");
  EXPECT_EQ(compare({job_, 0, 7}).error().code, ErrorCode::not_found);

  const auto back = revert({job_, 0, "worse than before", kKim});
  ASSERT_TRUE(back) << back.error().line();
  EXPECT_EQ(back->before, 1);
  EXPECT_EQ(ve().node(1, 1), 0.50);
  EXPECT_EQ(show({job_, ShowWhat::journal})->journal.back().why, "worse than before");
  EXPECT_EQ(revert({job_, 0, "", kKim}).error().code, ErrorCode::conflict);
  EXPECT_EQ(revert({job_, 9, "", kKim}).error().code, ErrorCode::not_found);
  EXPECT_EQ(show({job_, ShowWhat::revisions})->revisions.size(), 2U);
}

constexpr const char* kParts = R"({"format": "fuelwright tables 1", "tables": [],
  "curves": [{"name": "warm_up_fuel", "unit": "%", "reason": "measured in the cold",
    "x": {"name": "coolant_temperature", "unit": "degC", "values": [-20, 70]}, "values": [70, 0]}],
  "settings": [{"name": "hard_rev_limit", "unit": "rpm", "value": 6200}]})";

TEST_F(BringIn, CurvesAndSettingsComeInAreComparedAndGoOut) {
  const auto done = bring_in(pasted(kParts));
  ASSERT_TRUE(done) << done.error().line();
  ASSERT_EQ(done->revision, 1);
  EXPECT_NE(done->sentence.find("warm-up fuel: a new curve; hard rev limit: none before, 6200 rpm"),
            std::string::npos)
      << done->sentence;
  const car::Calibration c = show({job_, ShowWhat::calibration})->revision_in_force.calibration;
  EXPECT_EQ(c.find(car::CurveWhat::warm_up_fuel)->values[0], 0.70);
  EXPECT_EQ(c.origin(car::CurveWhat::warm_up_fuel)->reason, "measured in the cold");
  EXPECT_EQ(c.origin(car::SettingWhat::hard_rev_limit)->reason,
            "brought in by hand: surges at cruise");
  EXPECT_EQ(c.origin(car::TableWhat::ve), nullptr);  // as found, untouched

  // Out and in again: nothing changes. One number changes: that is said.
  for (const ExportForm form : {ExportForm::json, ExportForm::cdf}) {
    const auto file = export_tables({job_, form, std::nullopt, std::nullopt});
    ASSERT_TRUE(file) << file.error().line();
    const auto again = bring_in(pasted(*file));
    ASSERT_TRUE(again) << again.error().line();
    EXPECT_FALSE(again->revision) << again->sentence;
  }
  std::string other = kParts;
  other.replace(other.find("[70, 0]"), 7, "[65, 0]");
  ASSERT_TRUE(bring_in(pasted(other)));
  const auto compared = compare({job_, 1, 2});
  ASSERT_TRUE(compared);
  EXPECT_EQ(compared->sentence,
            "Revision 2 differs from revision 1 in warm-up fuel: 1 of 2 points, most at -20.00 "
            "degC (70.0 % before, 65.0 % now).");
  const auto as_json = nlohmann::json::parse(json(*compared));
  EXPECT_EQ(as_json["curves"][0]["curve"], "warm_up_fuel");
  const auto tsv =
      export_tables({job_, ExportForm::tsv, std::nullopt, car::CurveWhat::warm_up_fuel});
  ASSERT_TRUE(tsv);
  EXPECT_EQ(*tsv, "coolant temperature degC\twarm-up fuel %\n-20\t65\n70\t0\n");
  const std::string shown = text(*show({job_, ShowWhat::calibration}));
  EXPECT_NE(shown.find("6200 rpm"), std::string::npos) << shown;
}

TEST_F(BringIn, ASparkTableIsBroughtInAndComparedInDegrees) {
  BringInRequest r = pasted("kPa \\ rpm\t1000\t2000\n40\t0\t30\n80\t10\t-2\n");
  r.what = car::TableWhat::spark;
  ASSERT_TRUE(bring_in(r));
  BringInRequest again = pasted("kPa \\ rpm\t1000\n40\t4\n");
  again.what = car::TableWhat::spark;
  const auto p = preview_tables(again);
  ASSERT_TRUE(p) << p.error().line();
  EXPECT_NE(p->sentence.find("the spark: 1 of 4 nodes, up to 4.0 deg more at 1000 rpm, 40.00 kPa"),
            std::string::npos)
      << p->sentence;
  again.what = car::CurveWhat::dead_time;
  EXPECT_EQ(preview_tables(again).error().code, ErrorCode::usage);
}

}  // namespace
}  // namespace fuelwright::service::bringing_in_test
