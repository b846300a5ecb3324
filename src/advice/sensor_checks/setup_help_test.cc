#include "advice/sensor_checks/setup_help.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>

namespace fuelwright::advice::setup_help_test {
namespace {

// A common automotive thermistor (memory): 2.0 to 2.1 kohm at 25 degC, 5.9 kohm at 0, 323 ohm
// at 80. Made here by the beta law, which (1/T linear in ln R) is the curve with c = 0: exact.
double by_beta(double celsius_t) {
  return 2057 * std::exp(3500 * (1 / (celsius_t + 273.15) - 1 / 298.15));
}

TEST(Thermistor, ThreePointsGiveBackThemselvesAndABetaLawEverywhere) {
  const auto curve = thermistor_curve(
      {{{celsius(80), by_beta(80)}, {celsius(0), by_beta(0)}, {celsius(25), by_beta(25)}}});
  ASSERT_TRUE(curve.ok()) << curve.error().line();
  for (const double t : {-30.0, 0.0, 25.0, 60.0, 80.0, 110.0}) {
    EXPECT_NEAR(in_celsius(curve->at(by_beta(t))), t, 1e-6);
    EXPECT_NEAR(curve->ohm_at(celsius(t)) / by_beta(t), 1, 1e-8);
  }
  EXPECT_NEAR(curve->c, 0, 1e-12);
}

// Coefficients printed for a 10 kohm thermistor in many application notes (memory):
// a 1.129148e-3, b 2.34125e-4, c 8.76741e-8; 10,000 ohm is 25 degC.
TEST(Thermistor, TheTextbookCoefficientsReadRoomTemperature) {
  const ThermistorCurve k{1.129148e-3, 2.34125e-4, 8.76741e-8};
  EXPECT_NEAR(in_celsius(k.at(10000)), 25.0, 0.02);
  EXPECT_NEAR(k.ohm_at(celsius(25)), 10000, 10);
  const auto again = thermistor_curve({{{celsius(0), k.ohm_at(celsius(0))},
                                        {celsius(40), k.ohm_at(celsius(40))},
                                        {celsius(100), k.ohm_at(celsius(100))}}});
  ASSERT_TRUE(again.ok());
  EXPECT_NEAR(again->a / k.a, 1, 1e-6);
  EXPECT_NEAR(again->c / k.c, 1, 1e-5);
}

TEST(Thermistor, WhatIsNoThermistorIsRefusedInOneLine) {
  const auto line = [](ThermistorPoint a, ThermistorPoint b, ThermistorPoint c) {
    const auto r = thermistor_curve({a, b, c});
    EXPECT_FALSE(r.ok());
    return r.ok() ? std::string() : r.error().line();
  };
  EXPECT_THAT(line({celsius(0), 100}, {celsius(50), 200}, {celsius(90), 300}),
              testing::HasSubstr("expected it to fall"));
  EXPECT_THAT(line({celsius(20), 2500}, {celsius(21), 2400}, {celsius(90), 240}),
              testing::HasSubstr("3 K or more"));
  EXPECT_THAT(line({celsius(20), 2500}, {celsius(50), 0}, {celsius(90), 240}),
              testing::HasSubstr("0 ohm came"));
}

// By hand: 0.5 V at 20 kPa, 4.5 V at 105 kPa: 21.25 kPa/V, 9.375 kPa at 0 V, 62.5 kPa at 2.5 V.
TEST(SensorTransfer, TwoPointsMakeTheLineByHand) {
  const auto t = transfer({{{0.5, 20e3}, {4.5, 105e3}}});
  ASSERT_TRUE(t.ok());
  EXPECT_NEAR(t->gain, 21250, 1e-9);
  EXPECT_NEAR(t->at(2.5), 62500, 1e-6);
  EXPECT_FALSE(transfer({{{1, 20e3}, {1, 105e3}}}).ok());
  EXPECT_FALSE(transfer({{{1, 20e3}, {2, 20e3}}}).ok());
}

TEST(ThrottleSetUp, EndsAreFoundWhicheverWayTheSensorTurns) {
  for (const double turn : {1.0, -1.0}) {
    std::vector<double> raw;
    for (int i = 0; i < 200; ++i) {
      const double press = std::clamp(std::min((i - 60) / 20.0, (140 - i) / 20.0), 0.0, 1.0);
      raw.push_back(2.5 + turn * (-1.9 + 3.7 * press) + 0.002 * (i % 3 - 1));
    }
    const auto e = throttle_ends(raw);
    ASSERT_TRUE(e.ok()) << e.error().line();
    EXPECT_NEAR(e->position(2.5 - turn * 1.9), 0, 0.003);
    EXPECT_NEAR(e->position(2.5 + turn * 1.8), 1, 0.003);
  }
  EXPECT_FALSE(throttle_ends(std::vector<double>(100, 0.6)).ok());
}

TEST(AnalogueLine, OffsetGainAndDelayAreFoundAndPutRight) {
  std::vector<double> digital, analogue;
  for (int i = 0; i < 800; ++i)
    digital.push_back(0.95 + 0.12 * std::sin(0.07 * i) + 0.04 * std::sin(0.31 * i));
  for (int i = 0; i < 800; ++i) {
    const double d = digital[static_cast<std::size_t>(std::max(i - 3, 0))];
    analogue.push_back(0.97 * d + 0.05 + 0.0005 * ((i * 7) % 5 - 2));
  }
  const auto a = analogue_against_digital(analogue, digital, 0.05 * second);
  ASSERT_TRUE(a.ok()) << a.error().line();
  EXPECT_NEAR(a->gain, 0.97, 0.002);
  EXPECT_NEAR(a->late.si, 0.15, 1e-9);
  EXPECT_FALSE(a->agree);
  EXPECT_NEAR(a->correction.at(0.97 * 0.9 + 0.05), 0.9, 0.002);
  EXPECT_NEAR(a->offset, 0.97 * 0.95 + 0.05 - 0.95, 0.003);
}

TEST(AnalogueLine, OneThatAgreesSaysSoAndAStandingOneTellsNothing) {
  std::vector<double> d;
  for (int i = 0; i < 200; ++i) d.push_back(0.9 + 0.1 * std::sin(0.1 * i));
  EXPECT_TRUE(analogue_against_digital(d, d, {})->agree);
  const std::vector<double> still(200, 1.0);
  EXPECT_FALSE(analogue_against_digital(still, still, {}).ok());
  EXPECT_FALSE(analogue_against_digital(d, std::vector<double>(10, 1.0), {}).ok());
}

}  // namespace
}  // namespace fuelwright::advice::setup_help_test
