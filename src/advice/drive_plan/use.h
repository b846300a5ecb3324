/// What the car is used for: where on the table its time goes.
///
///   Use::of_estimate(e)             the time at the nodes, of the recordings behind an estimate
///   Use::of_speeds(road, grid, v)   a speed cycle, put through gears and road load
///   Use::assumed(road, grid, top)   nothing is known: town and open road, gently
///
/// Weights sum to 1. Fuel cut on the overrun, where no table is used, is left out.
#pragma once

#include <Eigen/Core>
#include <span>
#include <string>
#include <vector>

#include "advice/drive_plan/on_road.h"
#include "advice/map_estimate/estimate.h"

namespace fuelwright::advice {

struct Use {
  struct Place {
    car::NodeShares shares;
    double weight = 0;
  };
  std::vector<Place> places;
  std::string says;  ///< where it was taken from, in words

  /// Its recordings' time at the nodes; empty places if there is none.
  static Use of_estimate(const MapEstimate& estimate);
  /// Operating points, each for as long as the others.
  static Use of_points(const car::Grid& grid, std::span<const car::OperatingPoint> points,
                       std::string says);
  /// A speed for each second [m/s], in the highest gear that an easy driver would take. Speeds 0 or
  /// more (a broken contract otherwise).
  static Use of_speeds(const OnRoad& road, const car::Grid& grid, std::span<const double> speed_m_s,
                       std::string says);
  static Use assumed(const OnRoad& road, const car::Grid& grid, Speed top);

  bool known() const { return !places.empty(); }
  /// sum of weight shares shares', [node][node].
  Eigen::MatrixXd weights(std::size_t nodes) const;
};

}  // namespace fuelwright::advice
