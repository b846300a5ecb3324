/// An invented estimate for tests: nodes known alike, or one by one, independent of each other.
#pragma once

#include <cmath>

#include "advice/map_estimate/estimate.h"

namespace fuelwright::advice {

/// Speeds 1000..5000 rpm in 1000s, MAP 40, 60, 80, 100 kPa: loads of which the last two are high.
inline car::Grid invented_grid() {
  return {car::Axis::even(car::AxisKind::engine_speed, 1000, 5000, 5),
          car::Axis::even(car::AxisKind::map_absolute, 40e3, 100e3, 4)};
}

/// Every node: this value, this standard deviation of ln (discrepancy included, half of it in
/// variance), this mark, this standard deviation before driving.
inline MapEstimate invented_estimate(const car::Grid& grid, double value, double sd,
                                     car::NodeMark mark, double prior_sd = 0.20) {
  const std::size_t n = grid.size();
  const auto k = static_cast<Eigen::Index>(n);
  MapEstimate e{.verdict = Verdict::good,
                .evidence = {car::TableWhat::ve, grid, std::vector<double>(n, value),
                             std::vector<double>(n, sd), std::vector<double>(n, 30.0),
                             std::vector<car::NodeMark>(n, mark)}};
  e.mean = Eigen::VectorXd::Zero(k);
  e.covariance = 0.5 * sd * sd * Eigen::MatrixXd::Identity(k, k);
  e.prior_sd = Eigen::VectorXd::Constant(k, prior_sd);
  e.usage = Eigen::VectorXd::Constant(k, 1.0 / static_cast<double>(n));
  e.seconds = 600;
  e.samples = 6000;
  return e;
}

/// The same at one node only.
inline void set_node(MapEstimate& e, std::size_t i, double value, double sd, car::NodeMark mark) {
  const auto k = static_cast<Eigen::Index>(i);
  e.evidence.estimate[i] = value;
  e.evidence.sd_log[i] = sd;
  e.evidence.mark[i] = mark;
  e.evidence.seconds[i] = mark == car::NodeMark::measured ? 30 : 0;
  e.covariance(k, k) = 0.5 * sd * sd;
}

}  // namespace fuelwright::advice
