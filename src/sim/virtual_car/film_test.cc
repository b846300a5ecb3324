#include "sim/virtual_car/internal/film.h"

#include <gtest/gtest.h>

#include <cmath>

namespace fuelwright::sim::virtual_car::film_test {
namespace {

constexpr double kRounding = 1e-12;  // relative; the step is exact
constexpr double kWarm_k = 363.15, kAt_pa = 50e3;

const Film kTwoPuddles{.fast_share = 0.3,
                       .slow_share = 0.1,
                       .fast_time = 0.4 * second,
                       .slow_time = 3.0 * second,
                       .pressure_power = 0.5,
                       .cold_growth = 0.5};

TEST(WallFilm, WhatIsInjectedIsInTheCylindersOrOnTheWalls) {
  WallFilm film(kTwoPuddles);
  film.step(1e-4, 0.01, kAt_pa, kWarm_k);
  const double before = film.mass_kg();
  double injected = 0, into = 0;
  for (int i = 0; i < 4000; ++i) {
    const double u = 1e-4 * (1.2 + std::sin(0.03 * i));
    injected += u;
    into += film.step(u, 0.01, 30e3 + 10 * i, 300 + 0.01 * i);
  }
  EXPECT_NEAR(into + film.mass_kg() - before, injected, kRounding * injected);
}

TEST(WallFilm, AStepOfFuelArrivesAsTwoExponentialsSayIt) {
  // u from 1 to 2 g/s: cylinders = 2 - 0.3 e^(-t/0.4) - 0.1 e^(-t/3), from 1.6 at once to 2.
  // At t = 0.4 s: 2 - 0.3 * 0.367879 - 0.1 * 0.875173 = 1.802119 g/s, by hand.
  constexpr double kStep_s = 0.001;
  WallFilm film(kTwoPuddles);
  film.step(1e-3 * kStep_s, kStep_s, kAt_pa, kWarm_k);
  double flow = 0, before = 0;
  for (int i = 0; i <= 400; ++i) {
    before = flow;
    flow = film.step(2e-3 * kStep_s, kStep_s, kAt_pa, kWarm_k) / kStep_s;
    if (i == 0) {
      EXPECT_NEAR(flow, 1.6e-3, 1e-6);  // a step of 1 ms has begun to fill the puddle
    }
  }
  // The flow of a step is its mean: half a step early and late stand on both sides.
  EXPECT_NEAR(0.5 * (flow + before), 1.802119e-3, 1e-9);
}

TEST(WallFilm, SteadyFuelPassesUnchangedFromTheFirstStep) {
  WallFilm film(kTwoPuddles);
  for (int i = 0; i < 10; ++i) {
    EXPECT_NEAR(film.step(3e-5, 0.01, 80e3, 300), 3e-5, kRounding * 3e-5);
  }
}

TEST(WallFilm, AColdOrFullyLoadedWallHoldsMore) {
  const auto held = [](double pa, double k) {
    WallFilm film(kTwoPuddles);
    film.step(1e-5, 0.01, pa, k);
    return film.mass_kg();
  };
  EXPECT_GT(held(50e3, 323.15), held(50e3, 363.15));
  // Shares go with the root of pressure here: at 100 kPa 1.41421 times as much.
  EXPECT_NEAR(held(100e3, kWarm_k) / held(50e3, kWarm_k), std::sqrt(2.0), 1e-9);
  // 40 K colder: shares and times e^0.5 each, together e.
  EXPECT_NEAR(held(50e3, kWarm_k - 40) / held(50e3, kWarm_k), std::exp(1.0), 1e-9);
}

TEST(WallFilm, NoFuelIsLostWarmAndTheStatedShareAtTwentyDegrees) {
  const Film film{.cold_loss = 0.15};
  EXPECT_EQ(lost_when_cold(film, 360), 0);
  EXPECT_NEAR(lost_when_cold(film, 293.15), 0.15, 1e-12);
}

}  // namespace
}  // namespace fuelwright::sim::virtual_car::film_test
