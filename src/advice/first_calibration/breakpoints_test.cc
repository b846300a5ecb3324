// Breakpoints: exact where an answer is known, never worse than even spacing, idle kept.
#include "advice/first_calibration/breakpoints.h"

#include <gtest/gtest.h>

#include <cmath>
#include <random>

namespace fuelwright::advice::breakpoints_test {
namespace {

TEST(Breakpoints, ABrokenLineIsMetExactlyWithItsOwnCorners) {
  // Corners at 3 and 7; four knots lose nothing.
  std::vector<double> x;
  std::vector<double> y;
  for (int i = 0; i <= 10; ++i) {
    x.push_back(i);
    y.push_back(i < 3 ? 1.0 + i : i < 7 ? 4.0 : 4.0 + 2.0 * (i - 7));
  }
  const std::vector<std::vector<double>> w{std::vector<double>(11, 1.0)};
  EXPECT_EQ(best_knots(x, {y}, w, 4, {}), (std::vector<std::size_t>{0, 3, 7, 10}));
}

TEST(Breakpoints, NoOtherChoiceLosesLess) {
  // All choices of 5 of 9, tried one by one.
  std::mt19937_64 random(3);
  std::uniform_real_distribution<double> value(0.5, 1.0);
  for (int round = 0; round < 20; ++round) {
    std::vector<double> x;
    std::vector<double> y;
    std::vector<double> w;
    for (int i = 0; i < 9; ++i) {
      x.push_back(i + 0.5 * value(random));
      y.push_back(value(random));
      w.push_back(value(random));
    }
    const auto loss = [&](const std::vector<std::size_t>& k) {
      double sum = 0;
      for (std::size_t s = 0; s + 1 < k.size(); ++s) {
        for (std::size_t i = k[s] + 1; i < k[s + 1]; ++i) {
          const double t = (x[i] - x[k[s]]) / (x[k[s + 1]] - x[k[s]]);
          sum += w[i] * std::pow(((1 - t) * y[k[s]] + t * y[k[s + 1]]) / y[i] - 1, 2);
        }
      }
      return sum;
    };
    const double found = loss(best_knots(x, {y}, {w}, 5, {}));
    for (std::size_t a = 1; a < 6; ++a) {
      for (std::size_t b = a + 1; b < 7; ++b) {
        for (std::size_t c = b + 1; c < 8; ++c) EXPECT_LE(found, loss({0, a, b, c, 8}) + 1e-12);
      }
    }
  }
}

// VE with a bend at 2000 rpm and a steep foot at light load.
double bent(double n, double p) {
  return 0.6 + 0.2 * std::tanh((n - 2000) / 400) + 0.1 * std::tanh((p - 35e3) / 8e3);
}

TEST(Breakpoints, TheyGatherWhereTheSurfaceBendsAndIdleStaysANode) {
  car::Surface fine =
      car::Surface::flat({car::Axis::even(car::AxisKind::engine_speed, 500, 6500, 61),
                          car::Axis::even(car::AxisKind::map_absolute, 20e3, 100e3, 33)},
                         0);
  for (std::size_t iy = 0; iy < 33; ++iy) {
    for (std::size_t ix = 0; ix < 61; ++ix) {
      fine.node(ix, iy) = bent(fine.grid.x[ix], fine.grid.y[iy]);
    }
  }
  const car::Grid present{car::Axis::even(car::AxisKind::engine_speed, 500, 6500, 8),
                          car::Axis::even(car::AxisKind::map_absolute, 20e3, 100e3, 6)};
  const std::vector<double> w(fine.values.size(), 1.0);
  const ProposedAxes a = propose_breakpoints(fine, w, present, std::pair{930.0, 61e3});
  EXPECT_EQ(a.grid.x.size(), 8U);
  EXPECT_EQ(a.grid.y.size(), 6U);
  EXPECT_LT(a.loss, 0.7 * a.present_loss);
  EXPECT_GT(a.loss, 0);
  const auto has = [](const car::Axis& axis, double x, double within) {
    return std::any_of(axis.points().begin(), axis.points().end(),
                       [&](double p) { return std::abs(p - x) <= within; });
  };
  EXPECT_TRUE(has(a.grid.x, 930, 50));     // the fine step is 100 rpm
  EXPECT_TRUE(has(a.grid.y, 61e3, 1250));  // and 2.5 kPa
  EXPECT_EQ(a.grid.x[0], 500);
  EXPECT_EQ(a.grid.x[7], 6500);
}

TEST(Breakpoints, ATableAsLargeAsTheFineOneLosesNothing) {
  car::Surface fine =
      car::Surface::flat({car::Axis::even(car::AxisKind::engine_speed, 500, 6500, 7),
                          car::Axis::even(car::AxisKind::map_absolute, 20e3, 100e3, 5)},
                         0.7);
  fine.node(3, 2) = 0.9;
  const ProposedAxes a =
      propose_breakpoints(fine, std::vector<double>(35, 1.0), fine.grid, std::nullopt);
  EXPECT_EQ(a.grid, fine.grid);
  EXPECT_EQ(a.loss, 0);
}

}  // namespace
}  // namespace fuelwright::advice::breakpoints_test
