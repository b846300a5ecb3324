#include <gmock/gmock.h>

#include <nlohmann/json.hpp>

#include "physics/ensemble/serialise.h"
#include "service/api/json.h"
#include "service/ensembles.h"
#include "service/report/text.h"
#include "service/test_job.h"

namespace fuelwright::service::starting_test {
namespace {

using testing::HasSubstr;

const char* kFlatV8 =
    "[engine]\ndisplacement = \"5.7 l\"\ncylinders = 8\nbanks = 2\ncompression = 9.5\n"
    "firing_order = \"1-8-4-3-6-5-7-2\"\n[cam]\ntappet = \"hydraulic_flat\"\n"
    "intake_duration_050 = \"214 deg\"\n[injection]\ninjector_flow = \"36 lb/h at 43.5 psi\"\n"
    "[ignition]\nkind = \"distributor\"\n[fuel]\nname = \"E10\"\n"
    "[[sensors.mixture]]\nname = \"left\"\nscale = \"afr 14.7\"\n";
const char* kFour =
    "[engine]\ndisplacement = \"1.6 l\"\ncylinders = 4\n[cam]\nintake_duration_050 = \"198 deg\"\n"
    "[injection]\ninjector_flow = \"220 cc/min at 3 bar\"\n[fuel]\nname = \"E10\"\n"
    "[place]\naltitude = \"1500 m\"\n";

class Starting : public JobTest {
 protected:
  void make(const char* sheet) {
    const auto made = new_job(fresh(sheet));
    ASSERT_TRUE(made) << made.error().line();
  }
  FirstStartRequest asking(std::vector<StartAnswer> answers) const {
    return {job_, std::move(answers)};
  }
  static std::vector<StartAnswer> all_new() {
    return {{"fresh_engine", "yes"},
            {"new_cam", "yes"},
            {"tappets", "roller"},
            {"fuel_opened", "yes"},
            {"timing", "unchecked"}};
  }
  FirstStartReply listed(const FirstStartRequest& request) const {
    const auto r = first_start(request);
    EXPECT_TRUE(r.ok()) << (r.ok() ? "" : r.error().line());
    return r.ok() ? *r : FirstStartReply{};
  }
  // A few engines of the sheet, as predict would keep them.
  void keep_engines() const {
    auto job = Job::open(job_, Access::write);
    ASSERT_TRUE(job.ok());
    const std::string toml = *job->sheet_toml();
    const car::Sheet sheet = *car::read_sheet(toml, "sheet");
    physics::DrawSettings draw;
    draw.members = 10;
    draw.steps = false;
    draw.maps.grid = 50 * mm;
    draw.maps.most_cycles = 10;
    physics::MapPlaces places;
    for (const double n : {700.0, 1000.0, 1700.0, 2400.0, 3500.0}) places.speeds.push_back(rpm(n));
    for (const double p : {22.0, 30.0, 42.0, 60.0, 95.0})
      places.pressures.push_back(absolute(p * kPa));
    places.surroundings = physics::surroundings_of(sheet);
    const auto drawn = physics::draw_engines(sheet, places, draw);
    ASSERT_TRUE(drawn.ok()) << drawn.error().line();
    const By by{kKim.name, kKim.when, "test"};
    ASSERT_TRUE(job->keep_ensemble({toml, 10, 1, kBreathingModel}, physics::to_bytes(*drawn), by));
    ASSERT_TRUE(job->set_setting("prediction", "{\"members\":10,\"seed\":1}", by));
  }
};

TEST_F(Starting, OpenQuestionsAreListedInOneLine) {
  make(kFlatV8);
  const auto r = first_start(asking({{"new_cam", "yes"}}));
  ASSERT_FALSE(r.ok());
  EXPECT_EQ(r.error().code, ErrorCode::needs_answer);
  EXPECT_THAT(r.error().line(), HasSubstr("fresh_engine (yes|no)"));
  EXPECT_THAT(r.error().line(), HasSubstr("timing (untouched|checked|unchecked)"));
  EXPECT_EQ(r.error().line().find("tappets"), std::string::npos);  // the sheet says
  EXPECT_EQ(r.error().line().find('\n'), std::string::npos);
  const auto asked = start_questions(asking({{"new_cam", "yes"}}));
  ASSERT_TRUE(asked.ok());
  EXPECT_EQ(asked->open, 4);
}

TEST_F(Starting, ACarThatWasNotPredictedHasItsListAndIsToldWhatIsMissing) {
  make(kFlatV8);
  const FirstStartReply r = listed(asking(all_new()));
  EXPECT_FALSE(r.computed);
  EXPECT_THAT(r.not_computed, HasSubstr("run predict"));
  EXPECT_THAT(r.not_known, HasSubstr("pulse width"));
  EXPECT_TRUE(r.list.run_in);
  EXPECT_THAT(text(r), HasSubstr("not computed yet: run predict"));
}

// U.S. Standard Atmosphere 1976, from memory: 84,556 Pa at 1500 m; a weather report of 1020 hPa
// makes 1020/1013.25 of it.
TEST_F(Starting, TodaysWeatherAndTheAltitudeMakeTheKeyOnPressure) {
  make(kFour);
  FirstStartRequest request = asking({{"fresh_engine", "no"},
                                      {"new_cam", "no"},
                                      {"fuel_opened", "no"},
                                      {"cooling_opened", "no"},
                                      {"timing", "untouched"}});
  EXPECT_NEAR(listed(request).place.pressure.from_zero.si, 84'556, 60);
  request.weather.sea_level = absolute(102.0 * kPa);
  EXPECT_NEAR(listed(request).place.pressure.from_zero.si, 84'556 * 102.0 / 101.325, 60);
  request.weather = {};
  request.weather.altitude = 0.0 * metre;
  EXPECT_NEAR(listed(request).place.pressure.from_zero.si, 101'325, 1);
  request.weather.air = kelvin(500);
  EXPECT_EQ(first_start(request).error().code, ErrorCode::out_of_range);
}

TEST_F(Starting, TwoCarsHaveTwoLists) {
  make(kFour);
  const FirstStartReply four = listed(asking(all_new()));
  job_ = folder_ + "/other.fw";
  make(kFlatV8);
  const FirstStartReply eight = listed(asking(all_new()));
  EXPECT_FALSE(four.list.run_in);  // answered: rollers
  EXPECT_TRUE(eight.list.run_in);  // its sheet says flat
  EXPECT_NE(four.list.find("compression"), nullptr);
  EXPECT_EQ(eight.list.find("compression"), nullptr);
}

TEST_F(Starting, WithItsEnginesComputedTheListSaysHowSureTheTableIsWhereTheCamRunsIn) {
  make(kFlatV8);
  keep_engines();
  const FirstStartReply r = listed(asking(all_new()));
  ASSERT_TRUE(r.computed) << r.not_computed;
  EXPECT_EQ(r.engines, 10);
  ASSERT_EQ(r.running->run_in.size(), 3U);
  const auto j = nlohmann::json::parse(json(r));
  EXPECT_EQ(j["steps"].size(), r.list.steps.size());
  EXPECT_EQ(j["running"]["run_in"].size(), 3U);
  EXPECT_EQ(j["run_in"], true);
  // The flat start has no VE table: nothing can be said of the mixture, and that is said.
  EXPECT_FALSE(r.running->run_in.front().table.has_value());
  EXPECT_THAT(r.sentence, HasSubstr("cannot be judged"));
  EXPECT_TRUE(r.running->run_in.front().map_pa.has_value());
  // A changed sheet is another engine.
  ASSERT_TRUE(change_sheet({.job = job_,
                            .changes = {{"engine", "compression", "8.5", "", ""}},
                            .who = kKim.name,
                            .when = kKim.when}));
  EXPECT_THAT(listed(asking(all_new())).not_computed, HasSubstr("since the sheet was changed"));
}

TEST_F(Starting, JsonSaysTheSameAsTheText) {
  make(kFour);
  const FirstStartReply r = listed(asking(all_new()));
  const auto j = nlohmann::json::parse(json(r));
  EXPECT_EQ(j["sentence"], r.sentence);
  const std::string said = text(r);
  for (const auto& step : j["steps"]) {
    EXPECT_THAT(said, HasSubstr(step["title"].get<std::string>()));
    for (const auto& e : step["expect"]) EXPECT_THAT(said, HasSubstr(e["says"].get<std::string>()));
  }
  const auto q = nlohmann::json::parse(json(*start_questions(asking({}))));
  EXPECT_EQ(q["open"], 5);
  EXPECT_TRUE(q["questions"][0]["answer"].is_null());
}

}  // namespace
}  // namespace fuelwright::service::starting_test
