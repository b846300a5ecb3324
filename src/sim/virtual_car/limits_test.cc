// A stranger's truth file may stand at any of its limits: the car then drives badly, but it drives.
#include <cmath>

#include "sim/virtual_car/internal/parameters.h"
#include "sim/virtual_car/test_car.h"

namespace fuelwright::sim::virtual_car::limits_test {
namespace {

TEST(TruthFile, EveryLimitCanBeDriven) {
  const car::Sheet sheet = test_sheet();
  const Cycle cycle{{0, 3, 12, 18, 22}, {0, 0, 12, 12, 4}};
  for (const Parameter& p : all_parameters()) {
    for (const double value : {p.lowest, p.highest}) {
      const std::string text =
          std::string("[") + p.section + "]\n" + p.key + " = " + std::to_string(value) + "\n";
      auto truth = truth_in(text, "t.toml", sheet, 1);
      ASSERT_TRUE(truth.ok()) << truth.error().line();
      give_plain_air(*truth);
      const auto drive = drive_car(*truth, sheet, calibration_as_found(*truth, sheet, 1),
                                   {.task = cycle, .keep_truth = true});
      ASSERT_TRUE(drive.ok()) << text << drive.error().line();
      EXPECT_EQ(drive->recording.find("nan"), std::string::npos) << text;
      EXPECT_EQ(drive->recording.find("inf"), std::string::npos) << text;
      for (const TrueMoment& m : drive->truth) {
        ASSERT_TRUE(std::isfinite(m.speed.rpm) && m.speed.rpm > 0 && m.speed.rpm < 20000) << text;
        ASSERT_TRUE(std::isfinite(m.film.si) && m.film.si >= 0) << text;
        ASSERT_TRUE(m.map.from_zero.si > 0 && m.map.from_zero.si < 120e3) << text;
      }
    }
  }
}

}  // namespace
}  // namespace fuelwright::sim::virtual_car::limits_test
