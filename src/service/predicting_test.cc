// From the parts alone to a calibration, through the only door; then driven.
#include <gtest/gtest.h>

#include <cmath>
#include <cstdlib>
#include <filesystem>
#include <nlohmann/json.hpp>

#include "car/build/derived.h"
#include "service/api/json.h"
#include "service/ensembles.h"
#include "service/report/text.h"
#include "service/test_job.h"
#include "sim/virtual_car/engine_air.h"

namespace fuelwright::service::predicting_test {
namespace {

constexpr const char* kSheet = R"(
[engine]
displacement = "2.3 l"
cylinders = 4
[cam]
intake_duration_050 = "206 deg"
[injection]
injector_flow = "24 lb/h at 43.5 psi"
squirts_per_cycle = 1
[fuel]
name = "E10"
[wishes]
load_axis = "map"
speed_points = { values = [600, 1000, 1500, 2000, 2700, 3500, 4500, 5500], unit = "rpm" }
load_points = { values = [25, 35, 45, 60, 75, 90, 100], unit = "kPa" }
)";
constexpr int kMembers = 16;  // as few as are taken: these tests are about the door, not the spread

PredictRequest request_for(const std::string& job) {
  PredictRequest r;
  r.job = job;
  r.members = kMembers;
  r.who = kKim.name;
  r.when = kKim.when;
  r.threads = 2;
  return r;
}

// The engines are drawn once, in a job of which every test gets a copy.
class Predicting : public testing::Test {
 protected:
  static void SetUpTestSuite() {
    std::string name =
        (std::filesystem::temp_directory_path() / "fuelwright_predict_XXXXXX").string();
    ASSERT_NE(mkdtemp(name.data()), nullptr);
    folder_ = name;
    const auto made =
        new_job({folder_ + "/fresh.fw", kSheet, "coupe.toml", std::nullopt, std::nullopt, kKim});
    ASSERT_TRUE(made.ok()) << made.error().line();
    std::filesystem::copy(folder_ + "/fresh.fw", folder_ + "/drawn.fw");
    auto reply = predict(request_for(folder_ + "/drawn.fw"));
    ASSERT_TRUE(reply.ok()) << reply.error().line();
    first_ = std::make_unique<PredictReply>(std::move(*reply));
  }
  static void TearDownTestSuite() {
    first_.reset();
    std::filesystem::remove_all(folder_);
  }
  void SetUp() override {
    job_ = folder_ + "/" + testing::UnitTest::GetInstance()->current_test_info()->name() + ".fw";
    ASSERT_NE(first_, nullptr);
    std::filesystem::copy(folder_ + "/drawn.fw", job_);
  }

  PredictRequest request() const { return request_for(job_); }

