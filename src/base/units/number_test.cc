#include "base/units/number.h"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>

namespace fuelwright::number_test {
namespace {

double si(std::string_view text, Kind kind) {
  const auto r = parse_number(text, kind);
  EXPECT_TRUE(r) << (r ? "" : r.error().line());
  return r ? r->si : NAN;
}

TEST(Number, TheUnitsOfTheShopAreRead) {
  // Inch, pound, US gallon, degF: exact by definition (SI brochure; NIST SP 811, from memory).
  EXPECT_NEAR(si("4.030 in", Kind::length), 0.102362, 1e-12);
  EXPECT_NEAR(si("43 psi gauge", Kind::gauge_pressure), 43 * 6894.757293168, 1e-6);
  EXPECT_NEAR(si("3.5 bar", Kind::gauge_pressure), 350000, 1e-6);
  EXPECT_NEAR(si("228 deg", Kind::crank_angle), 228 * std::numbers::pi / 180, 1e-12);
  EXPECT_NEAR(si("24 lb/h", Kind::mass_flow), 24 * 0.45359237 / 3600, 1e-15);
  EXPECT_NEAR(si("100\xC2\xB0"
                 "F",
                 Kind::temperature),
              310.92777777777777, 1e-9);
  EXPECT_NEAR(si("-20 degC", Kind::temperature), 253.15, 1e-9);
  EXPECT_NEAR(si("255lph", Kind::volume_flow), 0.255 / 3600, 1e-12);
  EXPECT_NEAR(si("61kPa", Kind::absolute_pressure), 61000, 1e-9);
  EXPECT_NEAR(si("29.92 inHg", Kind::absolute_pressure), 101321, 1.0);
  EXPECT_NEAR(si("28 inH2O", Kind::pressure_step), 6974.5, 0.5);
  EXPECT_DOUBLE_EQ(si("14.5 %", Kind::ratio), 0.145);
}

TEST(Number, AToleranceIsReadInTheUnitOfItsValueOrInPercent) {
  EXPECT_NEAR(*parse_number("10.2 +- 0.2", Kind::ratio)->tolerance, 0.2, 1e-12);
  EXPECT_NEAR(*parse_number("4.030 in +- 0.005", Kind::length)->tolerance, 0.005 * 0.0254, 1e-12);
  EXPECT_NEAR(*parse_number("5.7 l +- 1 %", Kind::volume)->tolerance, 5.7e-5, 1e-12);
  EXPECT_NEAR(*parse_number("90 degC \xC2\xB1 2 K", Kind::temperature)->tolerance, 2.0, 1e-12);
  EXPECT_NEAR(*parse_number("36 lb/h +/- 2 %", Kind::mass_flow)->tolerance,
              0.72 * 0.45359237 / 3600, 1e-12);
  EXPECT_FALSE(parse_number("10.2", Kind::ratio)->tolerance);
  const auto both = parse_number("216 +- 2 deg", Kind::crank_angle);  // the unit of both behind
  ASSERT_TRUE(both);
  EXPECT_NEAR(both->si, si("216 deg", Kind::crank_angle), 1e-12);
  EXPECT_NEAR(*both->tolerance, si("2 deg", Kind::crank_angle), 1e-12);
  EXPECT_NEAR(parse_number("90 \xC2\xB1 2 degC", Kind::temperature)->si, 363.15, 1e-9);
  EXPECT_NEAR(*parse_number("90 \xC2\xB1 2 degC", Kind::temperature)->tolerance, 2.0, 1e-12);
  EXPECT_FALSE(parse_number("216 +- 2 %", Kind::crank_angle));  // of what, is not said
  EXPECT_FALSE(parse_number("10 +- -1", Kind::ratio));
}

TEST(Number, AnUnknownUnitIsAnErrorThatNamesTheNearest) {
  const auto r = parse_number("3.5 barr", Kind::gauge_pressure);
  ASSERT_FALSE(r);
  EXPECT_EQ(r.error().code, ErrorCode::unknown_unit);
  EXPECT_NE(r.error().message.find("did you mean \"bar"), std::string::npos) << r.error().message;
}

TEST(Number, AUnitOfAnotherKindIsRefused) {
  const auto r = parse_number("4 psi", Kind::length);
  ASSERT_FALSE(r);
  EXPECT_EQ(r.error().code, ErrorCode::out_of_range);
  EXPECT_NE(r.error().message.find("expected a length"), std::string::npos);
  EXPECT_FALSE(parse_number("43 psi gauge", Kind::absolute_pressure));
  EXPECT_FALSE(parse_number("60 kPa abs", Kind::gauge_pressure));
}

TEST(Number, ALengthWithoutAUnitIsRefusedUnlessTheKeyNamesOne) {
  EXPECT_FALSE(parse_number("4.03", Kind::length));
  EXPECT_NEAR(parse_number("4.03", Kind::length, "in")->si, 0.102362, 1e-12);
  EXPECT_NEAR(parse_number("101 mm", Kind::length, "in")->si, 0.101, 1e-12);
}

TEST(Number, ADecimalCommaIsReadAndAnAmbiguousOneIsAsked) {
  EXPECT_NEAR(si("0,745", Kind::ratio), 0.745, 1e-12);
  EXPECT_NEAR(si("3,5 bar", Kind::gauge_pressure), 350000, 1e-6);
  const auto r = parse_number("1,234 mm", Kind::length);
  ASSERT_FALSE(r);
  EXPECT_EQ(r.error().code, ErrorCode::needs_answer);
  EXPECT_FALSE(parse_number("1,234.5", Kind::ratio));
}

TEST(Number, WhatIsNoNumberIsRefused) {
  for (const char* text : {"", "abc", "nan", "inf", "-", "1e999", "4..3", "--4", "0x10", "1 2"}) {
    EXPECT_FALSE(parse_number(text, Kind::ratio)) << text;
  }
  EXPECT_FALSE(parse_number("8.5", Kind::count));
}

TEST(Number, ValuesAreShownInThePersonsUnitWithIt) {
  EXPECT_EQ(format(0.102362, Kind::length, UnitSystem::us), "4.030 in");
  EXPECT_EQ(format(0.102362, Kind::length, UnitSystem::metric), "102.4 mm");
  EXPECT_EQ(format(300000, Kind::gauge_pressure, UnitSystem::us, 3), "43.5 psi gauge");
  EXPECT_EQ(format(363.15, Kind::temperature, UnitSystem::us, 3), "194 degF");
  EXPECT_EQ(format(2400, Kind::engine_speed, UnitSystem::us), "2400 rpm");
}

TEST(Number, EveryDisplayUnitReadsBackWhatItShowed) {
  for (int k = 0; k <= static_cast<int>(Kind::frequency); ++k) {
    const auto kind = static_cast<Kind>(k);
    for (const auto system : {UnitSystem::metric, UnitSystem::us}) {
      const auto back = parse_number(format(311.0, kind, system, 9), kind);
      ASSERT_TRUE(back) << describe(kind) << ": " << back.error().line();
      EXPECT_NEAR(back->si, 311.0, 1e-5 * 311.0) << describe(kind);
    }
  }
}

}  // namespace
}  // namespace fuelwright::number_test
