#include "advice/dynamic_estimate/internal/normal_equations.h"

#include <algorithm>
#include <cmath>

namespace fuelwright::advice {
namespace {

constexpr double kKnot_s = 60;
constexpr int kMostKnots = 240;  // of all recordings together
constexpr double kSmallest_rho = 0.05;
constexpr long kFewestPairs = 20;

}  // namespace

Theta theta_of(const Eigen::VectorXd& x, const DynamicLayout& l) {
  Theta t{};
  for (int k = 0; k < kThetas; ++k) t[static_cast<std::size_t>(k)] = x[l.theta(k)];
  return t;
}

DynamicLayout layout_of(const car::Grid& grid, std::span<const Driving> drives,
                        const SampleSource& others, const DynamicOptions& options) {
  DynamicLayout l;
  l.nodes = static_cast<int>(grid.size());
  l.levels = static_cast<int>(options.instrument_level_sd.size());
  double total_s = 0;
  for (const Driving& d : drives) total_s += static_cast<double>(d.rows()) * d.step_s;
  const double spacing = std::max(kKnot_s, total_s / kMostKnots);
  int next = 0;
  for (const Driving& d : drives) {
    const double seconds = static_cast<double>(d.rows()) * d.step_s;
    const int knots = 2 + static_cast<int>(seconds / spacing);
    l.first_knot.push_back(next);
    l.knots.push_back(knots);
    l.knot_s.push_back(spacing);
    next += knots;
  }
  if (others) {
    others([&](const Sample& s) { l.stretches = std::max(l.stretches, s.stretch + 1); });
  }
  return l;
}

Eigen::VectorXd dynamic_mean(const DynamicLayout& l, const car::Grid& grid,
                             const DynamicOptions& o) {
  Eigen::VectorXd mu = Eigen::VectorXd::Zero(l.states());
  mu.head(l.nodes) = mean(o.prior, grid);
  for (int k = 0; k < kBesides; ++k) {
    mu[l.beside(k)] = o.dynamics.beside[static_cast<std::size_t>(k)];
  }
  for (int k = 0; k < kThetas; ++k) mu[l.theta(k)] = o.dynamics.mean[static_cast<std::size_t>(k)];
  return mu;
}

Eigen::MatrixXd dynamic_covariance(const DynamicLayout& l, const car::Grid& grid,
                                   const DynamicOptions& o) {
  Eigen::MatrixXd K = drift_covariance(l, o);
  K.topLeftCorner(l.nodes, l.nodes) = covariance(o.prior, grid);
  const auto own = [&](int state, double sd) { K(state, state) = sd * sd; };
  own(l.dead(), 1e3 * o.dead_time_sd.si);
  own(l.heating(), o.heating_sd);
  for (int k = 0; k < kBesides; ++k) {
    own(l.beside(k), o.dynamics.beside_sd[static_cast<std::size_t>(k)]);
  }
  K.block<kLeans, kLeans>(l.lean(0), l.lean(0)) = Dilution::covariance();
  for (int k = 1; k <= l.levels; ++k) {
    own(l.level(k), o.instrument_level_sd[static_cast<std::size_t>(k - 1)]);
  }
  for (int k = 0; k < kThetas; ++k) own(l.theta(k), o.dynamics.sd[static_cast<std::size_t>(k)]);
  return K;
}

Eigen::MatrixXd drift_covariance(const DynamicLayout& l, const DynamicOptions& o) {
  Eigen::MatrixXd K = Eigen::MatrixXd::Zero(l.states(), l.states());
  const double day = l.knots.size() > 1 ? o.recording_level_sd * o.recording_level_sd : 0.0;
  for (std::size_t r = 0; r < l.knots.size(); ++r) {
    for (int a = 0; a < l.knots[r]; ++a) {
      for (int b = 0; b < l.knots[r]; ++b) {  // Ornstein and Uhlenbeck
        K(l.knot(r, a), l.knot(r, b)) =
            day +
            o.drift_sd * o.drift_sd * std::exp(-std::abs(a - b) * l.knot_s[r] / o.drift_memory_s);
      }
    }
  }
  for (int k = 0; k < l.stretches; ++k) {
    K(l.stretch(k), l.stretch(k)) = o.drift_sd * o.drift_sd;
  }
  return K;
}

void Sums::add(std::span<const Entry> row, double y, double weight) {
  const Eigen::Index n = h_.size();
  double* H = H_.data();
  for (std::size_t a = 0; a < row.size(); ++a) {
    const double wa = weight * row[a].share;
    h_[row[a].state] += wa * y;
    double* column = H + row[a].state * n;
    for (std::size_t b = 0; b <= a; ++b) column[row[b].state] += wa * row[b].share;
  }
}

Information Sums::information() const {
  Eigen::MatrixXd H = H_ + H_.transpose();
  H.diagonal() -= H_.diagonal();
  return {h_, std::move(H)};
}

double inflation(std::span<const double> z, int most_lags) {
  double squares = 0;
  long n = 0;
  for (const double v : z) {
    if (std::isnan(v)) continue;
    squares += v * v;
    ++n;
  }
  if (n == 0 || squares <= 0) return 1;
  const double variance = squares / static_cast<double>(n);
  double vif = 1;
  for (int lag = 1; lag <= most_lags; ++lag) {
    double sum = 0;
    long pairs = 0;
    for (std::size_t i = static_cast<std::size_t>(lag); i < z.size(); ++i) {
      const double product = z[i] * z[i - static_cast<std::size_t>(lag)];
      if (std::isnan(product)) continue;
      sum += product;
      ++pairs;
    }
    if (pairs < kFewestPairs) break;
    const double rho = sum / static_cast<double>(pairs) / variance;
    if (rho < kSmallest_rho) break;
    vif += 2 * rho;
  }
  return vif;
}

}  // namespace fuelwright::advice
