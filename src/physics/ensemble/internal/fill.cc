#include "physics/ensemble/internal/fill.h"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <vector>

namespace fuelwright::physics::internal {
namespace {

std::vector<Eigen::Index> columns_where(const Eigen::MatrixXd& values, Eigen::Index row,
                                        bool missing) {
  std::vector<Eigen::Index> out;
  for (Eigen::Index j = 0; j < values.cols(); ++j)
    if (std::isnan(values(row, j)) == missing) out.push_back(j);
  return out;
}

// The first guess: every missing value at its column's mean.
void start(const Eigen::MatrixXd& values, Filled* f) {
  f->mean = Eigen::VectorXd::Zero(values.cols());
  for (Eigen::Index j = 0; j < values.cols(); ++j) {
    double sum = 0;
    int n = 0;
    for (Eigen::Index i = 0; i < values.rows(); ++i) {
      if (std::isnan(values(i, j))) continue;
      sum += values(i, j);
      ++n;
    }
    if (n > 0) f->mean[j] = sum / n;
  }
  f->deviations = values.rowwise() - f->mean.transpose();
  f->deviations = f->deviations.array().isNaN().select(0.0, f->deviations);
  f->filled_variance = Eigen::VectorXd::Zero(values.cols());
}

}  // namespace

Filled fill_missing(const Eigen::MatrixXd& values) {
  constexpr int kRounds = 8;
  constexpr double kRidge = 1e-4;  // (1 % of ln VE)^2: keeps rows of fewer members than nodes apart
  Filled f;
  start(values, &f);
  const double rows = static_cast<double>(values.rows());
  for (int round = 0; round < kRounds && values.array().isNaN().any(); ++round) {
    Eigen::MatrixXd S = f.deviations.transpose() * f.deviations / std::max(1.0, rows - 1);
    S.diagonal() += f.filled_variance;
    S.diagonal().array() += kRidge;
    Eigen::VectorXd left = Eigen::VectorXd::Zero(values.cols());
    for (Eigen::Index i = 0; i < values.rows(); ++i) {
      const auto missing = columns_where(values, i, true);
      if (missing.empty()) continue;
      const auto there = columns_where(values, i, false);
      if (there.empty()) continue;
      const Eigen::LLT<Eigen::MatrixXd> solve(S(there, there));
      const Eigen::MatrixXd across = S(missing, there);
      const Eigen::VectorXd guess =
          across * solve.solve(Eigen::VectorXd(f.deviations(i, there).transpose()));
      const Eigen::VectorXd rest =
          S(missing, missing).diagonal() - (across * solve.solve(across.transpose())).diagonal();
      for (std::size_t k = 0; k < missing.size(); ++k) {
        f.deviations(i, missing[k]) = guess[static_cast<Eigen::Index>(k)];
        left[missing[k]] += std::max(0.0, rest[static_cast<Eigen::Index>(k)]) / rows;
      }
    }
    f.filled_variance = left;
    const Eigen::RowVectorXd shift = f.deviations.colwise().mean();
    f.mean += shift.transpose();
    f.deviations.rowwise() -= shift;
  }
  return f;
}

double matern52(double distance) {
  const double a = std::sqrt(5.0) * distance;
  return (1 + a + a * a / 3) * std::exp(-a);
}

Eigen::MatrixXd discrepancy_covariance(const Discrepancy& d, const MapPlaces& places) {
  const auto nx = places.speeds.size();
  const auto n = static_cast<Eigen::Index>(nx * places.pressures.size());
  const double ambient = places.surroundings.ambient.from_zero.si;
  Eigen::VectorXd speed(n), load(n), full(n);
  for (Eigen::Index i = 0; i < n; ++i) {
    speed[i] = places.speeds[static_cast<std::size_t>(i) % nx].rpm;
    load[i] = places.pressures[static_cast<std::size_t>(i) / nx].from_zero.si / ambient;
    const double t = std::clamp((load[i] - d.full_from) / (d.full_at - d.full_from), 0.0, 1.0);
    full[i] = t * t * (3 - 2 * t);
  }
  Eigen::MatrixXd K(n, n);
  for (Eigen::Index j = 0; j < n; ++j) {
    for (Eigen::Index i = 0; i < n; ++i) {
      const double dl = load[i] - load[j];
      const double shape =
          matern52(std::hypot((speed[i] - speed[j]) / d.full_length_rpm, dl / d.full_length_load));
      const double smooth = matern52(std::hypot(
          std::log(speed[i] / speed[j]) / d.smooth_length_ln_speed, dl / d.smooth_length_load));
      K(i, j) =
          full[i] * full[j] * (d.full_level * d.full_level + d.full_shape * d.full_shape * shape) +
          d.smooth * d.smooth * smooth;  // (ensemble.5)
    }
  }
  return K;
}

}  // namespace fuelwright::physics::internal
