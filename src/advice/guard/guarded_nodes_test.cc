#include "advice/guard/guarded_nodes.h"

#include <fmt/format.h>
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>

#include "car/build/sheet_file.h"
#include "signals/recording/recording.h"

namespace fuelwright::advice::guarded_nodes_test {
namespace {

car::Sheet a_sheet() {
  const auto sheet = car::read_sheet(
      "[engine]\ndisplacement = \"5.7 l\"\ncylinders = 8\n[cam]\nintake_duration_050 = \"214 "
      "deg\"\n[injection]\ninjector_flow = \"34 lb/h at 43.5 psi\"\n[fuel]\nname = \"E10\"\n",
      "a.toml");
  EXPECT_TRUE(sheet.ok());
  return *sheet;
}

struct Drive {
  double lambda = 0.86, coolant_degc = 88, battery_v = 14;
};
// Thirty seconds at 20 Hz: cruise at 2000 rpm and 45 kPa, from 10 s to 20 s a pull at 97 kPa from
// 2500 to 4500 rpm, cruise.
signals::Recording drive(const Drive& d) {
  std::string csv = "Time (s),RPM,MAP (kPa),Lambda,Coolant (degC),Battery (V)\n";
  for (int i = 0; i < 600; ++i) {
    const double t = 0.05 * i;
    const bool load = t >= 10 && t < 20;
    csv += fmt::format("{:.2f},{:.0f},{:.1f},{:.3f},{:.2f},{:.2f}\n", t,
                       load ? 2500 + 200 * (t - 10) : 2000.0 + 10 * (i % 3),
                       load ? 97.0 + 0.1 * (i % 4) : 45.0 + 0.2 * (i % 5),
                       (load && t > 10.4 ? d.lambda : 1.0) + 0.001 * (i % 3),
                       d.coolant_degc + 0.005 * i, d.battery_v + 0.01 * (i % 4));
  }
  auto r = signals::read_recording(csv, "pull.csv", {});
  EXPECT_TRUE(r.ok()) << (r.ok() ? "" : r.error().line());
  return *r;
}

// 1000 to 6000 rpm in 500s, 20 to 100 kPa in 10s.
car::Grid a_grid() {
  return {car::Axis::even(car::AxisKind::engine_speed, 1000, 6000, 11),
          car::Axis::even(car::AxisKind::map_absolute, 20e3, 100e3, 9)};
}

struct Judged {
  car::Sheet sheet = a_sheet();
  Rules rules = safe_rules(sheet);
  signals::Recording recording;
  GuardReport report;
  explicit Judged(const Drive& d)
      : recording(drive(d)), report(guard_recording(recording, rules, sheet)) {}
  std::vector<GuardedPlaces> places() const {
    return guarded_places(report, recording, rules, a_grid(), sheet.place.pressure.value);
  }
};

TEST(GuardedNodes, NoProposalMayLeanWhereItReadLeanUnderLoadAndMayElsewhere) {
  const auto places = Judged({.lambda = 0.97}).places();
  ASSERT_EQ(places.size(), 1U);
  EXPECT_EQ(places[0].rule, RuleKind::lean_under_load);
  EXPECT_NEAR(places[0].slowest.rpm, 2500, 60);
  EXPECT_NEAR(places[0].fastest.rpm, 4490, 20);
  EXPECT_NEAR(places[0].lowest.from_zero.in(kPa), 97, 0.05);
  const car::Surface in_force = car::Surface::flat(a_grid(), 0.80);
  car::Surface proposed = car::Surface::flat(a_grid(), 0.76);
  proposed.node(5, 8) = 0.85;  // richer stays
  // Speeds 2500 to 4500 rpm at 90 and 100 kPa: five columns, two rows; one of them goes richer.
  EXPECT_EQ(keep_from_leaning(proposed, in_force, places[0].nodes), 9);
  EXPECT_DOUBLE_EQ(proposed.at({.speed = rpm(3000), .map = absolute(99.0 * kPa)}), 0.80);
  EXPECT_DOUBLE_EQ(proposed.node(5, 8), 0.85);
  // The cruise before the pull, a lighter pull and a faster one are as free as they were.
  EXPECT_DOUBLE_EQ(proposed.at({.speed = rpm(2000), .map = absolute(45.0 * kPa)}), 0.76);
  EXPECT_DOUBLE_EQ(proposed.at({.speed = rpm(3000), .map = absolute(80.0 * kPa)}), 0.76);
  EXPECT_DOUBLE_EQ(proposed.at({.speed = rpm(5500), .map = absolute(99.0 * kPa)}), 0.76);
}

TEST(GuardedNodes, HotCoolantAndALowBatteryForbidNoLeaning) {
  const Judged hot({.coolant_degc = 118, .battery_v = 11.2});
  ASSERT_GE(hot.report.firings.size(), 2U);
  EXPECT_TRUE(hot.places().empty());
  for (const RuleKind k : {RuleKind::coolant, RuleKind::battery_low, RuleKind::oil_pressure,
                           RuleKind::overspeed, RuleKind::sensor_lost}) {
    EXPECT_FALSE(forbids_leaning(k));
  }
  for (const RuleKind k :
       {RuleKind::lean_under_load, RuleKind::knock, RuleKind::fuel_pressure, RuleKind::duty}) {
    EXPECT_TRUE(forbids_leaning(k));
  }
}

TEST(GuardedNodes, AHotDriveWithALeanPullKeepsThePullAlone) {
  const auto places = Judged({.lambda = 0.97, .coolant_degc = 118}).places();
  ASSERT_EQ(places.size(), 1U);
  EXPECT_EQ(std::ranges::count(places[0].nodes, true), 10);
}

TEST(GuardedNodes, ACruiseIsNotWatchedForALeanPullAndAPullIs) {
  const Judged d({});
  const car::Grid grid = a_grid();
  const auto s = seconds_watched(RuleKind::lean_under_load, d.recording, d.rules, grid,
                                 d.sheet.place.pressure.value);
  double all = 0;
  for (const double one : s) all += one;
  EXPECT_NEAR(all, 10, 0.11);  // of the thirty seconds, those of the pull
  EXPECT_EQ(s[grid.index(2, 2)], 0);
  // 200 rpm/s: 2.5 s pass between two columns; a column has half of the seconds on either side.
  EXPECT_NEAR(s[grid.index(5, 7)] + s[grid.index(5, 8)], 2.5, 0.11);
  const auto knock =
      seconds_watched(RuleKind::knock, d.recording, d.rules, grid, d.sheet.place.pressure.value);
  EXPECT_EQ(std::ranges::max(knock), 0);  // not recorded
}

TEST(GuardedNodes, FiguresForPeopleComeInTheirUnits) {
  const Judged d({.lambda = 0.97, .coolant_degc = 118});
  for (const Firing& f : d.report.firings) {
    EXPECT_THAT(in_words(f, UnitSystem::us), testing::Not(testing::HasSubstr("kPa")));
    EXPECT_THAT(in_words(f, UnitSystem::us), testing::HasSubstr("inHg"));
    EXPECT_THAT(in_words(f, UnitSystem::metric), testing::HasSubstr("kPa"));
  }
  // 1 inHg is 3.386389 kPa (NIST SP 811, conventional): 90 kPa are 26.6 inHg. 110 degC are 230
  // degF.
  EXPECT_EQ(shown_condition(d.rules.of(RuleKind::lean_under_load), UnitSystem::us), "26.6 inHg");
  EXPECT_EQ(shown(RuleKind::coolant, 383.15, UnitSystem::us), "230.0 degF");
  EXPECT_EQ(shown(RuleKind::lean_under_load, 0.92, UnitSystem::us), "lambda 0.92");
  EXPECT_EQ(shown(RuleKind::fuel_pressure, 0.10, UnitSystem::metric), "10 %");
}

}  // namespace
}  // namespace fuelwright::advice::guarded_nodes_test
