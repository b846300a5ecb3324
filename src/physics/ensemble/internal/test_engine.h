/// For this module's tests: an engine whose ln VE is linear in its parts, so that every answer is
/// known.
#pragma once

#include <cmath>
#include <numbers>

#include "physics/ensemble/ensemble.h"
#include "physics/ensemble/sample.h"

namespace fuelwright::physics {

inline MapPlaces test_places(int speeds = 8, int pressures = 5) {
  MapPlaces places;
  for (int i = 0; i < speeds; ++i) places.speeds.push_back(rpm(1000 + 5000.0 * i / (speeds - 1)));
  for (int j = 0; j < pressures; ++j)
    places.pressures.push_back(absolute((30 + 70.0 * j / (pressures - 1)) * kPa));
  places.surroundings.ambient = absolute(100 * kPa);
  places.surroundings.intake_air = celsius(30);
  return places;
}

/// Change of ln VE by part k at a node: smooth waves over speed, weaker or stronger with load.
inline Eigen::MatrixXd test_sensitivities(const MapPlaces& places, int parts, double size = 0.02) {
  const auto nx = static_cast<Eigen::Index>(places.speeds.size());
  const auto n = nx * static_cast<Eigen::Index>(places.pressures.size());
  Eigen::MatrixXd J(parts, n);
  for (Eigen::Index i = 0; i < n; ++i) {
    const double x = places.speeds[static_cast<std::size_t>(i % nx)].rpm / 6000;
    const double y = places.pressures[static_cast<std::size_t>(i / nx)].from_zero.si / 1e5;
    for (int k = 0; k < parts; ++k)
      J(k, i) = size * std::sin(std::numbers::pi * (k + 1) * x / 2 + k) *
                (1 + 0.3 * (k % 3 - 1) * y) / (1 + 0.2 * k);
  }
  return J;
}

inline double test_level(const MapPlaces& places, Eigen::Index node) {
  const auto nx = static_cast<Eigen::Index>(places.speeds.size());
  const double x = places.speeds[static_cast<std::size_t>(node % nx)].rpm / 6000;
  const double y = places.pressures[static_cast<std::size_t>(node / nx)].from_zero.si / 1e5;
  return std::log(0.5 + 0.3 * y + 0.2 * x * (1 - x));
}

inline AirMap map_of(const MapPlaces& places, const Eigen::RowVectorXd& ln_ve) {
  AirMap map{places.speeds, places.pressures, {}};
  const auto nx = static_cast<Eigen::Index>(places.speeds.size());
  for (Eigen::Index i = 0; i < ln_ve.size(); ++i) {
    AirNode node;
    node.speed = places.speeds[static_cast<std::size_t>(i % nx)];
    node.map = places.pressures[static_cast<std::size_t>(i / nx)];
    node.ve = std::exp(ln_ve[i]);
    node.residual = 0.1;
    node.trapped_air = 500 * node.ve * mg;
    node.trapped = 600 * node.ve * mg;
    node.cycles = 9;
    map.nodes.push_back(node);
  }
  return map;
}

/// Engines drawn from the linear engine with these sensitivities.
inline Drawn test_drawn(const Eigen::MatrixXd& J, const MapPlaces& places, int members,
                        std::uint64_t seed) {
  Drawn out;
  out.seed = seed;
  out.places = places;
  const auto parts = static_cast<int>(J.rows());
  Eigen::RowVectorXd level(J.cols());
  for (Eigen::Index i = 0; i < level.size(); ++i) level[i] = test_level(places, i);
  out.centre = map_of(places, level);
  out.z = normal_sample(members, parts, seed);
  for (int m = 0; m < members; ++m) out.members.push_back(map_of(places, level + out.z.row(m) * J));
  for (int k = 0; k < parts; ++k) {
    out.steps.push_back(map_of(places, level + J.row(k)));
    out.parts.push_back({.id = "part." + std::to_string(k),
                         .name = "part " + std::to_string(k),
                         .group = "test",
                         .source = "typical",
                         .half_width = "2",
                         .measuring = "measuring part " + std::to_string(k),
                         .leaves = 0.25});
  }
  return out;
}

inline EnsembleSettings without_discrepancy() {
  EnsembleSettings s;
  s.discrepancy = {.full_level = 0, .full_shape = 0, .smooth = 0};
  return s;
}

}  // namespace fuelwright::physics
