#include <fmt/format.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <set>

#include "car/build/sheet_file.h"
#include "physics/breathing/internal/parts.h"
#include "physics/breathing/random_sheet.h"

namespace fuelwright::physics {
namespace {

std::string five(double litres, int cylinders, const std::string& engine = "",
                 const char* fuel = "petrol") {
  return fmt::format(
      "[engine]\ndisplacement = \"{} l\"\ncylinders = {}\n{}[cam]\nintake_duration_050 = \"214 "
      "deg\"\n"
      "[injection]\ninjector_flow = \"36 lb/h at 43.5 psi\"\n[fuel]\nname = \"{}\"\n",
      litres, cylinders, engine, fuel);
}

car::Sheet sheet(const std::string& text) {
  auto s = car::read_sheet(text, "sheet.toml");
  EXPECT_TRUE(s.ok()) << (s.ok() ? "" : s.error().line());
  return *s;
}

EngineModel::Parts parts(const std::string& text, const Unstated& unstated = {}) {
  auto model = engine_model(sheet(text), unstated);
  EXPECT_TRUE(model.ok()) << (model.ok() ? "" : model.error().line());
  return model->parts();
}

// 4.000 x 3.480 in, eight cylinders: pi/4 * 4^2 * 3.48 = 43.73 cubic inches = 716.6 cm3 each; 9.5 :
// 1 leaves 716.6 / 8.5 = 84.3 cm3.
TEST(EngineModel, VolumesFollowFromBoreStrokeAndCompression) {
  const auto p =
      parts(five(5.73, 8, "bore = \"4.000 in\"\nstroke = \"3.480 in\"\ncompression = 9.5\n"));
  EXPECT_NEAR(p.swept_m3 * 1e6, 716.6, 0.1);
  EXPECT_NEAR(p.clearance_m3 * 1e6, 84.3, 0.1);
  EXPECT_NEAR(p.bore_m, 0.1016, 1e-9);
}

TEST(EngineModel, AnEngineKnownByItsDisplacementKeepsIt) {
  auto s = sheet(five(2.0, 4));
  s.engine.stroke.value = 1.05 * s.engine.stroke.value;  // as an ensemble draws it
  const auto p = engine_model(s)->parts();
  EXPECT_NEAR(p.swept_m3 * 4e3, 2.0, 1e-9);
  EXPECT_NEAR(std::numbers::pi / 4 * p.bore_m * p.bore_m * p.stroke_m, p.swept_m3, 1e-12);
}

TEST(EngineModel, CylindersFireEvenlyInTheirOrder) {
  const auto p = parts(five(2.0, 4, "firing_order = \"1-3-4-2\"\n"));
  EXPECT_EQ(p.firing_deg, (std::vector<double>{0, 540, 180, 360}));
  EXPECT_EQ(p.bank, (std::vector<int>{0, 0, 0, 0}));
  const auto turned =
      parts(five(2.0, 4, "firing_order = \"4-2-1-3\"\n"));  // the same order, said from 4 on
  EXPECT_EQ(turned.firing_deg, p.firing_deg);
}

TEST(EngineModel, TheFiringOrderTellsHowTheBanksAreNumbered) {
  const auto odd_even = parts(five(5.7, 8, "firing_order = \"1-8-4-3-6-5-7-2\"\n"));
  EXPECT_EQ(odd_even.bank, (std::vector<int>{0, 1, 0, 1, 0, 1, 0, 1}));
  const auto in_a_row = parts(five(5.0, 8, "firing_order = \"1-5-4-2-6-3-7-8\"\n"));
  EXPECT_EQ(in_a_row.bank, (std::vector<int>{0, 0, 0, 0, 1, 1, 1, 1}));
  const auto twelve = parts(five(6.0, 12, "firing_order = \"1-7-5-11-3-9-6-12-2-8-4-10\"\n"));
  EXPECT_EQ(twelve.bank, (std::vector<int>{0, 0, 0, 0, 0, 0, 1, 1, 1, 1, 1, 1}));
}

TEST(EngineModel, EachHalfOfATwoPlaneManifoldFeedsEveryOtherFiring) {
  const auto p = parts(five(5.7, 8) + "[intake]\narrangement = \"two_plane\"\n");
  EXPECT_EQ(p.plenums, 2);
  std::array<int, 8> by_firing{};
  for (std::size_t c = 0; c < 8; ++c)
    by_firing[static_cast<std::size_t>(p.firing_deg[c] / 90)] = p.plenum[c];
  for (std::size_t k = 0; k < 8; ++k) EXPECT_EQ(by_firing[k], by_firing[(k + 2) % 8]);
  EXPECT_NE(by_firing[0], by_firing[1]);
  EXPECT_GT(p.runner_m[0], p.runner_m[2]);
}

TEST(EngineModel, IndividualThrottlesFeedOneCylinderEach) {
  const auto p =
      parts(five(2.0, 4) +
            "[intake]\narrangement = \"individual_throttles\"\nthrottle_diameter = \"45 mm\"\n");
  EXPECT_EQ(p.plenums, 4);
  EXPECT_EQ(p.plenum, (std::vector<int>{0, 1, 2, 3}));
  EXPECT_NEAR(p.throttle_area_m2, 4 * 0.85 * std::numbers::pi / 4 * 0.045 * 0.045, 1e-9);
}

TEST(EngineModel, ListedRunnersAreTakenAndTypicalOnesFollowTheirMean) {
  const auto listed =
      parts(five(2.0, 4) +
            "[intake]\nrunner_lengths = { values = [300, 320, 340, 360], unit = \"mm\" }\n");
  EXPECT_NEAR(listed.runner_m[0], 0.300, 1e-12);
  EXPECT_NEAR(listed.runner_mean_m, 0.330, 1e-12);
  auto s =
      sheet(five(5.7, 8) + "[intake]\narrangement = \"two_plane\"\nrunner_length = \"300 mm\"\n");
  s.intake.runner_length.value = 330 * mm;  // as an ensemble draws it
  const auto drawn = engine_model(s)->parts();
  EXPECT_NEAR(drawn.runner_mean_m, 0.330, 1e-12);
  double sum = 0;
  for (const double one : drawn.runner_m) sum += one;
  EXPECT_NEAR(sum / 8, 0.330, 1e-9);
}

TEST(EngineModel, TwoToFiveValvesOpenAndShutAboutTheOverlap) {
  for (const int valves : {2, 3, 4, 5}) {
    const auto p = parts(five(2.0, 4) + fmt::format("[heads]\nvalves_per_cylinder = {}\n", valves));
    EXPECT_GT(p.exhaust.opens_deg, 100) << valves;
    EXPECT_LT(p.exhaust.opens_deg, 180);
    EXPECT_GT(p.exhaust.shuts_deg, 340);
    EXPECT_LT(p.intake.opens_deg, 380);
    EXPECT_GT(p.intake.shuts_deg, 540);  // after bottom dead centre
    EXPECT_LT(p.intake.shuts_deg, 640);
    const double bore_area = std::numbers::pi / 4 * p.bore_m * p.bore_m;
    const double most = *std::max_element(p.intake.forward.begin(), p.intake.forward.end());
    EXPECT_GT(most, 0.08 * bore_area) << valves;
    EXPECT_LT(most, 0.25 * bore_area) << valves;
  }
}

// 5.7 l at 0.92 of 6000 rpm draws 5.7e-3 * 46 * 1.18 * 0.85 = 0.263 kg/s of air; exhaust 1 +
// 1/(0.87 * 14.6) of it.
TEST(EngineModel, ExhaustAtFullPowerFollowsFromSizeAndRevLimit) {
  const auto p = parts(
      five(5.7, 8) + "[wishes]\nrev_limit = \"6000 rpm\"\n[exhaust]\nback_pressure = \"20 kPa\"\n");
  EXPECT_NEAR(p.back_pressure_kg_s, 0.263 * (1 + 1 / (0.87 * 14.6)), 0.002);
  EXPECT_NEAR(p.back_pressure_pa, 20e3, 1e-6);
}

// From memory: petrol 43 MJ/kg, 350 kJ/kg, ethanol 26.8, 920, 46 g/mol.
TEST(EngineModel, TheFuelBringsItsHeatAndItsVapour) {
  const auto petrol = parts(five(2.0, 4)), ethanol = parts(five(2.0, 4, "", "ethanol"));
  EXPECT_NEAR(petrol.heating_j_kg, 43e6, 0.8e6);
  EXPECT_NEAR(ethanol.heating_j_kg, 26.8e6, 0.8e6);
  EXPECT_NEAR(petrol.vaporising_j_kg, 350e3, 1);
  EXPECT_NEAR(ethanol.vaporising_j_kg, 920e3, 5e3);
  EXPECT_NEAR(ethanol.fuel_molar_kg, 0.046, 0.003);
  EXPECT_NEAR(petrol.stoichiometric, 14.6, 0.05);
}

TEST(EngineModel, TheManifoldIsTheSheets) {
  const auto p = parts(five(2.0, 4) +
                       "[exhaust]\narrangement = \"four_two_one\"\nprimary_diameter = \"40 mm\"\n");
  EXPECT_EQ(p.manifold, Manifold::four_two_one);
  EXPECT_NEAR(p.secondary_area_m2 / p.primary_area_m2, 1.44, 1e-9);
  EXPECT_EQ(parts(five(2.0, 4)).manifold, Manifold::four_into_one);
}

TEST(EngineModel, WhatCannotBeComputedIsSaidInOneLine) {
  const auto sixteen = engine_model(sheet(five(8.0, 16)));
  ASSERT_FALSE(sixteen.ok());
  EXPECT_EQ(sixteen.error().line(),
            "engine.cylinders: 16 cylinders; the flow is computed for 1 to 12");
  auto nothing = engine_model(car::Sheet{});
  EXPECT_FALSE(nothing.ok());
  auto s = sheet(five(2.0, 4));
  s.intake.runner_diameter.value = -1 * mm;
  ASSERT_FALSE(engine_model(s).ok());
  EXPECT_EQ(engine_model(s).error().where, "intake.runner_diameter");
}

TEST(EngineModel, TheAirUnderTheBonnetIsTenDegreesWarmer) {
  const Surroundings s = surroundings_of(
      sheet(five(2.0, 4) + "[place]\naltitude = \"2000 m\"\ntemperature = \"20 degC\"\n"));
  EXPECT_NEAR(in_celsius(s.intake_air), 30, 1e-9);
  EXPECT_NEAR(s.ambient.from_zero.in(kPa), 79.5, 0.05);
}

TEST(Unstated, EveryUnstatedValueHasASpreadASourceAndItsHistory) {
  const auto all = unstated_spreads();
  EXPECT_EQ(all.size(), sizeof(Unstated) / sizeof(double));
  std::set<const double*> seen;
  const Unstated typical;
  for (const UnstatedSpread& s : all) {
    EXPECT_TRUE(seen.insert(&(typical.*s.at)).second) << s.name;
    EXPECT_GT(s.half_width, 0) << s.name;
    EXPECT_NE(std::string(s.name), "");
    EXPECT_NE(std::string(s.source), "");
    EXPECT_NE(s.seen, nullptr);
    EXPECT_TRUE(!s.as_factor || typical.*s.at > 0) << s.name;
  }
}

TEST(Unstated, AnEngineStandsAtBothEndsOfEverySpread) {
  const car::Sheet s = sheet(five(5.7, 8));
  for (const UnstatedSpread& spread : unstated_spreads()) {
    for (const double side : {-1.0, 1.0}) {
      Unstated u;
      const double w = side * spread.half_width;
      u.*spread.at = spread.as_factor ? u.*spread.at * std::exp(w) : u.*spread.at + w;
      EXPECT_TRUE(engine_model(s, u).ok()) << spread.name;
    }
  }
}

// Everything that the flow model divides by or loops over.
void expect_sound(const EngineModel::Parts& p, const std::string& text) {
  const auto n = static_cast<std::size_t>(p.cylinders);
  EXPECT_TRUE(p.firing_deg.size() == n && p.bank.size() == n && p.plenum.size() == n &&
              p.runner_m.size() == n);
  for (const double x :
       {p.bore_m, p.stroke_m, p.rod_m, p.swept_m3, p.clearance_m3, p.runner_area_m2, p.plenum_m3,
        p.throttle_area_m2, p.duct_m, p.duct_area_m2, p.primary_m, p.primary_area_m2, p.collector_m,
        p.collector_area_m2, p.back_pressure_kg_s, p.heating_j_kg, p.intake_lift_max_m}) {
    EXPECT_TRUE(x > 0 && x < 1e9) << text;
  }
  for (const ValveArea* v : {&p.intake, &p.exhaust}) {
    EXPECT_LT(v->opens_deg, v->shuts_deg) << text;
    for (int d = 0; d < kCycleDegrees; ++d) {
      const double a = v->forward[static_cast<std::size_t>(d)];
      const bool within =
          (d >= v->opens_deg && d <= v->shuts_deg) || d + kCycleDegrees <= v->shuts_deg;
      EXPECT_TRUE(within ? a > 0 && a < 0.02 : a == 0) << d << "\n" << text;
    }
  }
}

TEST(RandomSheets, EverySheetBecomesAModelOrOneClearLine) {
  constexpr int kSheets = 10'000;
  std::array<int, 3> models{}, sheets{}, late{};
  for (int seed = 0; seed < kSheets; ++seed) {
    const auto wildness = static_cast<Wildness>(seed % 3);
    const auto k = static_cast<std::size_t>(seed % 3);
    const std::string text = random_sheet_text(static_cast<std::uint64_t>(seed), wildness);
    ++sheets[k];
    const auto read = car::read_sheet(text, "sheet.toml");
    const auto model = read.ok() ? engine_model(*read) : Result<EngineModel>(read.error());
    if (model.ok()) {
      ++models[k];
      expect_sound(model->parts(), text);
      continue;
    }
    if (read.ok()) ++late[k];
    const std::string line = model.error().line();
    EXPECT_FALSE(model.error().message.empty()) << text;
    EXPECT_FALSE(model.error().where.empty()) << line << "\n" << text;
    EXPECT_LT(line.size(), 600u) << line;
    EXPECT_TRUE(std::all_of(line.begin(), line.end(), [](char c) {
      return static_cast<unsigned char>(c) >= 0x20;
    })) << line;
    if (wildness == Wildness::sensible) ADD_FAILURE() << line << "\n" << text;
  }
  // The generator reaches every branch: models and refusals of both kinds.
  EXPECT_EQ(models[0], sheets[0]);
  EXPECT_GT(models[1], sheets[1] / 50);
  EXPECT_GT(models[2], sheets[2] / 50);
  EXPECT_GT(late[1] + late[2], 20);
  EXPECT_LT(models[2], sheets[2] / 2);
  RecordProperty("models_within_limits", models[1]);
}

TEST(RandomSheets, TheSameSeedGivesTheSameText) {
  EXPECT_EQ(random_sheet_text(7, Wildness::hostile), random_sheet_text(7, Wildness::hostile));
  EXPECT_NE(random_sheet_text(7, Wildness::hostile), random_sheet_text(8, Wildness::hostile));
}

}  // namespace
}  // namespace fuelwright::physics
