/// Engines drawn and computed by the real flow model, few and on a coarse map.
#include "physics/ensemble/drawing.h"

#include <gtest/gtest.h>

#include "car/build/sheet_file.h"
#include "physics/ensemble/ensemble.h"
#include "physics/ensemble/what_to_measure.h"

namespace fuelwright::physics::drawing_test {
namespace {

car::Sheet small_engine() {
  const auto sheet = car::read_sheet(R"(
[engine]
displacement = "1.9 l"
cylinders = 4
[cam]
intake_duration_050 = "200 deg"
[injection]
injector_flow = "200 cc/min @ 3 bar"
[fuel]
name = "E10"
)",
                                     "test.toml");
  EXPECT_TRUE(sheet.ok()) << sheet.error().line();
  return *sheet;
}

MapPlaces few_places(const car::Sheet& sheet) {
  return {{rpm(1500), rpm(3500), rpm(5500)},
          {absolute(50 * kPa), absolute(95 * kPa)},
          surroundings_of(sheet)};
}

DrawSettings quick(int members = 8) {
  DrawSettings s{.members = members, .seed = 3};
  s.maps.grid = 40.0 * mm;
  s.maps.most_cycles = 8;
  return s;
}

TEST(DrawEngines, GivesMembersStepsAndACentreOnTheSamePlaces) {
  const car::Sheet sheet = small_engine();
  const auto drawn = draw_engines(sheet, few_places(sheet), quick());
  ASSERT_TRUE(drawn.ok()) << drawn.error().line();
  EXPECT_EQ(drawn->members.size(), 8u);
  EXPECT_EQ(drawn->steps.size(), drawn->parts.size());
  EXPECT_EQ(drawn->z.rows(), 8);
  EXPECT_EQ(drawn->drawn_back, 0);
  const Ensemble e(*drawn);
  for (Eigen::Index i = 0; i < e.nodes(); ++i) {
    EXPECT_GT(e.ve(i), 0.3);
    EXPECT_LT(e.ve(i), 1.3);
    EXPECT_GT(e.sd_log(i), 0.015);
    EXPECT_LT(e.sd_log(i), 0.5);
  }
}

TEST(DrawEngines, TheWholeEngineMovesTheMeanToWhatItComputes) {
  const car::Sheet sheet = small_engine();
  DrawSettings settings = quick();
  settings.steps = false;
  settings.whole = true;
  const auto drawn = draw_engines(sheet, few_places(sheet), settings);
  ASSERT_TRUE(drawn.ok()) << drawn.error().line();
  ASSERT_TRUE(drawn->whole.has_value());
  Drawn without = *drawn;
  without.whole.reset();
  const Ensemble with(*drawn), bare(without);
  for (Eigen::Index i = 0; i < with.nodes(); ++i) {
    const auto k = static_cast<std::size_t>(i);
    const double moved = std::log(drawn->whole->nodes[k].ve / drawn->centre.nodes[k].ve);
    EXPECT_NEAR(with.mean()[i] - bare.mean()[i], moved, 1e-9);
    EXPECT_LT(std::abs(moved), 0.2);  // two forms of one engine
  }
  EXPECT_GT(with.covariance().trace(), bare.covariance().trace());
}

TEST(DrawEngines, StepsOfSinglePartsExplainMostOfWhatTheMembersScatter) {
  const car::Sheet sheet = small_engine();
  DrawSettings settings = quick(48);
  settings.maps.threads = 2;
  const auto drawn = draw_engines(sheet, few_places(sheet), settings);
  ASSERT_TRUE(drawn.ok());
  const Ensemble e(*drawn);
  const Eigen::VectorXd share = explained_by_steps(e);
  // 1 for a linear engine; 48 members know a variance to 20 %, parts work together by as much
  // again.
  EXPECT_GT(share.mean(), 0.6);
  EXPECT_LT(share.mean(), 1.5);
  for (const Worth& w : what_to_measure(e, {{"all", Eigen::VectorXd::Ones(e.nodes())}})) {
    EXPECT_LT(w.after, w.before);
    EXPECT_GT(w.after, 0);
  }
}

TEST(DrawEngines, TheSameSeedDrawsTheSameEngines) {
  const car::Sheet sheet = small_engine();
  DrawSettings settings = quick();
  settings.steps = false;
  const auto a = draw_engines(sheet, few_places(sheet), settings);
  settings.maps.threads = 2;
  const auto b = draw_engines(sheet, few_places(sheet), settings);
  ASSERT_TRUE(a.ok() && b.ok());
  EXPECT_TRUE(a->steps.empty());
  EXPECT_EQ(a->z, b->z);
  for (std::size_t m = 0; m < 8; ++m)
    EXPECT_EQ(a->members[m].nodes[3].ve, b->members[m].nodes[3].ve);
}

TEST(DrawEngines, AStopIsAnErrorAndNotHalfAnEnsemble) {
  const car::Sheet sheet = small_engine();
  DrawSettings settings = quick();
  std::stop_source stop;
  stop.request_stop();
  settings.maps.stop = stop.get_token();
  const auto drawn = draw_engines(sheet, few_places(sheet), settings);
  ASSERT_FALSE(drawn.ok());
  EXPECT_EQ(drawn.error().code, ErrorCode::conflict);
}

TEST(DrawEngines, RefusesPlacesAndNumbersThatCannotBe) {
  const car::Sheet sheet = small_engine();
  MapPlaces places = few_places(sheet);
  places.speeds[1] = rpm(100);
  EXPECT_EQ(draw_engines(sheet, places, quick()).error().code, ErrorCode::out_of_range);
  EXPECT_EQ(draw_engines(sheet, few_places(sheet), quick(3)).error().code, ErrorCode::out_of_range);
  car::Sheet bad = sheet;
  bad.engine.compression.value = 50;
  bad.engine.compression.tolerance = 0;
  EXPECT_FALSE(draw_engines(bad, few_places(sheet), quick()).ok());
}

}  // namespace
}  // namespace fuelwright::physics::drawing_test
