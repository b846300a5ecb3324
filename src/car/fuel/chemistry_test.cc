#include "car/fuel/chemistry.h"

#include <gtest/gtest.h>

namespace fuelwright::car::chemistry_test {
namespace {

constexpr double kLastDigit = 6e-4;      // values computed to three decimals
constexpr double kBookRounding = 0.005;  // relative: books round molar masses and the oxygen share

double afr(double c, double h, double o, AirConvention air = kAir) {
  return stoichiometric_afr(from_formula(c, h, o), air).value();
}

// By hand, isooctane C8H18: 8 + 18/4 = 12.5 O2; 12.5/0.20946 = 59.677 mol air = 1728.5 g; fuel
// 114.232 g.
TEST(Chemistry, IsooctaneNeedsAboutFifteenTimesItsMassOfAir) {
  EXPECT_NEAR(afr(8, 18, 0), 15.132, kLastDigit);
}

TEST(Chemistry, KnownFuelsNeedTheAirThatTheirElementsNeed) {  // computed with the same air
  EXPECT_NEAR(afr(1, 1.87, 0), 14.604, kLastDigit);
  EXPECT_NEAR(afr(7, 8, 0), 13.507, kLastDigit);
  EXPECT_NEAR(afr(2, 6, 1), 9.005, kLastDigit);
  EXPECT_NEAR(afr(1, 4, 1), 6.474, kLastDigit);
}

TEST(Chemistry, WithOxygenAndThreeSeventySixNitrogenTheRatioIsALittleLower) {
  // 1 O2 + 3.76 N2: share 1/4.76, (31.998 + 3.76 * 28.014)/4.76 = 28.850 g/mol (computed).
  const AirConvention book{1 / 4.76, (31.998 + 3.76 * 28.014) / 4.76};
  EXPECT_NEAR(afr(8, 18, 0, book), 15.028, kLastDigit);
  EXPECT_NEAR(afr(1, 1.87, 0, book), 14.503, kLastDigit);
  EXPECT_NEAR(afr(2, 6, 1, book), 8.943, kLastDigit);
  EXPECT_NEAR(afr(1, 4, 1, book), 6.429, kLastDigit);
}

// Mathur and Sharma, Internal Combustion Engines, ex. 8.3: C 84 H 16 by mass, 10.6 % excess
// air, 20.9 % oxygen: 16.8.
TEST(Chemistry, TextbookFuelWithTenPercentExcessAirBurnsAtSixteenPointEight) {
  const double st = stoichiometric_afr({0.84, 0.16, 0}, {0.209, 28.97}).value();
  EXPECT_NEAR(st * 1.106, 16.8, kBookRounding * 16.8);
}

// Mathur and Sharma, ex. 8.5: heptane, 21 % oxygen: 15.11.
TEST(Chemistry, TextbookHeptaneNeedsFifteenPointOneOne) {
  EXPECT_NEAR(afr(7, 16, 0, {0.21, 28.97}), 15.11, kBookRounding * 15.11);
}

TEST(Chemistry, OxygenInTheFuelReplacesAir) { EXPECT_LT(afr(2, 6, 1), afr(2, 6, 0)); }

TEST(Chemistry, AFormulaComesBackFromItsMassShares) {
  const Composition e = from_formula(2, 6, 1);
  EXPECT_NEAR(hydrogen_per_carbon(e), 3.0, 1e-12);
  EXPECT_NEAR(oxygen_per_carbon(e), 0.5, 1e-12);
  EXPECT_NEAR(e.carbon + e.hydrogen + e.oxygen, 1.0, 1e-15);
}

TEST(Chemistry, SharesThatCannotBeAreRefused) {
  EXPECT_EQ(stoichiometric_afr({0.9, 0.2, 0}).error().code, ErrorCode::out_of_range);
  EXPECT_EQ(stoichiometric_afr({1.1, -0.1, 0}).error().code, ErrorCode::out_of_range);
  EXPECT_EQ(stoichiometric_afr({0, 0.1, 0.9}).error().code, ErrorCode::out_of_range);  // needs none
  EXPECT_EQ(stoichiometric_afr({0.86, 0.14, 0.0 / 0.0}).error().code, ErrorCode::out_of_range);
}

}  // namespace
}  // namespace fuelwright::car::chemistry_test
