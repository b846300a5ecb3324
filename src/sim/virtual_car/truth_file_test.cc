#include "sim/virtual_car/truth_file.h"

#include <cmath>
#include <set>

#include "sim/virtual_car/internal/parameters.h"
#include "sim/virtual_car/test_car.h"

namespace fuelwright::sim::virtual_car::truth_file_test {
namespace {

std::string refusal(const std::string& text) {
  const auto r = truth_in(text, "t.toml", test_sheet(), 1);
  return r.ok() ? "read" : r.error().line();
}

TEST(TruthFile, WhatIsWrittenReadsBackToTheSameCarWhateverSheetAndSeed) {
  const Truth truth =
      test_truth(test_sheet(), "[recorder]\nmissing = [\"correction\", \"maf\"]\n", 7);
  const std::string text = truth_out(truth);
  const auto again = truth_in(text, "t.toml", test_sheet("[car]\nmass = \"900 kg\"\n"), 99);
  ASSERT_TRUE(again.ok()) << again.error().line();
  for (const Parameter& p : all_parameters()) {
    EXPECT_EQ(p.get(*again), p.get(truth)) << p.section << "." << p.key;
  }
  EXPECT_EQ(again->air.ve, truth.air.ve);
  EXPECT_EQ(again->air.residual, truth.air.residual);
  EXPECT_EQ(again->air.cylinders, truth.air.cylinders);
  EXPECT_EQ(again->fuel.cylinders, truth.fuel.cylinders);
  EXPECT_EQ(again->vehicle.gears, truth.vehicle.gears);
  EXPECT_EQ(again->recorder.missing, truth.recorder.missing);
  EXPECT_EQ(truth_out(*again), text);
}

TEST(TruthFile, StatingOneKeyLeavesAllOthersAsTheyWereDrawn) {
  const car::Sheet sheet = test_sheet();
  const Truth drawn = drawn_truth(sheet, 5);
  const auto stated = truth_in("[film]\nfast_share = 0.33\n", "t.toml", sheet, 5);
  ASSERT_TRUE(stated.ok());
  EXPECT_EQ(stated->film.fast_share, 0.33);
  for (const Parameter& p : all_parameters()) {
    if (std::string_view(p.key) == "fast_share") continue;
    EXPECT_EQ(p.get(*stated), p.get(drawn)) << p.key;
  }
}

TEST(TruthFile, EveryDrawLiesWithinItsLimitsAndTwoSeedsGiveTwoCars) {
  const car::Sheet sheet = test_sheet();
  std::set<double> lags;
  for (std::uint64_t seed = 1; seed <= 40; ++seed) {
    const Truth t = drawn_truth(sheet, seed);
    for (const Parameter& p : all_parameters()) {
      const double shown = (p.get(t) - p.zero) / p.unit;
      EXPECT_GE(shown, p.lowest - 1e-9 * std::abs(p.lowest)) << p.key;
      EXPECT_LE(shown, p.highest + 1e-9 * std::abs(p.highest)) << p.key;
    }
    lags.insert(t.sensor.lag.si);
  }
  EXPECT_EQ(lags.size(), 40u);
}

TEST(TruthFile, AWetManifoldHoldsMoreFuelOnItsWallsThanPorts) {
  car::Sheet sheet = test_sheet();
  const Truth ports = drawn_truth(sheet, 1);
  sheet.injection.arrangement.value = car::InjectionArrangement::throttle;
  const Truth wet = drawn_truth(sheet, 1);
  EXPECT_FALSE(ports.film.above_throttle);
  EXPECT_TRUE(wet.film.above_throttle);
  EXPECT_GT(wet.film.fast_share + wet.film.slow_share,
            ports.film.fast_share + ports.film.slow_share);
  EXPECT_GT(wet.film.slow_time, ports.film.slow_time);
}

TEST(TruthFile, UnitsStandInTheKeys) {
  const auto t = truth_in(
      "[fuel]\nregulator_kpa = 250\ndead_time_ms = 0.8\nflow_g_per_s = 3\n"
      "[weather]\nair_degc = -10\n[vehicle]\nautomatic = true\n",
      "t.toml", test_sheet(), 1);
  ASSERT_TRUE(t.ok());
  EXPECT_DOUBLE_EQ(t->fuel.regulator.si, 250e3);
  EXPECT_DOUBLE_EQ(t->fuel.dead_time.si, 0.8e-3);
  EXPECT_DOUBLE_EQ(t->fuel.flow.si, 3e-3);
  EXPECT_NEAR(t->weather.air.from_zero.si, 263.15, 1e-9);
  EXPECT_TRUE(t->vehicle.automatic);
}

TEST(TruthFile, AMistakeIsOneLineWithItsPlaceAndWhatWasExpected) {
  EXPECT_NE(refusal("[film\n").find("t.toml:1: is no TOML"), std::string::npos);
  EXPECT_NE(refusal("\n[flim]\nx = 1\n").find("t.toml:2: flim: unknown section"),
            std::string::npos);
  EXPECT_NE(refusal("[film]\nfast = 1\n").find("known: above_throttle, fast_share"),
            std::string::npos);
  EXPECT_EQ(refusal("[film]\nfast_share = 2\n"),
            "t.toml:2: film.fast_share: 2 came; expected 0 to 0.7");
  EXPECT_EQ(refusal("[film]\nfast_share = \"much\"\n"), "t.toml:2: film.fast_share: is no number");
  EXPECT_NE(refusal("[engine]\ncylinders = 4.5\n").find("whole number"), std::string::npos);
  EXPECT_NE(refusal("[fuel]\ncylinders = [1, 1]\n").find("one for each of 4"), std::string::npos);
  EXPECT_NE(refusal("[recorder]\nmissing = [\"smell\"]\n").find("known: throttle"),
            std::string::npos);
  EXPECT_NE(refusal("[air]\nve = [0.8]\n").find("air.ve"), std::string::npos);
  EXPECT_NE(refusal("format = \"other\"\n").find("fuelwright truth 1"), std::string::npos);
  EXPECT_NE(refusal("[film]\nfast_share = nan\n").find("expected 0 to 0.7"), std::string::npos);
  EXPECT_NE(refusal("film = 3\n").find("is no section"), std::string::npos);
}

}  // namespace
}  // namespace fuelwright::sim::virtual_car::truth_file_test
