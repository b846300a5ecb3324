// The inputs of the outside engine checks, held still: they were written before the comparison they
// serve.
#include <gtest/gtest.h>

#include <fstream>
#include <sstream>

#include "car/build/sheet_file.h"
#include "physics/breathing/breathing.h"
#include "rated_cars.h"

namespace fuelwright::outside {
namespace {

TEST(OutsideInputs, TheRulesFromThreeNumbersStandAsFrozen) {
  const auto four = sheet_from_rating(4, 2.0 * litre, rpm(6000));
  ASSERT_TRUE(four.ok()) << four.error().line();
  EXPECT_EQ(four->heads.valves_per_cylinder.value, 4);
  EXPECT_NEAR(four->cam.intake_duration_050.value.degrees(), 216.0, 1e-9);
  EXPECT_NEAR(four->intake.runner_length.value.in(mm), 356, 1e-9);
  EXPECT_NEAR(four->wishes.rev_limit.value.rpm, 6480, 1e-9);
  const auto eight = sheet_from_rating(8, 5.0 * litre, rpm(4600));
  ASSERT_TRUE(eight.ok()) << eight.error().line();
  EXPECT_EQ(eight->heads.valves_per_cylinder.value, 2);
  EXPECT_NEAR(eight->cam.intake_duration_050.value.degrees(), 200.0, 1e-9);
  EXPECT_NEAR(eight->intake.runner_length.value.in(mm), 464, 1e-9);
  EXPECT_NEAR(eight->exhaust.back_pressure.value.above_ambient.in(kPa), 25, 1e-9);
}

TEST(OutsideInputs, EveryCarThatCouldBeSoldBecomesAnEngine) {
  for (const int cylinders : {3, 4, 5, 6, 8, 12}) {
    for (const double one : {0.3, 0.4, 0.5, 0.625, 0.7}) {
      for (double rated = 3600; rated <= 7200; rated += 400) {
        const auto sheet = sheet_from_rating(cylinders, cylinders * one * litre, rpm(rated));
        ASSERT_TRUE(sheet.ok()) << sheet.error().line();
        const auto model = physics::engine_model(*sheet);
        EXPECT_TRUE(model.ok()) << (model.ok() ? "" : model.error().line());
      }
    }
  }
}

TEST(OutsideInputs, TheTwinCamFourIsReadAndBecomesAnEngine) {
  const std::string path =
      std::string(FUELWRIGHT_SOURCE_DIR) + "/tests/outside/engine_1900_dohc.toml";
  std::ifstream in(path);
  std::stringstream text;
  text << in.rdbuf();
  const auto sheet = car::read_sheet(text.str(), "engine_1900_dohc.toml");
  ASSERT_TRUE(sheet.ok()) << sheet.error().line();
  EXPECT_NEAR(sheet->engine.displacement.value.in(litre), 1.901,
              0.001);  // pi/4 * 0.82^2 * 0.90 * 4 dm3
  EXPECT_TRUE(physics::engine_model(*sheet).ok());
}

}  // namespace
}  // namespace fuelwright::outside
