#include <gtest/gtest.h>

#include <cmath>
#include <numbers>

#include "physics/combustion/internal/closed.h"
#include "physics/combustion/internal/example.h"

namespace fuelwright::physics::cycle_test {
namespace {

constexpr double kPi = std::numbers::pi;

/// Constant heat capacity, burning sets `heat` free: the gas of the ideal cycles.
struct PerfectGas {
  double k = 1.4, r = 287, heat = 2.0e6;
  double cv() const { return r / (k - 1); }
  gas::FrozenTable::State unburnt(double t) const { return {cv() * t, cv()}; }
  double unburnt_r() const { return r; }
  gas::BurntState burnt(double t, double) const { return {cv() * t - heat, cv(), 0, r, 0, 0}; }
};

ClosedProblem ideal(double compression, double burn_start, double kernel, double grid) {
  const CylinderShape shape{86 * mm, 86 * mm, 143 * mm, compression};
  const Slider slider(shape);
  const double mass = 1e5 * slider.volume(-kPi) / (287 * 300);
  return {.slider = slider,
          .theta0 = -kPi,
          .theta_open = kPi,
          .burn_start = burn_start,
          .burn_duration = kernel == 1 ? 0.0 : 1.0,
          .completeness = kernel > 0 ? 1.0 : 0.0,
          .kernel = kernel,
          .mass = mass,
          .p0 = 1e5,
          .t0 = 300,
          .speed_rad_s = 300,
          .piston_speed = 8.6,
          .swept = slider.volume(kPi) - slider.clearance,
          .wall_k = 440,
          .heat_factor = 0,
          .octane = 0,
          .end_gas_shift_k = 0,
          .grid = grid};
}

ClosedSolution solve(const PerfectGas& gas, const ClosedProblem& problem) {
  return ClosedIntegrator<PerfectGas>(gas, problem).run();
}

constexpr double kFineGrid = 0.125;   // quarter-degree steps
constexpr double kIdealSlack = 2e-5;  // of the integration at that grid

// Otto's cycle, exact: 1 - r^(1 - k).
TEST(Cycle, BurningAtOnceAtTheTopGivesOttosEfficiency) {
  const PerfectGas gas;
  const double exact[] = {0.56472, 0.60189, 0.62989};
  const double ratios[] = {8, 10, 12};
  for (int i = 0; i < 3; ++i) {
    const ClosedProblem p = ideal(ratios[i], 0, 1, kFineGrid);
    EXPECT_NEAR(solve(gas, p).work / (p.mass * gas.heat), exact[i], kIdealSlack) << ratios[i];
  }
}

TEST(Cycle, AnAdiabaticMotoredCylinderFollowsTheIsentrope) {
  const PerfectGas gas;
  ClosedProblem p = ideal(10, 1, 0, kFineGrid);
  const ClosedSolution whole = solve(gas, p);
  EXPECT_NEAR(whole.work / (p.p0 * p.swept), 0, 1e-5) << "what is put in comes back";
  EXPECT_NEAR(whole.p / p.p0, 1, 1e-5);
  p.theta_open = 1e-9;  // stop at the top
  EXPECT_NEAR(solve(gas, p).p / p.p0, std::pow(10, 1.4), 2e-3);
  EXPECT_NEAR(solve(gas, p).t_mean / p.t0, std::pow(10, 0.4), 2e-4);
}

TEST(Cycle, HalvingTheStepQuartersTheError) {
  const PerfectGas gas;
  const auto at_top = [&](double grid) {
    ClosedProblem p = ideal(10, 1, 0, grid);
    p.theta_open = 0.0;
    return std::abs(solve(gas, p).p / p.p0 - std::pow(10, 1.4));
  };
  EXPECT_NEAR(at_top(1) / at_top(0.5), 4, 0.2);
  EXPECT_NEAR(at_top(0.5) / at_top(0.25), 4, 0.2);
  // Burning by Wiebe with heat to the walls, no exact answer: the finest grid stands for it.
  const auto walls = [&](double grid) {
    ClosedProblem p = ideal(10, -0.3, 0.002, grid);
    p.heat_factor = 1;
    return solve(gas, p).walls;
  };
  const double best = walls(1.0 / 64);
  const double order = std::log2((walls(1) - best) / (walls(0.5) - best));
  EXPECT_GT(order, 1.6);
  EXPECT_LT(order, 2.4);
}

constexpr double kLedger = 1e-9;  // of the fuel's heat; owed: 1e-6

TEST(Cycle, TheLedgerOfEveryCycleCloses) {
  for (const double lambda : {0.7, 0.9, 1.0, 1.3}) {
    const WorkingGas gas = example::petrol_at(lambda);
    for (const double n : {700.0, 3000.0, 6500.0}) {
      for (const double advance : {-20.0, 5.0, 30.0, 60.0}) {
        for (const double map : {30.0, 98.0}) {
          const ClosedCharge c =
              example::charge_of(gas, example::wedge_v8(), n, map, 0.8, map < 50 ? 0.3 : 0.06);
          const ClosedCycle y = closed_cycle(gas, c, crank_degrees(advance)).value();
          const auto& l = y.ledger;
          EXPECT_NEAR((l.start - l.work - l.walls - l.end) / l.fuel, 0, kLedger)
              << lambda << " " << n << " " << advance << " " << map;
          EXPECT_GT(l.walls.si, 0);
          EXPECT_LT(l.work / l.fuel, 0.5);
        }
      }
    }
  }
}

TEST(Cycle, TheStepsUsedAreFineEnoughForAThousandth) {
  const WorkingGas gas = example::petrol_at(0.88);
  for (const double n : {1000.0, 5500.0}) {
    const ClosedCharge c = example::full_throttle(gas, n);
    const auto at = [&](double grid) {
      return closed_cycle(gas, c, crank_degrees(28), {}, {.grid = grid, .octane = 90}).value();
    };
    const ClosedCycle used = at(1), fine = at(0.0625);
    EXPECT_NEAR(used.gross_imep / fine.gross_imep, 1, 1e-3);
    EXPECT_NEAR(used.peak.from_zero / fine.peak.from_zero, 1, 2e-3);
    EXPECT_NEAR(used.knock_integral / fine.knock_integral, 1, 0.02);
  }
}

// Worked by hand: 0.086^-0.2 = 1.6334, 4000^0.8 = 761.5, 2000^-0.55 = 0.015290, 22.8^0.8 = 12.199;
// 3.26 * 1.6334 * 761.5 * 0.015290 * 12.199 = 756.3.
TEST(Cycle, WoschnisCoefficientHasItsValue) {
  const HeatTransfer h = woschni(86 * mm, absolute(4000 * kPa), kelvin(2000), 22.8 * m_per_s);
  EXPECT_NEAR(h.w_per_m2_k, 756.39, 0.01);
}

TEST(Cycle, MoreAirGivesMoreWorkAndMoreHeatTransferTakesItAway) {
  const WorkingGas gas = example::petrol_at(0.9);
  const EngineBuild v8 = example::wedge_v8();
  const auto imep = [&](double map, double heat, double complete) {
    CombustionUnstated u;
    u.heat = heat;
    u.completeness = complete;
    return closed_cycle(gas, example::charge_of(gas, v8, 3000, map, 0.8, 0.08), crank_degrees(28),
                        u)
        .value()
        .gross_imep.si;
  };
  EXPECT_GT(imep(90, 1, 0.97), imep(60, 1, 0.97));
  EXPECT_NEAR(imep(90, 1, 0.97) / imep(60, 1, 0.97), 1.5, 0.1);
  EXPECT_LT(imep(90, 1.5, 0.97), imep(90, 1, 0.97));
  EXPECT_NEAR(imep(90, 1, 0.87) / imep(90, 1, 0.97), 0.87 / 0.97, 0.03);
}

TEST(Cycle, AMisfiredCycleGivesNoWork) {
  const WorkingGas gas = example::petrol_at(1.0);
  const ClosedCharge c = example::charge_of(gas, example::wedge_v8(), 800, 40, 0.6, 0.66);
  const ClosedCycle y = closed_cycle(gas, c, crank_degrees(20)).value();
  EXPECT_EQ(y.burn.verdict, BurnVerdict::misfire);
  EXPECT_LT(y.gross_imep.in(kPa), 20);
  EXPECT_EQ(y.combustion_efficiency, 0);
}

TEST(Cycle, TheGeometryOfTheCrankIsExactAtBothEnds) {
  const CylinderShape s{101.6 * mm, 88.4 * mm, 144.8 * mm, 9};
  EXPECT_NEAR(swept_volume(s).in(cm3), 716.69, 0.02);  // pi/4 * 10.16^2 * 8.84 by hand
  EXPECT_NEAR(cylinder_volume(s, {0}) / swept_volume(s), 1.0 / 8, 1e-12);
  EXPECT_NEAR(cylinder_volume(s, crank_degrees(180)) / swept_volume(s), 9.0 / 8, 1e-12);
}

TEST(Cycle, LateBurningHeatsTheExhaust) {
  const WorkingGas gas = example::petrol_at(0.9);
  const ClosedCharge c = example::full_throttle(gas, 4000);
  const auto exhaust = [&](double advance) {
    return closed_cycle(gas, c, crank_degrees(advance)).value().exhaust;
  };
  EXPECT_GT((exhaust(15) - exhaust(35)).si, 50);
  EXPECT_LT(exhaust(35).from_zero.si,
            closed_cycle(gas, c, crank_degrees(35)).value().opening_temperature.from_zero.si)
      << "the gas cools as it blows down";
}

}  // namespace
}  // namespace fuelwright::physics::cycle_test
