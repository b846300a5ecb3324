// Checks of the unit types. What must not compile is checked with concepts: a build that accepts it
// fails here.
#include <gtest/gtest.h>

#include "base/units/points.h"
#include "base/units/quantity.h"

namespace fuelwright::units_test {
namespace {

template <class A, class B>
concept Addable = requires(A a, B b) {
  a + b;
};
template <class A, class B>
concept Subtractable = requires(A a, B b) {
  a - b;
};
template <class A, class U>
concept Readable = requires(A a, U u) {
  a.in(u);
};
template <class A, class B>
concept Assignable = requires(A a, B b) {
  a = b;
};
template <class A, class B>
concept Comparable = requires(A a, B b) {
  a < b;
};

TEST(Units, WhatHasNoMeaningDoesNotCompile) {
  static_assert(!Addable<Temperature, Temperature>);  // 20 degC + 10 degC
  static_assert(Addable<Temperature, TemperatureStep>);
  static_assert(Subtractable<Temperature, Temperature>);
  static_assert(!Addable<PressureStep, TemperatureStep>);      // kPa + K
  static_assert(!Assignable<AbsolutePressure, PressureStep>);  // an amount for a point
  static_assert(!Assignable<Temperature, TemperatureStep>);
  static_assert(!Assignable<AbsolutePressure, GaugePressure>);
  static_assert(!Comparable<AbsolutePressure, GaugePressure>);
  static_assert(!Readable<PressureStep, decltype(kelvin_step)>);  // reading kPa in K
  static_assert(!Readable<Temperature, decltype(kelvin_step)>);
  static_assert(!Addable<EngineSpeed, EngineSpeed>);
  static_assert(!Assignable<CrankAngle, CrankPosition>);
  static_assert(!Assignable<Length, double>);
  SUCCEED();
}

TEST(Units, AFourInchBoreIsAHundredAndOnePointSixMillimetres) {
  EXPECT_DOUBLE_EQ((4.0 * inch).in(mm), 101.6);  // exact: the inch is 25.4 mm
}

TEST(Units, ThreeHundredFiftyCubicInchesAreFivePointSevenThreeFiveLitres) {
  // 350 * 16.387064 cm3 = 5735.4724 cm3, by hand
  EXPECT_NEAR((350.0 * cubic_inch).in(cm3), 5735.4724, 1e-9);
}

TEST(Units, ADensityTimesAVolumeIsAMass) {
  const Mass m = (1.2 * kg_per_m3) * (500.0 * cm3);
  EXPECT_NEAR(m.in(mg), 600.0, 1e-9);
}

TEST(Units, WaterBoilsAt212FahrenheitAndFreezesAt32) {
  EXPECT_NEAR(in_celsius(fahrenheit(212.0)), 100.0, 1e-12);
  EXPECT_NEAR(in_fahrenheit(celsius(0.0)), 32.0, 1e-12);
}

TEST(Units, AGaugeOnTheRailBecomesAbsoluteOnlyWithTheAmbientPressure) {
  const AbsolutePressure sea = absolute(101.325 * kPa);
  const AbsolutePressure hill = absolute(84.0 * kPa);
  EXPECT_NEAR(from_gauge(gauge(3.0 * bar), sea).from_zero.in(kPa), 401.325, 1e-9);
  EXPECT_NEAR(from_gauge(gauge(3.0 * bar), hill).from_zero.in(kPa), 384.0, 1e-9);
  EXPECT_NEAR(to_gauge(absolute(60.0 * kPa), sea).above_ambient.in(kPa), -41.325, 1e-9);
}

TEST(Units, TheCrankComesBackToFiringTopDeadCentreAfterTwoTurns) {
  const CrankPosition start = after_firing_tdc(crank_degrees(10));
  EXPECT_NEAR((start + crank_degrees(720)).rad, start.rad, 1e-12);
  EXPECT_NEAR((start + crank_degrees(-20)).rad, crank_degrees(710).rad, 1e-12);
}

TEST(Units, AtThreeThousandRpmACylinderFiresTwentyFiveTimesASecond) {
  EXPECT_DOUBLE_EQ(rpm(3000).cycles_per_second(), 25.0);
}

}  // namespace
}  // namespace fuelwright::units_test
