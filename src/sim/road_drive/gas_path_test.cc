#include "sim/road_drive/internal/gas_path.h"

#include <gtest/gtest.h>

#include <cmath>

namespace fuelwright::sim {
namespace {

constexpr double kDt = 0.01;      // s
constexpr double kHot = 363.15;   // K: film as stated
constexpr double kMiddle = 50e3;  // Pa: film as stated

MixtureSensor clean_sensor() {
  return {.pipe_gas = {},
          .revolutions = 0,
          .tip_delay = {},
          .lag = {},
          .noise = 0,
          .drift = 0,
          .misfires_per_minute = 0,
          .overlap_lean = 0};
}

TEST(Puddle, FuelInjectedIsFuelBurntPlusWhatThePuddleGrew) {
  Puddle puddle({.share = 0.3, .evaporation_time = 0.6 * second});
  Random random(1, 1);
  puddle.step(1e-4, kDt, kMiddle, kHot);
  const double before = puddle.mass_kg();
  double injected = 0, burnt = 0;
  for (int i = 0; i < 5000; ++i) {
    const double now = random.chance(0.1) ? 0.0 : random.uniform(0.2e-4, 4e-4);
    injected += now;
    burnt += puddle.step(now, kDt, random.uniform(20e3, 100e3), random.uniform(290, 365));
  }
  EXPECT_NEAR(injected, burnt + puddle.mass_kg() - before, 1e-12 * injected);
}

TEST(Puddle, AStepOfFuelArrivesAsTheExactSolutionSays) {
  // X 0.25, tau 0.5 s, inflow from 1 to 2: f(t) = 2 - 0.25 e^(-t/0.5); after 0.5 s 2 - 0.25/e
  // = 1.908030. Source: exact step response of dm/dt = X u - m/tau (SAE 810494, formula from
  // memory).
  Puddle puddle({.share = 0.25, .evaporation_time = 0.5 * second});
  for (int i = 0; i < 100; ++i) EXPECT_NEAR(puddle.step(kDt, kDt, kMiddle, kHot) / kDt, 1.0, 1e-12);
  double f = 0;
  for (int i = 0; i < 50; ++i) f = puddle.step(2 * kDt, kDt, kMiddle, kHot) / kDt;
  // The step from 0.49 to 0.50 s is a mean; its middle is 0.495 s: 2 - 0.25 e^-0.99 = 1.907106.
  EXPECT_NEAR(f, 2 - 0.25 * std::exp(-0.495 / 0.5), 1e-5);
}

TEST(Puddle, GrowsWhenItIsColdAndWithPressure) {
  const WallFilm film{.share = 0.2, .pressure_power = 0.5, .cold_growth = 0.6};
  const auto settled = [&film](double map_pa, double coolant_k) {
    Puddle puddle(film);
    puddle.step(1e-4, kDt, map_pa, coolant_k);
    return puddle.mass_kg();
  };
  EXPECT_GT(settled(kMiddle, 300), 1.5 * settled(kMiddle, kHot));
  EXPECT_NEAR(settled(200e3, kHot), 2 * settled(50e3, kHot), 1e-12);
}

TEST(Puddle, WithoutFilmEverythingArrivesAtOnce) {
  Puddle dry({.share = 0});
  EXPECT_EQ(dry.step(3e-4, kDt, 30e3, 280), 3e-4);
  EXPECT_EQ(dry.step(0, kDt, 90e3, 280), 0);
}

/// Seconds from a step of mixture to its arrival at the sensor, at steady flow.
double arrival_s(const MixtureSensor& sensor, double flow_kg_s, double n) {
  ExhaustPipe pipe(sensor);
  for (int i = 0; i < 400; ++i) pipe.step(flow_kg_s * kDt, n / 60 * kDt, 1.0, kDt);
  for (int i = 1; i < 400; ++i) {
    if (pipe.step(flow_kg_s * kDt, n / 60 * kDt, 2.0, kDt) > 1.5) return (i - 1) * kDt;
  }
  return 1e9;
}

TEST(ExhaustPipe, ThreeGramsAtTenGramsASecondTakeThreeTenthsOfASecond) {
  MixtureSensor sensor = clean_sensor();
  sensor.pipe_gas = 3.0 * gram;
  EXPECT_NEAR(arrival_s(sensor, 10e-3, 1500), 0.30, kDt);
  EXPECT_NEAR(arrival_s(sensor, 20e-3, 1500), 0.15, kDt);  // twice the flow, half the time
}

TEST(ExhaustPipe, TheEventTakesItsRevolutionsAndTheTipItsTime) {
  MixtureSensor sensor = clean_sensor();
  sensor.revolutions = 1.75;
  EXPECT_NEAR(arrival_s(sensor, 10e-3, 1050), 0.10, kDt);  // 17.5 rev/s
  sensor.tip_delay = 0.05 * second;
  EXPECT_NEAR(arrival_s(sensor, 10e-3, 1050), 0.15, kDt);
}

TEST(ExhaustPipe, WithoutLengthTheMixtureIsSeenInTheSameStep) {
  ExhaustPipe pipe(clean_sensor());
  for (int i = 0; i < 50; ++i)
    EXPECT_EQ(pipe.step(1e-4, 0.2, 0.9 + 0.001 * i, kDt), 0.9 + 0.001 * i);
}

TEST(ExhaustPipe, AfterMinutesTheDelayIsStillTheSame) {
  MixtureSensor sensor = clean_sensor();
  sensor.pipe_gas = 3.0 * gram;
  ExhaustPipe pipe(sensor);
  // A sawtooth of mixture comes out 0.3 s = 30 steps later, for 20,000 steps.
  for (int i = 0; i < 20000; ++i) {
    const double out = pipe.step(10e-3 * kDt, 0.25, 1 + 0.001 * (i % 100), kDt);
    if (i >= 30 && (i - 30) % 100 != 99) {
      ASSERT_NEAR(out, 1 + 0.001 * ((i - 30) % 100), 1.1e-3) << i;
    }
  }
}

TEST(ExhaustPipe, DelaysOfInventedCarsLieBetweenEightHundredthsAndSixTenths) {
  for (std::uint64_t seed = 1; seed <= 40; ++seed) {
    const Truth t = invent_truth(seed, 5.0 * litre, 8);
    EXPECT_LT(arrival_s(t.sensor, 7.5e-3, 800), 0.62);   // idle of 5 litres
    EXPECT_GT(arrival_s(t.sensor, 190e-3, 5000), 0.06);  // full throttle: the lag comes on top
  }
}

TEST(SensorTip, After63PercentOfAStepOneLagHasPassed) {
  MixtureSensor sensor = clean_sensor();
  sensor.lag = 0.1 * second;
  SensorTip tip(sensor, 1);
  tip.step(1.0, 0, kDt);
  double lambda = 1;
  for (int i = 0; i < 10; ++i) lambda = tip.step(0.9, 0, kDt);
  EXPECT_NEAR(1 / lambda, 1 - 0.1 * (1 - std::exp(-1.0)), 1e-9);
}

TEST(SensorTip, ItsNoiseHasTheStatedSpreadAndNoBias) {
  constexpr double kSlack = 0.0004;  // 5 % of the spread: 2e5 readings with a memory of 25
  MixtureSensor sensor = clean_sensor();
  sensor.noise = 0.006;
  SensorTip tip(sensor, 5);
  double sum = 0, squares = 0;
  constexpr int kReadings = 200000;
  for (int i = 0; i < kReadings; ++i) {
    const double error = tip.step(1.0, 0, kDt) - 1;
    sum += error;
    squares += error * error;
  }
  EXPECT_NEAR(sum / kReadings, 0, kSlack);
  EXPECT_NEAR(std::sqrt(squares / kReadings), 0.006, kSlack);
}

TEST(SensorTip, MisfiresReadLeanAndAreAsRareAsStated) {
  MixtureSensor sensor = clean_sensor();
  sensor.misfires_per_minute = 2;
  SensorTip tip(sensor, 3);
  int spikes = 0;
  bool inside = false;
  for (int i = 0; i < 60 * 60 * 100; ++i) {  // an hour
    const double lambda = tip.step(1.0, 0, kDt);
    EXPECT_GE(lambda, 1.0);
    const bool lean = lambda > 1.05;
    if (lean && !inside) ++spikes;
    inside = lean;
  }
  EXPECT_NEAR(spikes, 120, 33);  // three standard deviations of a count
}

TEST(SensorTip, StopsAtTheEndsOfItsRange) {
  SensorTip tip(clean_sensor(), 1);
  EXPECT_DOUBLE_EQ(tip.step(0.0, 0, kDt), 1.55);
  EXPECT_DOUBLE_EQ(tip.step(3.0, 0, kDt), 0.65);
}

}  // namespace
}  // namespace fuelwright::sim
