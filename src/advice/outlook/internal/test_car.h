/// An invented car for the tests of this module: a 5.0-litre V8 with small injectors, and drives of
/// it that visit chosen nodes.
#pragma once

#include <gtest/gtest.h>

#include <random>
#include <string>
#include <vector>

#include "advice/map_estimate/estimate.h"
#include "car/build/sheet_file.h"

namespace fuelwright::advice {

inline car::Sheet test_sheet(const std::string& injection = "",
                             const std::string& flow = "30 lb/h") {
  auto s = car::read_sheet(
      "[engine]\ndisplacement = \"5.0 l\"\ncylinders = 8\n[cam]\n"
      "intake_duration_050 = \"214 deg\"\n[injection]\ninjector_flow = \"" +
          flow +
          " at 43.5 psi\"\ndead_time = \"1.0 ms\"\ndead_time_voltage = \"14 V\"\n"
          "squirts_per_cycle = 1\nregulator_pressure = \"43.5 psi\"\n" +
          injection +
          "[fuel]\nname = \"petrol\"\nstoichiometric = 14.7\ndensity = \"0.75 kg/l\"\n"
          "[place]\npressure = \"100 kPa absolute\"\n"
          "[wishes]\nscale = \"afr 14.7\"\nidle_speed = \"800 rpm\"\n"
          "rev_limit = \"6000 rpm\"\n",
      "test");
  EXPECT_TRUE(s) << s.error().line();
  return *s;
}

/// Speeds 1000..6000 rpm in 1000s; MAP 30, 50, 70, 85, 100 kPa. Node = 6 row + column.
inline car::Grid test_grid() {
  return {car::Axis::even(car::AxisKind::engine_speed, 1000, 6000, 6),
          *car::Axis::make(car::AxisKind::map_absolute, {30e3, 50e3, 70e3, 85e3, 100e3})};
}
inline constexpr std::size_t kFullRow = 4;

/// Visits nodes for some seconds each; true delta as given, readings with 1 % of noise.
inline MapEstimate driven(const car::Surface& table, const std::vector<std::size_t>& nodes,
                          const Eigen::VectorXd& delta, unsigned seed, int seconds = 30,
                          const EstimateOptions& options = {}) {
  std::mt19937 random(seed);
  std::normal_distribution<double> noise(0, 0.01);
  std::vector<Sample> samples;
  const car::Grid& g = table.grid;
  for (const std::size_t i : nodes) {
    for (int k = 0; k < seconds; ++k) {
      Sample s;
      s.at = {.speed = rpm(g.x[i % g.x.size()]),
              .map = absolute(g.y[i / g.x.size()] * pascal),
              .ambient = absolute(100.0 * kPa)};
      s.y = delta[static_cast<Eigen::Index>(i)] + noise(random);
      s.sd = 0.01;
      samples.push_back(s);
    }
  }
  return estimate(
      table, car::TableWhat::ve,
      [&](const auto& f) {
        for (const Sample& s : samples) f(s);
      },
      options);
}
inline MapEstimate driven(const car::Surface& table, const std::vector<std::size_t>& nodes) {
  return driven(table, nodes, Eigen::VectorXd::Zero(static_cast<Eigen::Index>(table.grid.size())),
                1);
}

/// All nodes of a row.
inline std::vector<std::size_t> row(std::size_t iy, std::size_t first = 0, std::size_t last = 5) {
  std::vector<std::size_t> out;
  for (std::size_t ix = first; ix <= last; ++ix) out.push_back(6 * iy + ix);
  return out;
}
inline std::vector<std::size_t> both(std::vector<std::size_t> a,
                                     const std::vector<std::size_t>& b) {
  a.insert(a.end(), b.begin(), b.end());
  return a;
}

}  // namespace fuelwright::advice
