#include "sim/virtual_car/as_found.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

#include "base/contract.h"
#include "car/build/derived.h"
#include "sim/virtual_car/internal/computer.h"
#include "sim/virtual_car/internal/power.h"
#include "sim/virtual_car/internal/random.h"

namespace fuelwright::sim::virtual_car {
namespace {

constexpr double kLeastError = 0.05, kMostError = 0.15;
constexpr double kLowestNode_pa = 15e3, kSlowest_rpm = 300;
constexpr double kSparkBelowBest_deg = 4, kLeastSpark_deg = 8, kMostSpark_deg = 42;
constexpr int kHalvings = 24;

/// Pressure at which the opening lets through what the engine takes.
double steady_map_pa(const Truth& truth, const Power& power, double rpm, double pedal) {
  const double warm_k = truth.vehicle.thermostat.from_zero.si;
  const double intake_k = truth.air.reference_intake.from_zero.si;
  double low = kLowestNode_pa, high = truth.weather.ambient.from_zero.si;
  for (int i = 0; i < kHalvings; ++i) {
    const double p = 0.5 * (low + high);
    const double area =
        power.throttle_area(pedal) + kIdleValveByThrottle * truth.engine.idle_valve.si;
    const double in = power.flow_kg_s(area, p);
    (in > power.intake(rpm, p, intake_k, warm_k).moist_kg_s ? low : high) = p;
  }
  return 0.5 * (low + high);
}

struct Place {
  double rpm, map_pa;
  double x, y;  // 0..1 of the grid
};

template <class Each>
void over(const Truth& truth, const car::Grid& grid, Each each) {
  const Power power(truth);
  const bool speed_first = grid.x.kind() == car::AxisKind::engine_speed;
  const car::Axis& speeds = speed_first ? grid.x : grid.y;
  const car::Axis& loads = speed_first ? grid.y : grid.x;
  EXPECTS(speeds.kind() == car::AxisKind::engine_speed);
  const double ambient = truth.weather.ambient.from_zero.si;
  for (std::size_t iy = 0; iy < grid.y.size(); ++iy) {
    for (std::size_t ix = 0; ix < grid.x.size(); ++ix) {
      const double n = std::max(speeds[speed_first ? ix : iy], kSlowest_rpm);
      const double load = loads[speed_first ? iy : ix];
      double p = load;
      if (loads.kind() == car::AxisKind::vacuum) p = ambient - load;
      if (loads.kind() == car::AxisKind::throttle) p = steady_map_pa(truth, power, n, load);
      const auto part = [](std::size_t i, std::size_t count) {
        return count > 1 ? static_cast<double>(i) / static_cast<double>(count - 1) : 0.0;
      };
      each(ix, iy,
           Place{n, std::max(p, kLowestNode_pa), part(ix, grid.x.size()), part(iy, grid.y.size())});
    }
  }
}

double rounded(double value, double step) { return std::round(value / step) * step; }

car::Surface wishes_of(const Truth& truth, const car::Sheet& sheet, const car::Grid& grid) {
  car::Surface out = car::Surface::flat(grid, 1);
  const car::Wishes& w = sheet.wishes;
  const double ambient = truth.weather.ambient.from_zero.si;
  over(truth, grid, [&](std::size_t ix, std::size_t iy, const Place& at) {
    const double idle = 1 - std::clamp((at.rpm / w.idle_speed.value.rpm - 1.2) / 0.5, 0.0, 1.0);
    const double full = std::clamp((at.map_pa / ambient - 0.75) / 0.15, 0.0, 1.0);
    const double cruise = w.cruise_mixture.value.value;
    const double light = cruise + idle * (w.idle_mixture.value.value - cruise);
    const double wish = light + full * (w.full_throttle_mixture.value.value - light);
    out.node(ix, iy) = rounded(wish, 0.005);
  });
  return out;
}

}  // namespace

car::Surface true_table(const Truth& truth, const car::Grid& grid) {
  EXPECTS(truth.has_air());
  car::Surface out = car::Surface::flat(grid, 0);
  const bool by_throttle =
      grid.x.kind() == car::AxisKind::throttle || grid.y.kind() == car::AxisKind::throttle;
  over(truth, grid, [&](std::size_t ix, std::size_t iy, const Place& at) {
    const double ve = true_ve(truth, rpm(at.rpm), absolute(at.map_pa * pascal));
    out.node(ix, iy) = by_throttle ? ve * at.map_pa / truth.weather.ambient.from_zero.si : ve;
  });
  return out;
}

car::Calibration calibration_as_found(const Truth& truth, const car::Sheet& sheet,
                                      std::uint64_t seed) {
  const car::Grid grid = car::table_grid(sheet);
  Random random(seed, "table as found");
  const double wanted = random.uniform(kLeastError, kMostError);
  const double level = 0.8 * random.normal(), tilt_x = 0.8 * random.normal(),
               tilt_y = 0.8 * random.normal();
  std::array<std::array<double, 4>, 4> waves{};
  for (auto& w : waves) {
    const double way = random.uniform(0, std::numbers::pi);
    const double turns = 2 * std::numbers::pi * random.uniform(0.5, 1.5);
    w = {0.6 * random.normal(), turns * std::cos(way), turns * std::sin(way),
         random.uniform(0, 2 * std::numbers::pi)};
  }
  car::Surface error = car::Surface::flat(grid, 0);
  double sum = 0;
  over(truth, grid, [&](std::size_t ix, std::size_t iy, const Place& at) {
    double e = level + tilt_x * (at.x - 0.5) + tilt_y * (at.y - 0.5);
    for (const auto& w : waves) e += w[0] * std::cos(w[1] * at.x + w[2] * at.y + w[3]);
    error.node(ix, iy) = e;
    sum += e * e;
  });
  const double scale = wanted / std::sqrt(sum / static_cast<double>(grid.size()));
  car::Surface ve = true_table(truth, grid);
  for (std::size_t i = 0; i < ve.values.size(); ++i) {
    ve.values[i] =
        rounded(std::clamp(ve.values[i] * std::exp(scale * error.values[i]), 0.05, 1.8), 0.001);
  }
  car::Surface spark = car::Surface::flat(grid, 0);
  const Power power(truth);
  over(truth, grid, [&](std::size_t ix, std::size_t iy, const Place& at) {
    const double best = power.best_spark_deg(at.rpm, at.map_pa) - kSparkBelowBest_deg;
    spark.node(ix, iy) = rounded(std::clamp(best, kLeastSpark_deg, kMostSpark_deg), 0.5);
  });
  car::Calibration out;
  out.tables.emplace(car::TableWhat::ve, std::move(ve));
  out.tables.emplace(car::TableWhat::lambda_target, wishes_of(truth, sheet, grid));
  out.tables.emplace(car::TableWhat::spark, std::move(spark));
  return out;
}

}  // namespace fuelwright::sim::virtual_car
