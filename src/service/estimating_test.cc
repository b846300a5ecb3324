// From recordings to what is known, through the only door: with the dynamics of a drive, several
// recordings at once, and what must never be learned. Virtual cars with plain air; seeds stated.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include <nlohmann/json.hpp>

#include "service/api/json.h"
#include "service/report/text.h"
#include "service/test_job.h"

namespace fuelwright::service::estimating_test {
namespace {

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
// Plain air takes up heat in another way than any unit's law: up to this, rms of ln VE.
constexpr double kNear = 0.025;

class Estimating : public JobTest {
 protected:
  void start(std::uint64_t seed, const std::string& text = "") {
    JobTest::start(kSheet, seed, text);
  }
  // Adds a drive with the table as found and estimates.
  Result<EstimateReply> after(std::uint64_t seed, double minutes, const Going& going,
                              bool open_loop = false) {
    const auto added = add(csv(table_found(), seed, minutes, going));
    EXPECT_TRUE(added) << added.error().line();
    return estimated(open_loop);
  }
  bool warned(const EstimateReply& r, const std::string& of) const {
    return std::ranges::any_of(r.warnings,
                               [&](const std::string& w) { return w.find(of) != w.npos; });
  }
};

TEST_F(Estimating, ADriveWithAClockIsExplainedMomentByMomentAndItsDynamicsAreSaid) {
  start(31);
  const auto e = after(310, 10, {});
  ASSERT_TRUE(e) << e.error().line();
  ASSERT_EQ(e->recordings.size(), 1U);
  EXPECT_TRUE(e->recordings[0].dynamic);
  EXPECT_EQ(e->recordings[0].driven_with, 0);
  EXPECT_GT(e->recordings[0].seconds_used, 0.6 * e->recordings[0].seconds_total);
  // The estimate is near; the proposal keeps leaner moves back until they are proven.
  const double found = error_where_driven(table_found(), wanted_, *e->evidence);
  const car::Surface estimate{e->evidence->grid, e->evidence->estimate};
  EXPECT_LT(error_where_driven(estimate, wanted_, *e->evidence), 0.35 * found);
  EXPECT_LT(error_where_driven(*e->proposed, wanted_, *e->evidence), 0.8 * found);
  EXPECT_TRUE(e->warnings.empty()) << e->warnings[0];
  ASSERT_TRUE(e->dynamics);
  // The car's own: a lag of a tenth, and gas that passes quicker at high flow.
  const double lag = truth_.sensor.lag.si + truth_.sensor.tip_delay.si;
  EXPECT_NEAR(e->dynamics->sensor_lag_s.value, lag, 0.1);
  EXPECT_GT(e->dynamics->delay_low_flow_s.value, e->dynamics->delay_high_flow_s.value);
  EXPECT_NE(text(*e).find("the sensor answers in"), std::string::npos) << text(*e);
  const auto j = nlohmann::json::parse(json(*e));
  EXPECT_GT(j["dynamics"]["film_share"]["value"].get<double>(), 0);
  EXPECT_EQ(j["recordings"][0]["dynamic"], true);
  EXPECT_FALSE(j["recordings"][0]["doubts"].empty());
}

TEST_F(Estimating, ASlowRecordingTeachesBySteadyDrivingOnlyAndSaysWhy) {
  start(32);
  truth_.recorder.rows_per_second = 2;
  const auto e = after(320, 12, {});
  ASSERT_TRUE(e) << e.error().line();
  EXPECT_FALSE(e->recordings[0].dynamic);
  EXPECT_FALSE(e->dynamics);
  EXPECT_NE(text(*e).find("steady driving only"), std::string::npos) << text(*e);
  EXPECT_EQ(text(*e).find("no pulse width recorded"), std::string::npos) << "it is, but too slow";
}

TEST_F(Estimating, WithoutAPulseWidthTheWeakerWayIsTakenAndSaid) {
  start(33);
  const auto e = after(330, 10, {.missing = {"pulse_width"}});
  ASSERT_TRUE(e) << e.error().line();
  EXPECT_TRUE(e->recordings[0].left_out.empty()) << e->recordings[0].left_out;
  EXPECT_NE(text(*e).find("the weaker way"), std::string::npos) << text(*e);
  EXPECT_LT(error_where_driven(*e->proposed, wanted_, *e->evidence),
            0.6 * error_where_driven(table_found(), wanted_, *e->evidence));
}

// ---- what must not be learned
// -----------------------------------------------------------------

TEST_F(Estimating, AUnitThatCorrectsItselfWithoutAPulseWidthIsRefusedAndNothingIsProposed) {
  start(24, "[computer]\nself_correction_per_min = 1\n");
  const auto e = after(24, 12, {.missing = {"pulse_width"}});
  ASSERT_FALSE(e);
  EXPECT_EQ(e.error().code, ErrorCode::conflict);
  EXPECT_NE(e.error().message.find("correcting its own table"), std::string::npos)
      << e.error().line();
  EXPECT_FALSE(accept({job_, "", kKim}));
}

TEST_F(Estimating, SaidToRunOpenLoopAUnitThatCorrectedIsRefused) {
  start(35);
  const auto e = after(350, 10, {.missing = {"correction"}}, true);
  ASSERT_FALSE(e);
  EXPECT_EQ(e.error().code, ErrorCode::conflict) << e.error().line();
}

TEST_F(Estimating, AUnitThatCorrectsItselfIsRefusedThoughThePulseWidthIsThere) {
  start(26, "[computer]\nself_correction_per_min = 1\n");
  const auto e = after(26, 10, {});
  ASSERT_FALSE(e);
  EXPECT_EQ(e.error().code, ErrorCode::conflict) << e.error().line();
  EXPECT_NE(e.error().message.find("correcting its own table"), std::string::npos)
      << e.error().line();
}

// The same cars, cycles and minutes as above and below with nothing the matter.
TEST_F(Estimating, TheHealthyTwinOfEveryRefusedDriveIsAccepted) {
  struct Twin {
    std::uint64_t seed;
    double minutes;
    const char* truth;
    std::vector<std::string> missing;
    bool open_loop;
  };
  const char* open = "[computer]\ncorrection_gain = 0\n";
  int n = 0;
  for (const Twin& twin : {Twin{24, 12, "", {"pulse_width"}, false}, Twin{26, 10, "", {}, false},
                           Twin{35, 10, open, {"correction"}, true}, Twin{6, 10, "", {}, false}}) {
    job_ = folder_ + "/" + std::to_string(n++) + ".fw";
    start(twin.seed, twin.truth);
    const auto e = after(twin.seed == 35 ? 350 : twin.seed, twin.minutes, {.missing = twin.missing},
                         twin.open_loop);
    ASSERT_TRUE(e) << twin.seed << ": " << e.error().line();
    EXPECT_TRUE(e->recordings[0].left_out.empty()) << e->recordings[0].left_out;
    EXPECT_TRUE(e->warnings.empty()) << twin.seed << ": " << e->warnings[0];
  }
}

TEST_F(Estimating, AUnitThatRanOpenLoopAndIsNotSaidToIsAskedAboutOrReadByItsPulseWidth) {
  start(36, "[computer]\ncorrection_gain = 0\n");
  const auto asked = after(360, 10, {.missing = {"correction", "pulse_width", "maf"}});
  ASSERT_FALSE(asked);
  EXPECT_EQ(asked.error().code, ErrorCode::needs_answer);
  const auto said = estimated(true);
  ASSERT_TRUE(said) << said.error().line();
  EXPECT_LT(error_where_driven(*said->proposed, wanted_, *said->evidence),
            0.6 * error_where_driven(table_found(), wanted_, *said->evidence));
}

// What a unit had learned in an earlier drive was left in: the table in it is not the job's.
TEST_F(Estimating, CorrectionsLeftInTheUnitAreRefusedUntilTheyAreGivenWithTheRecording) {
  start(37, "[computer]\nself_correction_per_min = 0.5\n");
  const vc::Drive before = drive(table_found(), 370, 15, {});
  truth_.computer.self_correction = 0;
  car::Surface in_unit = table_found();
  for (std::size_t i = 0; i < in_unit.values.size(); ++i) {
    in_unit.values[i] *= before.learned->values[i];
  }
  const std::string bytes = csv(in_unit, 371, 10);
  ASSERT_TRUE(add(bytes));
  const auto refused = estimated();
  ASSERT_FALSE(refused);
  EXPECT_EQ(refused.error().code, ErrorCode::conflict);

  AddRequest again = adding(bytes, "drive.csv");
  again.learned = TableIn{car::write_table(*before.learned, car::TableWhat::correction,
                                           car::TextForm::tsv, UnitSystem::metric),
                          "learned.tsv",
                          {}};
  const auto added = add_recording(again);
  ASSERT_TRUE(added) << added.error().line();
  EXPECT_EQ(added->id, 1);
  EXPECT_NE(added->learned.find("factors differ from 1"), std::string::npos);
  const auto e = estimated();
  ASSERT_TRUE(e) << e.error().line();
  EXPECT_LT(error_where_driven(*e->proposed, wanted_, *e->evidence),
            0.5 * error_where_driven(table_found(), wanted_, *e->evidence));
  const auto shown = show({job_, ShowWhat::journal});
  ASSERT_TRUE(shown);
  EXPECT_TRUE(std::ranges::any_of(shown->journal, [](const JournalRow& row) {
    return row.command == "read" && row.why.find("learned.tsv") != std::string::npos;
  }));
}

TEST_F(Estimating, LearnedFactorsOfAnotherSizeAreRefusedWithTheFilesName) {
  start(37);
  AddRequest request = adding(csv(table_found(), 1, 1), "drive.csv");
  request.learned = TableIn{"1.00\t1.02\n1.00\t1.01\n", "learned.tsv", {}};
  const auto added = add_recording(request);
  ASSERT_FALSE(added);
  EXPECT_EQ(added.error().where.rfind("learned.tsv", 0), 0U) << added.error().line();
  EXPECT_TRUE(show({job_, ShowWhat::recordings})->recordings.empty());
}

TEST_F(Estimating, ASheetWithSixCylindersForAFourIsSaidAndChangesNothingRelativeToTheTable) {
  start(38);
  const std::string bytes = csv(table_found(), 380, 10);
  ASSERT_TRUE(add(bytes));
  const auto right = estimated();
  ASSERT_TRUE(right) << right.error().line();
  EXPECT_FALSE(warned(*right, "injectors fed it"));
  std::string sheet = kSheet;
  sheet.replace(sheet.find("cylinders = 4"), 13, "cylinders = 6");
  job_ = folder_ + "/six.fw";
  new_job_with_table(sheet);
  ASSERT_TRUE(add(bytes));
  const auto wrong = estimated();
  ASSERT_TRUE(wrong) << wrong.error().line();
  EXPECT_TRUE(warned(*wrong, "as if 4 injectors fed it, not 6")) << text(*wrong);
  EXPECT_NEAR(wrong->shift, right->shift, 0.01);
}

TEST_F(Estimating, ASheetWithSixCylindersForAFourIsRefusedWhereVeItselfWouldBeLearned) {
  start(38);
  const std::string bytes =
      csv(table_found(), 381, 10, {.missing = {"correction", "afr_target", "maf"}});
  ASSERT_TRUE(add(bytes));
  EXPECT_TRUE(estimated());
  std::string sheet = kSheet;
  sheet.replace(sheet.find("cylinders = 4"), 13, "cylinders = 6");
  job_ = folder_ + "/six.fw";
  new_job_with_table(sheet);
  ASSERT_TRUE(add(bytes));
  const auto wrong = estimated();
  ASSERT_FALSE(wrong);
  EXPECT_NE(wrong.error().message.find("cylinders"), std::string::npos) << wrong.error().line();
}

TEST_F(Estimating, ALazySensorIsSaidAndAHealthyOneIsNot) {
  start(39);
  const auto healthy = after(390, 8, {.cycle = "brisk.csv"});
  ASSERT_TRUE(healthy) << healthy.error().line();
  EXPECT_FALSE(warned(*healthy, "answers slowly"));
  job_ = folder_ + "/lazy.fw";
  new_job_with_table(kSheet);
  const auto lazy =
      after(390, 8, {.cycle = "brisk.csv", .faults = {{car::FaultKind::lazy_sensor, {}, 0.5}}});
  ASSERT_TRUE(lazy) << lazy.error().line();
  EXPECT_TRUE(warned(*lazy, "answers slowly")) << text(*lazy);
}

TEST_F(Estimating, AnExhaustLeakIsRefusedWhereAnAirMeterContradictsTheMixture) {
  start(6);
  const auto e = after(6, 10, {.faults = {{car::FaultKind::exhaust_leak, {}, 1}}});
  ASSERT_FALSE(e);
  EXPECT_NE(e.error().message.find("leak in the exhaust"), std::string::npos) << e.error().line();
}

// ---- several at once
// --------------------------------------------------------------------------

TEST_F(Estimating, DrivesOfOtherDaysAndRevisionsMakeOnePosterior) {
  start(41);
  ASSERT_TRUE(add(csv(table_found(), 410, 8)));
  const auto first = estimated();
  ASSERT_TRUE(first) << first.error().line();
  ASSERT_TRUE(accept({job_, "", kKim}));
  truth_.weather.ambient = truth_.weather.ambient - 1.5 * kPa;
  truth_.weather.air = truth_.weather.air + TemperatureStep{-10};
  ASSERT_TRUE(add(csv(*first->proposed, 411, 8, {.cycle = "country.csv"}), "second.csv"));
  const auto both = estimated();
  ASSERT_TRUE(both) << both.error().line();
  ASSERT_EQ(both->recordings.size(), 2U);
  EXPECT_EQ(both->recordings[0].driven_with, 0);
  EXPECT_EQ(both->recordings[1].driven_with, 1);
  EXPECT_TRUE(both->recordings[1].dynamic);
  EXPECT_FALSE(warned(*both, "disagree"));
  EXPECT_GT(both->measured, first->measured);
  const car::Surface estimate{both->evidence->grid, both->evidence->estimate};
  EXPECT_LT(error_where_driven(estimate, wanted_, *both->evidence), kNear);
  // The proposal stays richer where lean is not proven.
  EXPECT_LT(error_where_driven(*both->proposed, wanted_, *both->evidence), 1.2 * kNear);
  for (std::size_t i = 0; i < both->evidence->sd_log.size(); ++i) {
    EXPECT_LT(both->evidence->sd_log[i], 1.1 * first->evidence->sd_log[i]) << i;
  }
}

// Trap: explained with the table in force now instead of the one in the unit then, the first drive
// would be applied twice.
TEST_F(Estimating, EachDriveIsExplainedWithTheTableThatWasInTheUnit) {
  start(42);
  ASSERT_TRUE(add(csv(table_found(), 420, 8)));
  const auto first = estimated();
  ASSERT_TRUE(first) << first.error().line();
  ASSERT_TRUE(accept({job_, "", kKim}));
  const auto again = estimated();  // nothing new was driven
  ASSERT_TRUE(again) << again.error().line();
  EXPECT_EQ(again->evidence->estimate, first->evidence->estimate);
}

TEST_F(Estimating, TwoDrivesOnFuelsThatDifferByATenthDisagreeAndAreNamed) {
  start(43);
  ASSERT_TRUE(add(csv(table_found(), 430, 8)));
  truth_.fuel.stoichiometric *= 0.90;
  ASSERT_TRUE(add(csv(table_found(), 431, 8), "second.csv"));
  const auto e = estimated();
  ASSERT_TRUE(e) << e.error().line();
  EXPECT_TRUE(warned(*e, "recordings 1 and 2 disagree by")) << text(*e);
}

// ---- what follows
// -----------------------------------------------------------------------------

TEST_F(Estimating, TheReplySaysWhatToExpectWhereItWasNotDrivenAndWhenToStop) {
  start(44);
  const auto e = after(440, 10, {});
  ASSERT_TRUE(e) << e.error().line();
  ASSERT_TRUE(e->outlook);
  EXPECT_EQ(e->outlook->nodes.size(), e->evidence->estimate.size());
  ASSERT_TRUE(e->stopping);
  EXPECT_LE(e->stopping->half_width_later, e->stopping->half_width);
  EXPECT_FALSE(e->change_words.empty());
  const auto j = nlohmann::json::parse(json(*e));
  EXPECT_EQ(j["change"]["made_ln"].size(), e->evidence->estimate.size());
  EXPECT_FALSE(j["outlook"]["ladder"]["rungs"].empty());
}

TEST_F(Estimating, ALeanLimitOutsideItsBoundsIsRefusedAndARicherOneKeepsMoreNodesRich) {
  start(44);
  ASSERT_TRUE(add(csv(table_found(), 441, 6)));
  EstimateRequest request{job_, std::nullopt, false, kKim};
  request.lean_limit = 1.3;
  const auto refused = estimate(request);
  ASSERT_FALSE(refused);
  EXPECT_EQ(refused.error().code, ErrorCode::out_of_range);
  request.lean_limit = 0.85;
  const auto careful = estimate(request);
  ASSERT_TRUE(careful) << careful.error().line();
  request.lean_limit = 1.0;
  const auto bold = estimate(request);
  ASSERT_TRUE(bold) << bold.error().line();
  EXPECT_GT(careful->change->kept_rich, bold->change->kept_rich);
}

}  // namespace
}  // namespace fuelwright::service::estimating_test
