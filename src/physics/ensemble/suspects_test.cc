#include "physics/ensemble/suspects.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <set>

#include "car/build/sheet_file.h"
#include "physics/ensemble/internal/test_engine.h"

namespace fuelwright::physics::suspects_test {
namespace {

const Suspect& named(const std::vector<Suspect>& all, const std::string& name) {
  const auto at =
      std::find_if(all.begin(), all.end(), [&](const auto& s) { return s.name == name; });
  EXPECT_NE(at, all.end()) << name;
  return *at;
}

// Volume flow squared: at the same VE and speed the same share at any load. Mass flow squared: at
// 100 kPa (100/30)^2 = 11.1 times that at 30 kPa. Members' VE rises with pressure: VE^2 beside it.
TEST(Suspects, AirHeldBackIsSeenAtAnyLoadAndExhaustHeldBackOnlyAtHighLoad) {
  const MapPlaces places = test_places();
  const Ensemble e(test_drawn(test_sensitivities(places, 3), places, 32, 5), {});
  const std::vector<Suspect> all = suspects_of(e);
  const Eigen::VectorXd& in = named(all, "air held back before the valves").change;
  const Eigen::VectorXd& out = named(all, "exhaust held back").change;
  const Eigen::Index low = 7, high = 32 + 7;  // 6000 rpm, 30 and 100 kPa
  const double ve2 = std::pow(e.ve(high) / e.ve(low), 2);
  EXPECT_NEAR(in[high] / in[low], ve2, 1e-9);
  EXPECT_NEAR(out[high] / out[low], ve2 * std::pow(100.0 / 30.0, 2), 1e-6);
  EXPECT_LT(in.maxCoeff(), 0);
}

TEST(Suspects, WithoutComputedOnesThePartsOwnStepsStandIn) {
  const MapPlaces places = test_places();
  const Drawn drawn = test_drawn(test_sensitivities(places, 3), places, 32, 5);
  const Ensemble plain(drawn, {});
  EnsembleSettings settings;
  settings.suspects = {{"cam.intake_centreline", "cam (less)", Eigen::VectorXd::Ones(40)}};
  const Ensemble told(drawn, settings);
  EXPECT_EQ(static_cast<Eigen::Index>(suspects_of(plain).size()), plain.sensitivities().rows() + 3);
  const std::vector<Suspect> all = suspects_of(told);
  ASSERT_EQ(all.size(), 1u + 3 + 3);  // itself, switched at three speeds, three by flow or level
  for (std::size_t k = 1; k <= 3; ++k) {
    EXPECT_EQ(all[k].change[0], 0);  // below the speed it switches at
    EXPECT_EQ(all[k].change[7], 1);
  }
}

TEST(Suspects, EachSwappablePartIsComputedBothWays) {
  const auto sheet = car::read_sheet(
      "[engine]\ndisplacement = \"5.0 l\"\ncylinders = 8\n[cam]\nintake_duration_050 = \"214 "
      "deg\"\n"
      "[intake]\nrunner_length = \"330 mm +- 33 mm\"\n"
      "[injection]\ninjector_flow = \"30 lb/h at 43.5 psi\"\n[fuel]\nname = \"E10\"\n",
      "test");
  ASSERT_TRUE(sheet) << sheet.error().line();
  MapPlaces places;
  places.speeds = {rpm(4000), rpm(5500)};
  places.pressures = {absolute(60 * kPa)};
  places.surroundings = surroundings_of(*sheet);
  const auto all = draw_suspects(*sheet, places);
  ASSERT_TRUE(all) << all.error().line();
  std::set<std::string> names;
  for (const Suspect& one : *all) {
    names.insert(one.name);
    EXPECT_EQ(one.change.size(), 2);
    EXPECT_TRUE(one.change.allFinite());
    EXPECT_LT(one.change.cwiseAbs().maxCoeff(), 1) << one.name;
  }
  EXPECT_EQ(names.size(), all->size());
  EXPECT_GE(all->size(), 16u);
  // A runner a third shorter moves its tuning up in speed: it gains at 5500 rpm against 4000, and
  // a longer one loses (Helmholtz; docs/theory/breathing.md).
  const Eigen::VectorXd& less = named(*all, "runner length (less)").change;
  const Eigen::VectorXd& more = named(*all, "runner length (more)").change;
  EXPECT_GT(less[1] - less[0], more[1] - more[0]);
}

}  // namespace
}  // namespace fuelwright::physics::suspects_test
