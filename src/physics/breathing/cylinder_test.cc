// The cylinder alone (kernel/cylinder.h, scalar double): a closed one against the ideal cycles,
// its geometry, and the correlations it uses.
#define FUELWRIGHT_LANES 1
#define FUELWRIGHT_KERNEL kernel_oracle_cylinder
#include "physics/breathing/kernel/cylinder.h"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>

namespace fuelwright::physics {
namespace {

namespace k = kernel_oracle_cylinder;

constexpr double kPi = std::numbers::pi;
constexpr double kBore = 0.1, kStroke = 0.09, kRod = 0.15;

k::Species real_gas() {
  return {k::kGas,      k::kGas * k::kAirA,        k::kGas * k::kAirB,
          k::kBurntGas, k::kBurntGas * k::kBurntA, k::kBurntGas * k::kBurntB};
}
k::Species ideal_gas() {  // cv/R = 2.5: kappa 1.4
  return {k::kGas, 2.5 * k::kGas, 0, k::kGas, 2.5 * k::kGas, 0};
}

double swept() { return kPi / 4 * kBore * kBore * kStroke; }

k::CylinderState filled(const k::Species& s, double compression, double angle, double p, double t,
                        double burnt) {
  k::CylinderState c{};
  c.bore = kBore;
  c.piston = kPi / 4 * kBore * kBore;
  c.crank = kStroke / 2;
  c.rod = kRod;
  c.clearance = swept() / (compression - 1);
  c.swept = swept();
  c.bore_power = 3.26 * std::pow(kBore, -0.2);
  c.volume = k::volume_at(c, std::sin(angle), std::cos(angle));
  const double gas = (1 - burnt) * s.r_fresh + burnt * s.r_burnt;
  const double mass = p * c.volume / (gas * t);
  c.fresh = (1 - burnt) * mass;
  c.burnt = burnt * mass;
  c.energy = c.fresh * k::energy_fresh(s, t) + c.burnt * k::energy_burnt(s, t);
  c.d_fresh = c.d_burnt = c.d_energy = c.indicated = c.energy_in = c.mass_in = 0;
  k::refresh(c, s);
  return c;
}

// Turns the crank with both valves shut and no heat to the wall.
void turn(k::CylinderState& c, const k::Species& s, double from, double to, int steps) {
  for (int i = 1; i <= steps; ++i) {
    const double a = from + (to - from) * i / steps;
    k::close_step(c, s, 0, 0, k::volume_at(c, std::sin(a), std::cos(a)), 1e-5);
  }
}

void add_heat(k::CylinderState& c, const k::Species& s, double joule) {
  k::close_step(c, s, 0, joule, c.volume, 1e-5);
}

TEST(Cylinder, WhatWasFilledInIsFoundAgain) {
  for (const double t : {300.0, 900.0, 2400.0}) {
    for (const double y : {0.0, 0.4, 1.0}) {
      const auto c = filled(real_gas(), 10, kPi, 2e5, t, y);
      EXPECT_NEAR(c.t, t, 1e-9 * t);
      EXPECT_NEAR(c.p, 2e5, 1e-9 * 2e5);
      EXPECT_NEAR(c.share, y, 1e-12);
    }
  }
}

// Slider and crank: top r - r; bottom clearance + swept; at 90 degrees r + l - sqrt(l^2 - r^2).
TEST(Cylinder, ThePistonFollowsSliderAndCrank) {
  const auto c = filled(ideal_gas(), 10, kPi, 1e5, 300, 0);
  EXPECT_NEAR(k::volume_at(c, 0, 1), swept() / 9, 1e-15);
  EXPECT_NEAR(k::volume_at(c, 0, -1), swept() * 10 / 9, 1e-15);
  const double r = kStroke / 2, height = r + kRod - std::sqrt(kRod * kRod - r * r);
  EXPECT_NEAR(k::volume_at(c, 1, 0), swept() / 9 + kPi / 4 * kBore * kBore * height, 1e-15);
}

// Constant entropy with cv = (a + b T) R:  a ln(T2/T1) + b (T2 - T1) = ln(V1/V2), by halving.
double isentropic(double a, double b, double t1, double ratio) {
  double low = t1, high = 10 * t1;
  for (int i = 0; i < 100; ++i) {
    const double t = 0.5 * (low + high);
    (a * std::log(t / t1) + b * (t - t1) < std::log(ratio) ? low : high) = t;
  }
  return 0.5 * (low + high);
}

TEST(Cylinder, AClosedCylinderWithoutHeatKeepsItsEntropy) {
  struct {
    double burnt, a, b;
  } const gases[] = {{0, k::kAirA, k::kAirB}, {1, k::kBurntA, k::kBurntB}};
  for (const auto& gas : gases) {
    auto c = filled(real_gas(), 10, kPi, 1e5, 330, gas.burnt);
    const double begun = c.energy;
    turn(c, real_gas(), kPi, 2 * kPi, 600);  // 0.3 degrees, as in the engine
    const double t = isentropic(gas.a, gas.b, 330, 10);
    EXPECT_NEAR(c.t, t, 2e-4 * t);
    EXPECT_NEAR(c.p, 1e5 * 10 * t / 330, 2e-4 * c.p);
    turn(c, real_gas(), 2 * kPi, 3 * kPi, 600);
    EXPECT_NEAR(c.t, 330, 1e-4 * 330);
    EXPECT_NEAR(c.indicated / begun, 0, 1e-4);  // and gives back the work
  }
}

TEST(Cylinder, TheErrorOfCompressionFallsWithTheSquareOfTheStep) {
  const double exact = isentropic(k::kAirA, k::kAirB, 330, 10);
  double last = 0;
  for (const int steps : {100, 200, 400}) {
    auto c = filled(real_gas(), 10, kPi, 1e5, 330, 0);
    turn(c, real_gas(), kPi, 2 * kPi, steps);
    const double error = std::abs(c.t - exact);
    if (last > 0) {
      EXPECT_GT(std::log2(last / error), 1.8) << steps;
    }
    last = error;
  }
}

// 8: 0.56472, 10: 0.60189, 12: 0.62989 = 1 - r^-0.4 (exact, kappa 1.4).
TEST(Cylinder, HeatAtTopDeadCentreGivesTheOttoEfficiency) {
  const double ratios[] = {8, 10, 12}, efficiencies[] = {0.56472, 0.60189, 0.62989};
  constexpr double kHeat_j = 1200;
  for (int i = 0; i < 3; ++i) {
    auto c = filled(ideal_gas(), ratios[i], kPi, 1e5, 300, 0);
    turn(c, ideal_gas(), kPi, 2 * kPi, 1800);
    add_heat(c, ideal_gas(), kHeat_j);
    turn(c, ideal_gas(), 2 * kPi, 3 * kPi, 1800);
    EXPECT_NEAR(c.indicated / kHeat_j, efficiencies[i], 3e-5) << ratios[i];
  }
}

// 0.086 m, 4000 kPa, 2000 K, 22.8 m/s: 756.39 W/m2K (formula from memory, value computed).
TEST(Cylinder, TheWallTakesWhatWoschniSays) {
  k::CylinderState c{};
  c.bore = 0.086;
  c.bore_power = 3.26 * std::pow(0.086, -0.2);
  c.piston = kPi / 4 * 0.086 * 0.086;
  c.swept = 5e-4;
  c.p = 4e6;
  c.t = 2000;
  c.volume = 6e-5;
  c.p_ref = 1e5;
  c.v_ref = 5e-4;
  c.t_ref = 330;
  const double area = 2.2 * c.piston + 4 * c.volume / c.bore;
  EXPECT_NEAR(k::wall_heat(c, 22.8, 1, 0, 1, 450) / (area * (2000 - 450)), 756.39, 0.01);
  // burning adds 3.24e-3 V T_r (p - p_motored)/(p_r V_r) to the speed
  const double motored = 1e5 * std::pow(5e-4 / 6e-5, 1.33);
  const double more = 3.24e-3 * 5e-4 * 330 / (1e5 * 5e-4) * (4e6 - motored);
  const double ratio = std::pow((22.8 + more) / 22.8, 0.8);
  EXPECT_NEAR(k::wall_heat(c, 22.8, 1, 1, 1, 450) / k::wall_heat(c, 22.8, 1, 0, 1, 450), ratio,
              1e-9);
}

// CA10, 50, 90 at 0.27621, 0.51755, 0.77223 of the burn (a 5, m 2; computed).
TEST(Cylinder, TheChargeBurnsAsWiebeSays) {
  EXPECT_NEAR(k::burnt_share(0.27621), 0.1, 1e-5);
  EXPECT_NEAR(k::burnt_share(0.51755), 0.5, 1e-5);
  EXPECT_NEAR(k::burnt_share(0.77223), 0.9, 1e-5);
  EXPECT_EQ(k::burnt_share(-0.1), 0);
  EXPECT_NEAR(k::burnt_share(2), 1 - std::exp(-5.0), 1e-9);
}

// Air, ideal-gas tables (from memory): cv 718, 855, 924 J/kgK at 300, 1000, 1500 K. Hotter air is
// nearly all burnt.
TEST(Cylinder, HeatCapacitiesFollowTheTables) {
  const double at[] = {300, 1000, 1500}, table[] = {718, 855, 924};
  for (int i = 0; i < 3; ++i)
    EXPECT_NEAR((k::kAirA + k::kAirB * at[i]) * k::kGas / table[i], 1, 0.02) << at[i];
}

}  // namespace
}  // namespace fuelwright::physics
