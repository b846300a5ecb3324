#include "advice/dynamic_estimate/internal/forward.h"

#include <gtest/gtest.h>

#include <cmath>

namespace fuelwright::advice::forward_test {
namespace {

constexpr double kStep_s = 0.05;
constexpr double kAir = 0.02;  // kg/s
constexpr double kRatio = 14.7;

// A warm engine on one node at 50 kPa and 2000 rpm, lambda 1.
Driving steady(std::size_t rows) {
  Driving d;
  d.step_s = kStep_s;
  d.stoichiometric = kRatio;
  d.stretches = {{0, rows}};
  d.fuel_kg_s.assign(rows, kAir / kRatio);
  d.dead_kg_s2.assign(rows, kAir / kRatio / 3e-3);
  d.air_kg_s.assign(rows, kAir);
  d.heating.assign(rows, 0.0);
  d.rpm.assign(rows, 2000.0);
  d.map_pa.assign(rows, 50e3);
  d.coolant_k.assign(rows, 363.15);
  d.reading_ln.assign(rows, 0.0);
  d.idle.assign(rows, 0.0);
  d.since_cut_s.assign(rows, 1e3);
  d.high_load_s.assign(rows, 0.0);
  d.usable.assign(rows, 1);
  car::NodeShares one;
  one.share[0] = 1;
  one.count = 1;
  d.at.assign(rows, one);
  return d;
}

// No film, no lag, next to no gas.
Theta bare() {
  return {0.0, std::log(1e-7), std::log(1e-6), 0.0, std::log(0.5), 0.0, 0.0, 0.0, std::log(3.0)};
}

// The delay from look-up to exhaust stroke that is always there.
double revolutions_s(double rpm) { return 1.75 * 60 / rpm; }

TEST(Forward, ALowPassFollowsARampExactly) {
  // y' = (x - y)/T with x = t: y = t - T (1 - e^(-t/T)), by hand.
  const double T = 0.13;
  const LowPass low(T, kStep_s);
  double y = 0;
  for (int i = 1; i < 40; ++i) {
    const double t = i * kStep_s;
    y = low.keep * y + low.before * (t - kStep_s) + low.now * t;
    EXPECT_NEAR(y, t - T * (1 - std::exp(-t / T)), 1e-12);
  }
}

TEST(Forward, AStepOfFuelReachesTheCylinderLessTheWallAndThenByE) {
  // Fuel steps from 1 to 2 within one row; then 2 - X e^(-t/tau), to what the row itself blurs.
  Driving d = steady(200);
  for (std::size_t i = 100; i < 200; ++i) d.fuel_kg_s[i] *= 2;
  Forward f(d);
  Theta theta = bare();
  theta[kFilm] = 0.3;
  f.run(theta, std::vector<double>(200, 0.0), 0, 0);
  EXPECT_NEAR(f.phi()[99], 1.0, 1e-12);
  // The ramp from row 99 to 100, exactly: on the wall X (1 + r), r = 1 - tau/h (1 - e^(-h/tau)).
  const double r = 1 - 0.5 / kStep_s * (1 - std::exp(-kStep_s / 0.5));
  for (std::size_t i = 100; i < 160; ++i) {
    const double t = static_cast<double>(i - 100) * kStep_s;
    EXPECT_NEAR(f.phi()[i], 2 - 0.3 * (1 - r) * std::exp(-t / 0.5), 1e-9);
  }
}

TEST(Forward, FuelIsNeitherMadeNorLostByTheFilm) {
  Driving d = steady(2000);
  for (std::size_t i = 0; i < 2000; ++i)
    d.fuel_kg_s[i] *= 1 + 0.5 * std::sin(0.05 * static_cast<double>(i)) * (i < 1500);
  Forward f(d);
  Theta theta = bare();
  theta[kFilm] = 0.4;
  f.run(theta, std::vector<double>(2000, 0.0), 0, 0);
  double in = 0;
  double out = 0;
  for (std::size_t i = 0; i < 2000; ++i) {
    in += d.fuel_kg_s[i];
    out += f.phi()[i] * kAir / kRatio;
  }
  EXPECT_NEAR(out / in, 1.0, 2e-4);  // sums of rows, not integrals: the ends differ by a row
}

TEST(Forward, MoreAirThanTheTableSaysReadsLean) {
  const Driving d = steady(100);
  Forward f(d);
  f.run(bare(), std::vector<double>(100, std::log(0.88 / 0.80)), 0, 0);
  EXPECT_NEAR(f.predicted_ln()[99], 0.0953, 5e-5);  // ln 1.10, by hand
}

TEST(Forward, NewsArrivesWhenTheGasBetweenHasLeft) {
  // Look-up, 1.75 revolutions to the exhaust stroke, the pipe's gas at the flow of the moment, the
  // delay of the tip. Flow 0.02 kg/s (1 + 1/14.7) fills 4 g in 0.187 s.
  Driving d = steady(400);
  for (std::size_t i = 200; i < 400; ++i) d.fuel_kg_s[i] *= 1.02;
  Forward f(d);
  Theta theta = bare();
  theta[kLnGas] = std::log(4e-3);
  theta[kDelay] = 0.06;
  f.run(theta, std::vector<double>(400, 0.0), 0, 0);
  const double expected = 0.06 + 4e-3 / (kAir * (1 + 1 / kRatio)) + revolutions_s(2000);
  for (std::size_t i = 250; i < 400; ++i) {
    EXPECT_NEAR((static_cast<double>(i) - f.looked_up()[i]) * kStep_s, expected, 1e-3);
  }
}

TEST(Forward, TheExhaustsOrderOfEventsDecidesTheDelay) {
  // Idle until row 200, then ten times the flow. What arrives just after was looked up at idle: it
  // waited most of its time at idle flow, and was pushed out by the new flow. By hand: the gas of
  // 4 g is 3 g of old flow and 1 g of new when the new has run for 1 g.
  Driving d = steady(400);
  for (std::size_t i = 0; i < 200; ++i) {
    d.air_kg_s[i] /= 10;
    d.fuel_kg_s[i] /= 10;
    d.rpm[i] = 750;
  }
  Forward f(d);
  Theta theta = bare();
  theta[kLnGas] = std::log(4e-3);
  f.run(theta, std::vector<double>(400, 0.0), 0, 0);
  const double fast = kAir * (1 + 1 / kRatio);
  const double after_s = 0.05;
  const auto row = static_cast<std::size_t>(200 + std::lround(after_s / kStep_s));
  // The row from 199 to 200 is a ramp of flow: half of each.
  const double since = fast * after_s + 0.5 * (fast + 0.1 * fast) * kStep_s;
  const double waited = (4e-3 - since) / (0.1 * fast) + kStep_s + after_s;
  EXPECT_NEAR((static_cast<double>(row) - f.looked_up()[row]) * kStep_s,
              waited + revolutions_s(750), 2e-3);
  EXPECT_NEAR(waited, 1.2, 0.3);  // more than a second, though the flow at the sensor is fast
}

TEST(Forward, AFuelCutLeavesThePredictionBoundedAndTheFilmFinite) {
  Driving d = steady(300);
  for (std::size_t i = 100; i < 150; ++i) d.fuel_kg_s[i] = d.dead_kg_s2[i] = 0;
  Forward f(d);
  Theta theta = bare();
  theta[kFilm] = 0.3;
  theta[kLnLag] = std::log(0.1);
  f.run(theta, std::vector<double>(300, 0.0), 0, 0);
  for (std::size_t i = 10; i < 300; ++i) EXPECT_TRUE(std::isfinite(f.predicted_ln()[i]));
  EXPECT_GT(f.predicted_ln()[149], 1.0);  // free air
  EXPECT_NEAR(f.predicted_ln()[299], 0.0, 1e-3);
}

// A lively drive over three nodes.
Driving lively(std::size_t rows) {
  Driving d = steady(rows);
  for (std::size_t i = 0; i < rows; ++i) {
    const auto t_row = static_cast<double>(i);
    const double a = std::sin(0.031 * t_row) + 0.4 * std::sin(0.17 * t_row);
    d.map_pa[i] = 55e3 + 15e3 * a;
    d.air_kg_s[i] *= 1 + 0.25 * a;
    d.fuel_kg_s[i] *= (1 + 0.25 * a) * (1 + 0.05 * std::sin(0.011 * t_row));
    d.rpm[i] = 2200 + 400 * std::cos(0.02 * t_row);
    d.coolant_k[i] = 345 + 0.01 * t_row;
    d.heating[i] = 0.1 * a;
    const double s = 0.5 + 0.35 * a;
    d.at[i].count = 2;
    d.at[i].node = {s < 0.5 ? 0 : 1, s < 0.5 ? 1 : 2, 0, 0};
    const double t = s < 0.5 ? 2 * s : 2 * s - 1;
    d.at[i].share = {1 - t, t, 0, 0};
  }
  return d;
}

std::vector<double> again(const Forward& f, const Theta& theta, double dd_s, double w) {
  Forward::Again a{.theta = theta, .dd_s = dd_s, .w = w};
  f.extend_again(a);
  return a.predicted_ln;
}

std::vector<double> delta_of(const Driving& d, const std::array<double, 3>& nodes) {
  std::vector<double> out(d.rows(), 0.0);
  for (std::size_t i = 0; i < d.rows(); ++i) {
    for (int k = 0; k < d.at[i].count; ++k) {
      out[i] += d.at[i].share[k] * nodes[static_cast<std::size_t>(d.at[i].node[k])];
    }
  }
  return out;
}

TEST(Forward, RowsAreTheDerivativesOfThePredictionByTheTable) {
  const Driving d = lively(800);
  const Theta theta{0.05, std::log(2e-3), std::log(0.11), 0.25, std::log(0.5), 0.2,
                    0.1,  0.06,           std::log(2.5)};
  const std::array<double, 3> nodes{0.03, -0.02, 0.05};
  Forward f(d);
  f.run(theta, delta_of(d, nodes), 1e-5, 0.02);
  std::vector<std::array<double, 3>> rows(800, {0, 0, 0});
  TableRows(f, theta, 3).each(800, [&](std::size_t i, const SparseLowPass& low, double whole) {
    for (const int n : low.active()) rows[i][static_cast<std::size_t>(n)] = low[n] / whole;
  });
  for (std::size_t n = 0; n < 3; ++n) {
    // The delay also moves with the table, by the exhaust's mass; that part is left out of the rows
    // on purpose and is small. Steps of 1e-5 keep the difference quotient exact to 1e-6.
    auto up = nodes;
    auto down = nodes;
    up[n] += 1e-5;
    down[n] -= 1e-5;
    Forward a(d);
    Forward b(d);
    a.run(theta, delta_of(d, up), 1e-5, 0.02);
    b.run(theta, delta_of(d, down), 1e-5, 0.02);
    double worst = 0;
    for (std::size_t i = 200; i < 800; ++i) {
      const double numeric = (a.predicted_ln()[i] - b.predicted_ln()[i]) / 2e-5;
      worst = std::max(worst, std::abs(numeric - rows[i][n]));
    }
    EXPECT_LT(worst, 0.04);
  }
}

TEST(Forward, RunningAgainWithOneParameterMovedEqualsANewRun) {
  const Driving d = lively(800);
  const Theta theta{0.05, std::log(2e-3), std::log(0.11), 0.25, std::log(0.5), 0.2,
                    0.1,  0.06,           std::log(2.5)};
  const auto delta = delta_of(d, {0.03, -0.02, 0.05});
  Forward f(d);
  f.run(theta, delta, 1e-5, 0.02);
  for (std::size_t k = 0; k < kThetas + 2; ++k) {
    Theta moved = theta;
    if (k < kThetas) moved[k] += 0.01;
    const double dd = k == kThetas ? 3e-5 : 1e-5;
    const double w = k == kThetas + 1 ? 0.05 : 0.02;
    const std::vector<double> other = again(f, moved, dd, w);
    Forward fresh(d);
    fresh.run(moved, delta, dd, w);
    double worst = 0;
    double change = 0;
    for (std::size_t i = 100; i < 800; ++i) {
      worst = std::max(worst, std::abs(fresh.predicted_ln()[i] - other[i]));
      change = std::max(change, std::abs(f.predicted_ln()[i] - other[i]));
    }
    // The gas of the charge weight is not weighed again: a second-order delay.
    EXPECT_LT(worst, k == kThetas + 1 ? 2e-4 : 1e-12) << k;
    EXPECT_GT(change, 1e-6) << k;  // every parameter does something
  }
}

TEST(Forward, ADriveRunInPiecesIsTheDriveRunAtOnceToTheBit) {
  Driving d = lively(800);
  d.stretches = {{0, 301}, {330, 800}};
  const Theta theta{0.05, std::log(4e-3), std::log(0.11), 0.25, std::log(0.5), 0.2,
                    0.1,  0.06,           std::log(2.5)};
  const auto delta = delta_of(d, {0.03, -0.02, 0.05});
  Forward whole(d);
  whole.run(theta, delta, 1e-5, 0.02);
  for (const std::size_t step : {1UL, 7UL, 20UL, 333UL}) {
    Forward pieces(d);
    pieces.begin(theta, 1e-5, 0.02);
    for (std::size_t i = 0; i < 800; i += step) {
      pieces.extend({delta.data() + i, std::min(step, 800 - i)});
    }
    for (std::size_t i = 0; i < 800; ++i) {
      EXPECT_EQ(std::isnan(pieces.predicted_ln()[i]), std::isnan(whole.predicted_ln()[i])) << i;
      if (std::isnan(whole.predicted_ln()[i])) continue;
      EXPECT_EQ(pieces.predicted_ln()[i], whole.predicted_ln()[i]) << i;
      EXPECT_EQ(pieces.film_ln()[i], whole.film_ln()[i]) << i;
      EXPECT_EQ(pieces.looked_up()[i], whole.looked_up()[i]) << i;
    }
  }
}

TEST(Forward, DerivativesByThetaAreSmoothInTheStep) {
  // What Gauss and Newton use: halving the step changes the derivative by less than 2 % of its
  // size, so the difference quotient is the derivative.
  const Driving d = lively(800);
  const Theta theta{0.05, std::log(2e-3), std::log(0.11), 0.25, std::log(0.5), 0.2,
                    0.1,  0.06,           std::log(2.5)};
  const Theta step{2e-3, 1e-2, 1e-2, 2e-3, 1e-2, 5e-3, 5e-3, 2e-3, 1e-2};
  Forward f(d);
  f.run(theta, delta_of(d, {0.03, -0.02, 0.05}), 0, 0);
  for (std::size_t k = 0; k < kThetas; ++k) {
    Theta a = theta;
    Theta b = theta;
    a[k] += step[k];
    b[k] -= step[k];
    const std::vector<double> up = again(f, a, 0, 0);
    const std::vector<double> down = again(f, b, 0, 0);
    double apart = 0;
    double size = 0;
    for (std::size_t i = 100; i < 800; ++i) {
      const double forward = (up[i] - f.predicted_ln()[i]) / step[k];
      const double central = (up[i] - down[i]) / (2 * step[k]);
      apart += (forward - central) * (forward - central);
      size += central * central;
    }
    EXPECT_GT(size, 0) << k;
    EXPECT_LT(std::sqrt(apart / size), 0.05) << k;
  }
}

}  // namespace
}  // namespace fuelwright::advice::forward_test
