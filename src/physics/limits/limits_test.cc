#include "physics/limits/limits.h"

#include <gtest/gtest.h>

#include "car/build/derived.h"
#include "car/build/sheet_file.h"

namespace fuelwright::physics::limits::limits_test {
namespace {

car::Sheet sheet_with(const std::string& more) {
  auto sheet = car::read_sheet(
      "[engine]\nbore = \"102 mm\"\nstroke = \"88 mm\"\ncylinders = 8\n[fuel]\nname = "
      "\"E10\"\n[injection]\ninjector_flow = \"36 lb/h at 43.5 psi\"\n" +
          more,
      "sheet.toml");
  EXPECT_TRUE(sheet.ok()) << (sheet.ok() ? "" : sheet.error().line());
  return sheet.ok() ? *sheet : car::Sheet{};
}
const char* const kCam = "[cam]\nintake_duration_050 = \"222 deg\"\n";

std::vector<EngineSpeed> speeds() {
  std::vector<EngineSpeed> out;
  for (double n = 1000; n <= 7000; n += 500) out.push_back(rpm(n));
  return out;
}
std::vector<Power> power_with_peak(double at) {
  std::vector<Power> out;
  for (const EngineSpeed n : speeds()) {
    const double x = (n.rpm - at) / at;
    out.push_back(Power{300e3 * (1 - x * x)});
  }
  return out;
}

// By hand: 20 m/s with a stroke of 88 mm is 20 x 60/(2 x 0.088) = 6818 rpm (mean piston speed 2 s
// n).
TEST(RevLimit, MeanPistonSpeedIsTwoStrokesATurn) {
  EXPECT_NEAR(speed_at_piston(88.0 * mm, Speed{20}).rpm, 6818.2, 0.1);
  EXPECT_NEAR(car::mean_piston_speed(88.0 * mm, rpm(6818.18)).si, 20, 1e-4);
}

// Parabola 1 - x^2: 5 % lost at x = sqrt(0.05) = 0.2236: peak 5200 -> 6363 rpm; straight lines
// between 500 rpm are a little inside of it.
TEST(RevLimit, BreathingEndsWherePowerHasFallenAFewPercent) {
  const auto end = breathes_to(speeds(), power_with_peak(5200));
  ASSERT_TRUE(end);
  EXPECT_NEAR(end->rpm, 6363, 30);
  EXPECT_FALSE(breathes_to(speeds(), power_with_peak(6900)));
}

TEST(RevLimit, TheLeastBoundIsSuggestedWithItsReason) {
  const car::Sheet s = sheet_with(kCam);
  const RevLimit weak = rev_limit(s, speeds(), {power_with_peak(4200), power_with_peak(4300)});
  EXPECT_EQ(weak.by, LimitBy::breathing);
  EXPECT_NEAR(weak.hard.rpm, 5150, 100);
  const RevLimit strong = rev_limit(s, speeds(), {power_with_peak(6900), power_with_peak(6900)});
  EXPECT_EQ(strong.by, LimitBy::valve_train);
  EXPECT_LT(strong.soft, strong.hard);
  // Street V8s of 5.5 to 7 litres are limited between about 5800 and 6500 rpm (practice, no
  // source).
  EXPECT_GE(strong.hard.rpm, 5800);
  EXPECT_LE(strong.hard.rpm, 6500);
}

TEST(RevLimit, AStatedLimitIsKeptAndToldWhatItExceeds) {
  const auto limit_for = [](const char* stated, double peak) {
    return rev_limit(
        sheet_with(std::string(kCam) + "[wishes]\nrev_limit = \"" + stated + " rpm\"\n"), speeds(),
        {power_with_peak(peak)});
  };
  const RevLimit asked = limit_for("7500", 4500);
  EXPECT_EQ(asked.stated->rpm, 7500);
  EXPECT_TRUE(asked.stated_less_safe());
  EXPECT_EQ(asked.by, LimitBy::breathing);
  EXPECT_LT(asked.hard.rpm, 6000);
  EXPECT_TRUE(asked.beyond_valve_train);
  EXPECT_TRUE(asked.beyond_breathing);
  EXPECT_FALSE(asked.beyond_racing);
  // 25 m/s is racing (practice): 8523 rpm with this stroke.
  EXPECT_TRUE(limit_for("9500", 6900).beyond_racing);
  EXPECT_FALSE(limit_for("8500", 6900).beyond_racing);
}

// A careful owner is not talked into more.
TEST(RevLimit, TheSuggestionNeverExceedsWhatWasStated) {
  const RevLimit careful =
      rev_limit(sheet_with(std::string(kCam) + "[wishes]\nrev_limit = \"4800 rpm\"\n"), speeds(),
                {power_with_peak(6900)});
  EXPECT_EQ(careful.hard.rpm, 4800);
  EXPECT_EQ(careful.by, LimitBy::wish);
  EXPECT_FALSE(careful.stated_less_safe());
}

TEST(RevLimit, SolidTappetsFollowFurtherThanHydraulicOnes) {
  const auto middle = [](const char* tappet) {
    return valve_train_rpm(
               sheet_with(std::string("[cam]\nintake_duration_050 = \"222 deg\"\ntappet = \"") +
                          tappet + "\"\n")
                   .cam)
        .middle;
  };
  EXPECT_LT(middle("hydraulic_flat"), middle("solid_flat"));
  EXPECT_LT(middle("solid_flat"), middle("direct"));
}

TEST(MapSensor, MustReachAmbientAndBoost) {
  const car::Sheet s =
      sheet_with(std::string(kCam) + "[sensors]\nmap_low = \"10 kPa\"\nmap_high = \"105 kPa\"\n");
  const SensorRange plain = map_range(s, PressureStep{0}, absolute(20.0 * kPa));
  EXPECT_TRUE(plain.high_enough && plain.low_enough);
  const SensorRange boosted = map_range(s, 40.0 * kPa, absolute(20.0 * kPa));
  EXPECT_FALSE(boosted.high_enough);
  EXPECT_NEAR(boosted.needs_high.from_zero.in(kPa), 200, 1e-9);
  const car::Sheet large =
      sheet_with(std::string(kCam) + "[sensors]\nmap_low = \"10 kPa\"\nmap_high = \"300 kPa\"\n");
  EXPECT_GT(map_range(large, PressureStep{0}, absolute(20.0 * kPa)).lost.in(kPa), 180);
}

// By hand: 8 A pump, 35 A others, 8 injectors 80 % of 1 A = 6.4 A, 8 x 6000/120 = 400 sparks of 0.1
// J at 13.8 V = 2.9 A: 52.3 A.
TEST(Alternator, LoadIsTheSumOfItsParts) {
  Loads l;
  l.fuel_pump = 8.0 * ampere;
  l.injectors = 8;
  l.duty = 0.8;
  l.cylinders = 8;
  l.speed = rpm(6000);
  l.idle = rpm(800);
  EXPECT_NEAR(electric_load(l).full.si, 52.3, 0.05);
  l.alternator = 60.0 * ampere;
  ASSERT_TRUE(electric_load(l).margin);
  EXPECT_LT(*electric_load(l).margin, 0);  // 30 A at idle for 43 A drawn
  l.alternator = 120.0 * ampere;
  EXPECT_GT(*electric_load(l).margin, 0);
}

}  // namespace
}  // namespace fuelwright::physics::limits::limits_test
