#include "car/build/derived.h"

#include <gtest/gtest.h>

namespace fuelwright::car::derived_test {
namespace {

// By hand: pi/4 * 8.6^2 * 8.6 * 4 = 1998.2 cm3.
TEST(Derived, FourCylindersOfEightySixBySixAreTwoLitres) {
  EXPECT_NEAR(swept_volume(86 * mm, 86 * mm, 4).in(cm3), 1998.2, 0.1);
}

TEST(Derived, ClearanceVolumeMakesTheCompressionRatio) {
  Sheet s;
  s.engine.displacement.value = 2.0 * litre;
  s.engine.cylinders.value = 4;
  s.engine.compression.value = 11;
  EXPECT_NEAR(clearance_volume(s).in(cm3), 50, 1e-9);  // 500 / (11 - 1)
}

TEST(Derived, MeanPistonSpeedIsTwoStrokesATurn) {
  EXPECT_NEAR(mean_piston_speed(100 * mm, rpm(6000)).si, 20, 1e-12);
}

// By hand: (222 + 226)/2 - 2 * 112 = 0.
TEST(Derived, OverlapAtFiftyThousandthsGrowsAsTheLobesComeTogether) {
  const CrankAngle in = crank_degrees(222), out = crank_degrees(226);
  EXPECT_NEAR(overlap(in, out, crank_degrees(112)).degrees(), 0, 1e-9);
  EXPECT_NEAR(overlap(in, out, crank_degrees(108)).degrees(), 8, 1e-9);
}

// U.S. Standard Atmosphere 1976, geometric altitude (table values).
TEST(Derived, TheStandardAtmosphereIsThatOfItsTable) {
  constexpr double kTable_pa = 3;  // rounding of the exponent
  EXPECT_NEAR(standard_pressure(0 * metre).from_zero.si, 101'325, 1e-9);
  EXPECT_NEAR(standard_pressure(2000 * metre).from_zero.si, 79'501, kTable_pa);
  EXPECT_NEAR(standard_pressure(4000 * metre).from_zero.si, 61'660, kTable_pa);
}

}  // namespace
}  // namespace fuelwright::car::derived_test