  static inline std::string folder_;
  static inline std::unique_ptr<PredictReply> first_;
  std::string job_;
};

TEST_F(Predicting, ThePartsAloneGiveRevisionOneCompleteAndSayWhatIsNotKnown) {
  const PredictReply* reply = first_.get();
  EXPECT_EQ(reply->sentence.rfind("Peak about ", 0), 0u) << reply->sentence;
  EXPECT_NE(reply->sentence.find("Full-throttle fuel is known to"), std::string::npos);
  EXPECT_EQ(reply->revision, 1);
  EXPECT_TRUE(reply->drawn_now);
  EXPECT_FALSE(reply->measure_next.empty());
  const auto shown = show({job_, ShowWhat::calibration});
  ASSERT_TRUE(shown.ok());
  EXPECT_NE(text(*shown).find("spark"), std::string::npos);
  EXPECT_NE(text(*reply).find("What to measure next"), std::string::npos);
  const auto parsed = nlohmann::json::parse(json(*reply));
  EXPECT_EQ(parsed["revision"], 1);
  EXPECT_GT(parsed["full_throttle"]["peak_power_w"]["middle"].get<double>(), 40e3);
  for (const char* form : {"json", "cdf"}) {
    const auto out = export_tables({job_, *export_form_named(form)});
    ASSERT_TRUE(out.ok()) << out.error().line();
    EXPECT_NE(out->find("hard_rev_limit"), std::string::npos) << form;
  }
}

TEST_F(Predicting, ASecondLookTakesTheKeptEnginesAndChangesNothing) {
  const auto again = predict(request());
  ASSERT_TRUE(again.ok()) << again.error().line();
  EXPECT_FALSE(again->drawn_now);
  EXPECT_FALSE(again->revision.has_value());
  EXPECT_NE(again->not_kept.find("revision 1 is in force"), std::string::npos);
  PredictRequest keep = request();
  keep.keep = Keep::always;
  EXPECT_EQ(predict(keep)->revision, 2);
  PredictRequest look = request();
  look.keep = Keep::never;
  EXPECT_FALSE(predict(look)->revision.has_value());
}

// The kept engines of one job into another of the same sheet.
void give_engines(const std::string& from, const std::string& to) {
  const EnsembleKey key{kSheet, kMembers, 1, kBreathingModel};
  auto source = Job::open(from, Access::read);
  ASSERT_TRUE(source.ok());
  const auto bytes = source->ensemble_for(key);
  ASSERT_TRUE(bytes.ok() && bytes->has_value());
  auto target = Job::open(to, Access::write);
  ASSERT_TRUE(target.ok());
  ASSERT_TRUE(target->keep_ensemble(key, **bytes, {kKim.name, kKim.when, "test"}).ok());
}

TEST_F(Predicting, ATableAsFoundIsNotTakenOver) {
  const std::string other = folder_ + "/found.fw";
  NewRequest fresh{other, kSheet, "coupe.toml", std::nullopt, std::nullopt, kKim};
  TableIn table;
  table.name = "pasted";
  const car::Grid grid = car::table_grid(*car::read_sheet(kSheet, "coupe.toml"));
  table.text = car::write_table(car::Surface::flat(grid, 0.7), car::TableWhat::ve,
                                car::TextForm::tsv, UnitSystem::metric);
  fresh.ve_as_found = table;
  ASSERT_TRUE(new_job(fresh).ok());
  give_engines(job_, other);
  const auto reply = predict(request_for(other));
  ASSERT_TRUE(reply.ok()) << reply.error().line();
  EXPECT_FALSE(reply->revision.has_value());
  EXPECT_NE(reply->not_kept.find("as found"), std::string::npos);
}

TEST_F(Predicting, StoppedInTheMiddleItLeavesTheJobAsItWas) {
  std::stop_source stop;
  PredictRequest r = request_for(folder_ + "/fresh.fw");
  r.stop = stop.get_token();
  r.progress = [&](double) { stop.request_stop(); };
  const auto reply = predict(r);
  ASSERT_FALSE(reply.ok());
  EXPECT_EQ(reply.error().code, ErrorCode::conflict);
  const auto shown = show({r.job, ShowWhat::revisions});
  ASSERT_TRUE(shown.ok());
  EXPECT_EQ(shown->revisions.size(), 1u);
}

TEST_F(Predicting, WhereNothingIsSaidAsManyEnginesAreTakenAsLastTime) {
  PredictRequest r = request();
  r.members = std::nullopt;
  const auto again = predict(r);
  ASSERT_TRUE(again.ok()) << again.error().line();
  EXPECT_EQ(again->members, kMembers);
  EXPECT_FALSE(again->drawn_now);
}

TEST_F(Predicting, TooFewAndTooManyEnginesAreRefused) {
  for (const int n : {0, 15, 513}) {
    PredictRequest r = request();
    r.members = n;
    const auto reply = predict(r);
    ASSERT_FALSE(reply.ok());
    EXPECT_EQ(reply.error().code, ErrorCode::out_of_range);
  }
}

// An engine built within the sheet's tolerances lies in the predicted intervals, and a drive with
// the computed table narrows them around the truth.
TEST_F(Predicting, AnEngineOfTheSheetIsInsideThePredictionAndADriveNarrowsIt) {
  const PredictReply* predicted = first_.get();
  const car::Sheet sheet = *car::read_sheet(kSheet, "coupe.toml");
  vc::Truth truth = with_stated_parts(vc::drawn_truth(sheet, 5), sheet);
  const auto air = vc::give_air(truth, sheet, 5, {.threads = 2});
  ASSERT_TRUE(air.ok()) << air.error().line();
  truth.vehicle.coolant_at_start = celsius(85);
  const auto drive =
      vc::drive_car(truth, sheet, predicted->first.calibration,
                    {.task = example_cycle("town.csv"), .seed = 6, .length = 12.0 * minute});
  ASSERT_TRUE(drive.ok()) << drive.error().line();
  signals::Answers answers;
  answers.afr_constant = truth.sensor.gauge_constant;
  ASSERT_TRUE(
      add_recording({job_, "drive.csv", drive->recording, answers, std::nullopt, kKim}).ok());
  const auto learned = estimate({job_, std::nullopt, false, kKim});
  ASSERT_TRUE(learned.ok()) << learned.error().line();
  EXPECT_FALSE(learned->family.empty());
  ASSERT_TRUE(learned->evidence.has_value());
  const car::Evidence &before = *predicted->evidence, &after = *learned->evidence;
  const car::Surface wanted = vc::true_table(truth, after.grid);
  double error_before = 0, error_after = 0;
  int measured = 0;
  for (std::size_t i = 0; i < after.estimate.size(); ++i) {
    EXPECT_LE(after.sd_log[i], before.sd_log[i] * 1.02) << i;  // driving never makes it less known
    if (after.mark[i] != car::NodeMark::measured) continue;
    const double ve = wanted.values[i];
    error_before += std::pow(std::log(before.estimate[i] / ve), 2);
    error_after += std::pow(std::log(after.estimate[i] / ve), 2);
    ++measured;
  }
  ASSERT_GT(measured, 5);
  EXPECT_LT(std::sqrt(error_after / measured), 0.07);  // the injectors' own error is in it
  EXPECT_LT(error_after, error_before + 0.02);
}

// A job that has both: the table as found and the engine computed from its parts.
class FoundAndPredicted : public Predicting {
 protected:
  // A job with this table as found, driven with it; with the engines, or without.
  Result<EstimateReply> estimated(const std::string& name, const car::Surface& found,
                                  bool predicted) {
    const std::string job = folder_ + "/" + name;
    NewRequest fresh{job, kSheet, "coupe.toml", std::nullopt, std::nullopt, kKim};
    fresh.ve_as_found =
        TableIn{car::write_table(found, car::TableWhat::ve, car::TextForm::tsv, UnitSystem::metric),
                "pasted",
                {}};
    FW_TRY(const NewReply made, new_job(fresh));
    if (predicted) {
      give_engines(job_, job);
      FW_TRY(const PredictReply reply, predict(request_for(job)));
    }
    vc::Truth truth = with_stated_parts(vc::drawn_truth(sheet_, 5), sheet_);
    truth.air.ve = *believed_;
    truth.air.residual = car::Surface::flat(believed_->grid, 0.1);
    truth.air.reference_ambient = truth.weather.ambient;
    truth.vehicle.coolant_at_start = celsius(85);
    car::Calibration unit = first_->first.calibration;
    unit.tables.insert_or_assign(car::TableWhat::ve, found);
    FW_TRY(const vc::Drive drive,
           vc::drive_car(truth, sheet_, unit,
                         {.task = example_cycle("town.csv"), .seed = 7, .length = 8.0 * minute}));
    AddRequest add{job, "drive.csv", drive.recording, {}, std::nullopt, kKim};
    add.answers.afr_constant = truth.sensor.gauge_constant;
    FW_TRY(const AddReply added, add_recording(add));
    return estimate({job, std::nullopt, false, kKim});
  }
  const car::Sheet sheet_ = *car::read_sheet(kSheet, "coupe.toml");
  // The air of the true engine is the one computed: what is asked is how the beliefs are weighed.
  const car::Surface* believed_ = first_->first.calibration.find(car::TableWhat::ve);
};

TEST_F(FoundAndPredicted, WhereTheyFitBothAreBelievedAndUndrivenNodesAreKnownBetter) {
  car::Surface found = *believed_;
  for (std::size_t i = 0; i < found.values.size(); ++i) {
    found.values[i] *= 1.05 + 0.04 * std::sin(0.7 * static_cast<double>(i % found.grid.x.size()));
  }
  const auto alone = estimated("alone.fw", found, false);
  ASSERT_TRUE(alone.ok()) << alone.error().line();
  const auto both = estimated("both.fw", found, true);
  ASSERT_TRUE(both.ok()) << both.error().line();
  EXPECT_NE(both->prior.find("weighed against the table as found"), std::string::npos)
      << both->prior;
  EXPECT_FALSE(both->family.empty());
  double before = 0, after = 0, error_before = 0, error_after = 0;
  for (std::size_t i = 0; i < found.values.size(); ++i) {
    if (alone->evidence->mark[i] != car::NodeMark::prior_only) continue;
    before += alone->evidence->sd_log[i];
    after += both->evidence->sd_log[i];
    error_before += std::pow(std::log(alone->evidence->estimate[i] / believed_->values[i]), 2);
    error_after += std::pow(std::log(both->evidence->estimate[i] / believed_->values[i]), 2);
  }
  EXPECT_LT(after, 0.8 * before);
  EXPECT_LT(error_after, error_before);
}

TEST_F(FoundAndPredicted, ATableOfAnotherEngineIsSaidAndThePartsAreNotMixedIn) {
  car::Surface found = *believed_;
  for (std::size_t i = 0; i < found.values.size(); ++i) {
    found.values[i] *= 0.75 + 0.25 * std::cos(1.9 * static_cast<double>(i % found.grid.x.size())) *
                                  std::cos(1.7 * static_cast<double>(i / found.grid.x.size()));
  }
  const auto both = estimated("other_engine.fw", found, true);
  ASSERT_TRUE(both.ok()) << both.error().line();
  EXPECT_TRUE(both->family.empty());
  ASSERT_FALSE(both->warnings.empty());
  EXPECT_NE(both->warnings[0].find("do not fit together"), std::string::npos) << both->warnings[0];
}

}  // namespace
}  // namespace fuelwright::service::predicting_test
