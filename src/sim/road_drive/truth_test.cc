#include "sim/road_drive/truth.h"

#include <gtest/gtest.h>

#include <cmath>

#include "base/contract.h"

namespace fuelwright::sim {
namespace {

car::Grid usual_grid() {
  return {car::Axis::even(car::AxisKind::engine_speed, 600, 6000, 16),
          car::Axis::even(car::AxisKind::map_absolute, 20e3, 100e3, 12)};
}

double ve(const Truth& t, double n, double map_kpa) {
  return true_ve(t, rpm(n), absolute(map_kpa * kPa));
}

TEST(Truth, TheSameSeedInventsTheSameCarAndAnotherSeedAnotherOne) {
  const Truth a = invent_truth(3, 5.0 * litre, 8);
  const Truth b = invent_truth(3, 5.0 * litre, 8);
  const Truth c = invent_truth(4, 5.0 * litre, 8);
  EXPECT_EQ(ve(a, 2345, 61), ve(b, 2345, 61));
  EXPECT_EQ(a.vehicle.mass, b.vehicle.mass);
  EXPECT_EQ(a.film.share, b.film.share);
  EXPECT_NE(ve(a, 2345, 61), ve(c, 2345, 61));
}

TEST(Truth, VolumetricEfficiencyStaysBetween35And105PercentForEveryInventedEngine) {
  for (std::uint64_t seed = 1; seed <= 60; ++seed) {
    const Truth t = invent_truth(seed, (0.6 + 0.1 * static_cast<double>(seed)) * litre, 4);
    for (double n = 500; n <= 6500; n += 250) {
      for (double p = 18; p <= 101; p += 4) {
        EXPECT_GE(ve(t, n, p), 0.35);
        EXPECT_LE(ve(t, n, p), 1.05);
      }
    }
    const double peak = ve(t, t.breathing.hump.rpm, 98);
    EXPECT_GT(peak, 0.72);  // an engine that breathes at all at its best speed
  }
}

TEST(Truth, ResidualGasTakesRoomAsWorkedByHand) {
  Truth t = with_flat_ve(invent_truth(1, 5.0 * litre, 8), 0.90);
  t.breathing.residual = 1;
  t.breathing.compression_ratio = 10;
  t.breathing.exhaust = absolute(100.0 * kPa);
  // (100/50 - 1) / (1.35 (10 - 1)) = 1/12.15 = 0.082305; VE = 0.90 (1 - 0.082305) = 0.825926.
  EXPECT_NEAR(residual_droop(t, rpm(3000), absolute(50.0 * kPa)), 0.082305, 1e-6);
  EXPECT_NEAR(ve(t, 3000, 50), 0.825926, 1e-6);
}

TEST(Truth, AFlatEngineBreathesTheStatedShareEverywhere) {
  const Truth t = with_flat_ve(invent_truth(5, 5.0 * litre, 8), 0.88);
  for (double n = 600; n <= 6000; n += 300) {
    for (double p = 20; p <= 100; p += 10) EXPECT_NEAR(ve(t, n, p), 0.88, 1e-7);
  }
}

TEST(Truth, AnEngineBreathesWorseAtLightLoadAndMoreOverlapMakesIdleWorse) {
  for (std::uint64_t seed = 1; seed <= 30; ++seed) {
    Truth t = invent_truth(seed, 5.7 * litre, 8);
    EXPECT_LT(ve(t, 800, 35), ve(t, 800, 60));
    EXPECT_LT(ve(t, 800, 60), ve(t, 800, 95));
    const double idle_before = ve(t, 800, 45);
    const double fast_before = ve(t, 5500, 45);
    t.breathing.overlap += 0.8;
    const double idle_loss = idle_before - ve(t, 800, 45);
    EXPECT_GT(idle_loss, 0.01);
    EXPECT_LT(fast_before - ve(t, 5500, 45), 0.2 * idle_loss);
  }
}

/// Largest second difference of VE over ln rpm (along = 0) or over pressure (along = 1).
double largest_bend(const Truth& t, double step, int along) {
  double largest = 0;
  for (double x = 0; x <= 1; x += 0.002) {
    const auto at = [&](double y) {
      return along == 0 ? ve(t, 700 * std::pow(8.5, y), 55) : ve(t, 1100, 22 + 78 * y);
    };
    largest = std::max(largest, std::abs(at(x + step) - 2 * at(x) + at(x - step)));
  }
  return largest;
}

TEST(Truth, TheSurfaceHasNoStepsAndNoKinksInTheDrivenRange) {
  // Halving the step quarters the bend of a smooth curve, halves it at a kink and leaves it at a
  // step.
  constexpr double kQuarterWithSlack = 0.28;
  for (std::uint64_t seed = 1; seed <= 20; ++seed) {
    const Truth t = invent_truth(seed, 5.0 * litre, 8);
    if (ve(t, 800, 30) < 0.40) continue;  // not where the round corner of the lower bound begins
    for (const int along : {0, 1}) {
      EXPECT_LT(largest_bend(t, 0.005, along), kQuarterWithSlack * largest_bend(t, 0.01, along))
          << seed << " " << along;
    }
  }
}

TEST(Truth, InjectorsAreSizedSoThatTheyNeverStandOpenAtTheRedline) {
  for (const double ratio : {14.6, 9.8}) {
    const Truth t = invent_truth(11, 5.0 * litre, 8, ratio);
    const double air = 100e3 * t.displacement.si / 8 / (287.05 * 300);  // VE 1
    const double open = air / (0.85 * ratio) / t.injection.stated_flow.si;
    const double cycle = 120 / t.vehicle.redline.rpm;
    EXPECT_LT((open + t.injection.stated_dead_time.si) / cycle, 0.85);
    EXPECT_GT((open + t.injection.stated_dead_time.si) / cycle, 0.70);
  }
}

TEST(Truth, IdealisingTakesAwayWhatStandsBetweenTableAndReadingAndNothingElse) {
  const Truth t = invent_truth(8, 5.0 * litre, 8);
  const Truth i = idealised(t);
  EXPECT_EQ(ve(t, 3210, 48), ve(i, 3210, 48));
  EXPECT_EQ(t.vehicle.axle, i.vehicle.axle);
  EXPECT_EQ(i.film.share, 0);
  EXPECT_EQ(i.sensor.noise, 0);
  EXPECT_EQ(i.injection.flow_error, 0);
  EXPECT_EQ(i.surroundings.charge_heating_believed, t.surroundings.charge_heating);
}

TEST(Truth, AnEngineThatCannotBeIsABrokenContract) {
  EXPECT_THROW(invent_truth(1, 0.1 * litre, 1), Bug);
  EXPECT_THROW(invent_truth(1, 5.0 * litre, 0), Bug);
  EXPECT_THROW(invent_truth(1, 5.0 * litre, 8, 1.0), Bug);
}

TEST(TableAsFound, IsWrongByFiveToFifteenPercentAndSmoothlySo) {
  constexpr double kRoundingSlack = 0.002;  // values are rounded to 0.001 of a VE as low as 0.35
  constexpr double kRoughest = 0.8;  // rms of neighbours' difference over rms; white noise has 1.41
  double smallest = 1, largest = 0;
  for (std::uint64_t seed = 1; seed <= 40; ++seed) {
    const Truth t = invent_truth(seed, 5.0 * litre, 8);
    const car::Surface found = table_as_found(t, usual_grid(), seed);
    double sum = 0, steps = 0, before = 0;
    for (std::size_t iy = 0; iy < found.grid.y.size(); ++iy) {
      for (std::size_t ix = 0; ix < found.grid.x.size(); ++ix) {
        const double truth_here = ve(t, found.grid.x[ix], found.grid.y[iy] / 1e3);
        const double error = std::log(found.node(ix, iy) / truth_here);
        if (ix > 0) steps += (error - before) * (error - before);
        before = error;
        sum += error * error;
      }
    }
    const double rms = std::sqrt(sum / static_cast<double>(found.grid.size()));
    EXPECT_GT(rms, 0.05 - kRoundingSlack) << seed;
    EXPECT_LT(rms, 0.15 + kRoundingSlack) << seed;
    EXPECT_LT(std::sqrt(steps / sum), kRoughest) << seed;
    smallest = std::min(smallest, rms);
    largest = std::max(largest, rms);
  }
  EXPECT_LT(smallest, 0.07);
  EXPECT_GT(largest, 0.13);
}

TEST(TableAsFound, OverVacuumOrTurnedRoundIsTheSameTable) {
  const Truth t = invent_truth(2, 5.0 * litre, 8);
  const double ambient = t.surroundings.ambient.from_zero.si;
  const car::Axis speeds = car::Axis::even(car::AxisKind::engine_speed, 600, 6000, 10);
  const car::Axis maps =
      car::Axis::even(car::AxisKind::map_absolute, ambient - 75e3, ambient - 5e3, 8);
  const car::Axis vacuums = car::Axis::even(car::AxisKind::vacuum, 5e3, 75e3, 8);
  const car::Surface a = table_as_found(t, {speeds, maps}, 9);
  const car::Surface b = table_as_found(t, {speeds, vacuums}, 9);
  const car::Surface c = table_as_found(t, {maps, speeds}, 9);
  for (std::size_t iy = 0; iy < 8; ++iy) {
    for (std::size_t ix = 0; ix < 10; ++ix) {
      EXPECT_NEAR(a.node(ix, iy), b.node(ix, 7 - iy), 0.0011);  // one step of rounding
      EXPECT_NEAR(a.node(ix, iy), c.node(iy, ix), 0.0011);
    }
  }
}

}  // namespace
}  // namespace fuelwright::sim
