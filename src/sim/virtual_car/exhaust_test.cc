#include "sim/virtual_car/internal/exhaust.h"

#include <gtest/gtest.h>

#include <cmath>

namespace fuelwright::sim::virtual_car::exhaust_test {
namespace {

constexpr double kStep_s = 0.005;

/// Seconds from a step of richness at the injection to half of it at the tip, at steady flow.
double arrival_s(const Exhaust& exhaust, double tip_delay_s, double rpm, double gas_kg_s) {
  ExhaustPath path(exhaust, tip_delay_s);
  for (int i = 0; i < 4000; ++i) path.step(gas_kg_s * kStep_s, rpm / 60 * kStep_s, 1, 0, kStep_s);
  for (int i = 1; i < 4000; ++i) {
    if (path.step(gas_kg_s * kStep_s, rpm / 60 * kStep_s, 1.2, 0, kStep_s) >= 1.1)
      return i * kStep_s;
  }
  return -1;
}

TEST(ExhaustPath, AChangeComesAfterTheStrokesThenThePipeThenTheTip) {
  const Exhaust exhaust{.pipe = 2.0 * gram, .mixing = {}, .revolutions = 1.5};
  // 1.5 turns at 900 rpm 0.1 s + 2 g at 4 g/s 0.5 s + tip 0.05 s = 0.65 s, by hand.
  EXPECT_NEAR(arrival_s(exhaust, 0.05, 900, 4e-3), 0.65, 1.01 * kStep_s);
  // 1.5 turns at 6000 rpm 0.015 s + 2 g at 80 g/s 0.025 s + 0.05 s = 0.09 s.
  EXPECT_NEAR(arrival_s(exhaust, 0.05, 6000, 80e-3), 0.09, 1.01 * kStep_s);
}

TEST(ExhaustPath, WhatIsInThePipeWhenTheFlowStopsWaitsThere) {
  ExhaustPath path({.pipe = 1.0 * gram, .mixing = {}, .revolutions = 0}, 0);
  for (int i = 0; i < 400; ++i) path.step(1e-5, 0.1, 1, 0, kStep_s);
  for (int i = 0; i < 50; ++i) path.step(1e-5, 0.1, 1.3, 0, kStep_s);  // half of the pipe
  double tip = 0;
  for (int i = 0; i < 1000; ++i) tip = path.step(0, 0.1, 0.5, 0, kStep_s);
  EXPECT_DOUBLE_EQ(tip, 1);
  for (int i = 0; i < 75; ++i) tip = path.step(1e-5, 0.1, 1.3, 0, kStep_s);
  EXPECT_NEAR(tip, 1.3, 1e-9);
}

TEST(ExhaustPath, TheMixingVolumeTakesUpMassNotTime) {
  // After as much gas as it holds, all but 1/e of a change has come, at any flow.
  const Exhaust exhaust{.pipe = {}, .mixing = 1.0 * gram, .revolutions = 0};
  for (const double step_kg : {2e-6, 2e-5}) {
    ExhaustPath path(exhaust, 0);
    for (int i = 0; i < 2000; ++i) path.step(step_kg, 0.1, 1, 0, kStep_s);
    double tip = 0;
    for (int i = 0; i < std::lround(1e-3 / step_kg); ++i) {
      tip = path.step(step_kg, 0.1, 2, 0, kStep_s);
    }
    EXPECT_NEAR(tip, 2 - std::exp(-1.0), 1e-9);
  }
}

TEST(SensorTip, AQuietSensorReadsWhatIsThereAfterItsLag) {
  const Sensor quiet{
      .tip_delay = {}, .lag = 0.1 * second, .noise = 0, .drift = 0, .pressure_error = 0};
  SensorTip tip(quiet, 1, "x", kStep_s);
  EXPECT_DOUBLE_EQ(tip.step(1.0, 101325, 1, 0), 1.0);
  double lambda = 0;
  for (int i = 0; i < 20; ++i) lambda = tip.step(1.2, 101325, 1, 0);  // one lag
  EXPECT_NEAR(1 / lambda, 1.2 - 0.2 * std::exp(-1.0), 1e-9);
}

TEST(SensorTip, GainAndExhaustPressureStretchTheReadingAboutStoichiometric) {
  const Sensor sensor{
      .tip_delay = {}, .lag = {}, .noise = 0, .drift = 0, .gain = 1.1, .pressure_error = 0.5};
  SensorTip tip(sensor, 1, "x", kStep_s);
  EXPECT_NEAR(tip.step(1.0, 151325, 1, 0), 1.0, 1e-12);
  // lambda 0.8: off by -0.2, times 1.1, times 1 + 0.5 * 50/100 = 1.25: -0.275, by hand.
  EXPECT_NEAR(tip.step(1.25, 151325, 1, 0), 0.725, 1e-12);
}

TEST(SensorTip, NoiseHasTheStatedSpread) {
  const Sensor sensor{.lag = {}, .noise = 0.01, .drift = 0, .pressure_error = 0};
  SensorTip tip(sensor, 1, "x", kStep_s);
  double sum = 0, squares = 0;
  constexpr int kN = 200000;
  for (int i = 0; i < kN; ++i) {
    const double e = tip.step(1, 101325, 1, 0) - 1;
    sum += e;
    squares += e * e;
  }
  EXPECT_NEAR(std::sqrt(squares / kN), 0.01, 0.0005);  // 3,000 independent: 1.3 % of it
  EXPECT_NEAR(sum / kN, 0, 0.0008);
}

TEST(DilutionMisfire, HalfOfTheCyclesFailAtTheLimitAndHardlyAnyWellBelow) {
  const Sensor sensor{.dilution_limit = 0.42, .dilution_width = 0.025};
  EXPECT_DOUBLE_EQ(dilution_misfire(sensor, 0.42), 0.5);
  EXPECT_LT(dilution_misfire(sensor, 0.25), 0.002);
  EXPECT_GT(dilution_misfire(sensor, 0.60), 0.99);
}

}  // namespace
}  // namespace fuelwright::sim::virtual_car::exhaust_test
