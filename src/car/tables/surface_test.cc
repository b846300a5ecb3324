#include "car/tables/surface.h"

#include <gtest/gtest.h>

#include <cmath>

#include "car/tables/calibration.h"

namespace fuelwright::car::surface_test {
namespace {

Grid small_grid() {
  return {Axis::even(AxisKind::engine_speed, 1000, 3000, 3),
          Axis::even(AxisKind::map_absolute, 40e3, 80e3, 2)};
}

Surface small_table() { return {small_grid(), {0.50, 0.60, 0.70, 0.70, 0.80, 0.90}}; }

OperatingPoint at(double n, double map_kpa) {
  return {.speed = rpm(n), .map = absolute(map_kpa * kPa)};
}

TEST(Surface, AQuarterOfTheWayIsWorkedByHand) {
  // rpm 1500: s = 0.5; 50 kPa: t = 0.25.
  // (.5)(.75)(.50) + (.5)(.75)(.60) + (.5)(.25)(.70) + (.5)(.25)(.80) = .1875+.225+.0875+.1 = .6
  EXPECT_NEAR(small_table().at(at(1500, 50)), 0.60, 1e-12);
}

TEST(Surface, SharesAreNeverNegativeAndAddUpToOne) {
  const Grid grid = small_grid();
  for (double n = 0; n < 5000; n += 130) {
    for (double p = 0; p < 120e3; p += 3.1e3) {
      const NodeShares s = grid.shares(n, p);
      double sum = 0;
      for (int k = 0; k < s.count; ++k) {
        EXPECT_GT(s.share[k], 0);
        sum += s.share[k];
      }
      EXPECT_NEAR(sum, 1.0, 1e-12);
    }
  }
}

TEST(Surface, APlaneIsReproducedExactlyInside) {
  Surface plane = Surface::flat(small_grid(), 0);
  const auto f = [](double n, double p) { return 0.2 + 1e-4 * n + 2e-6 * p; };
  for (std::size_t iy = 0; iy < 2; ++iy) {
    for (std::size_t ix = 0; ix < 3; ++ix) {
      plane.node(ix, iy) = f(plane.grid.x[ix], plane.grid.y[iy]);
    }
  }
  EXPECT_NEAR(plane.at(2345, 61e3), f(2345, 61e3), 1e-12);
}

TEST(Surface, OutsideTheTableTheEdgeValueHolds) {
  EXPECT_DOUBLE_EQ(small_table().at(at(200, 20)), 0.50);
  EXPECT_DOUBLE_EQ(small_table().at(at(9000, 250)), 0.90);
  EXPECT_NEAR(small_table().at(at(9000, 60)), 0.80, 1e-12);
}

TEST(Surface, AVacuumAxisNeedsTheAmbientPressureOfTheDay) {
  const Axis vacuum = Axis::even(AxisKind::vacuum, 0, 60e3, 7);
  OperatingPoint p = at(2000, 60);
  EXPECT_NEAR(vacuum.coordinate(p), 41.325e3, 1e-6);
  p.ambient = absolute(84.0 * kPa);  // the same manifold pressure on a hill
  EXPECT_NEAR(vacuum.coordinate(p), 24.0e3, 1e-6);
}

TEST(Surface, AFinerGridKeepsTheSurfaceAndACoarserOneSaysWhatItLost) {
  const auto finer = resample(small_table(), {Axis::even(AxisKind::engine_speed, 1000, 3000, 5),
                                              Axis::even(AxisKind::map_absolute, 40e3, 80e3, 3)});
  ASSERT_TRUE(finer);
  EXPECT_LT(finer->largest_loss, 1e-12);
  Surface bent = small_table();
  bent.node(1, 0) = 0.70;  // straight line would have 0.60
  const auto coarser = resample(bent, {Axis::even(AxisKind::engine_speed, 1000, 3000, 2),
                                       Axis::even(AxisKind::map_absolute, 40e3, 80e3, 2)});
  ASSERT_TRUE(coarser);
  EXPECT_NEAR(coarser->largest_loss, 0.10, 1e-12);
  EXPECT_FALSE(resample(bent, {Axis::even(AxisKind::engine_speed, 1000, 3000, 2),
                               Axis::even(AxisKind::throttle, 0, 1, 2)}));
}

TEST(Axis, AnAxisThatCannotBeIsRefusedInWords) {
  EXPECT_FALSE(Axis::make(AxisKind::engine_speed, {}));
  EXPECT_FALSE(Axis::make(AxisKind::engine_speed, std::vector<double>(65, 0)));
  EXPECT_FALSE(Axis::make(AxisKind::engine_speed, {1000, 900}));
  EXPECT_FALSE(Axis::make(AxisKind::map_absolute, {20e3, 9e6}));
  EXPECT_FALSE(Axis::make(AxisKind::throttle, {0, 1.2}));
  EXPECT_TRUE(Axis::make(AxisKind::vacuum, {-150e3, 0, 80e3}));  // boost is vacuum below zero
}

TEST(Calibration, AValueThatCannotBeMeantIsNamedWithItsNode) {
  Calibration c;
  Surface ve = small_table();
  ve.node(1, 1) = NAN;
  c.tables.emplace(TableWhat::ve, ve);
  const auto status = validate(c);
  ASSERT_FALSE(status);
  EXPECT_EQ(status.error().where, "table ve at 2000 rpm, 80.00 kPa");
}

}  // namespace
}  // namespace fuelwright::car::surface_test
