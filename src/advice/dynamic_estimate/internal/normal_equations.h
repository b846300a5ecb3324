/// Where each unknown stands in the state of the dynamic estimate, what is believed of it before
/// driving, and the sums that driving adds.
#pragma once

#include <Eigen/Core>
#include <span>
#include <vector>

#include "advice/dynamic_estimate/dynamic_estimate.h"
#include "advice/map_estimate/posterior.h"

namespace fuelwright::advice {

/// nodes | dead-time offset [ms] | charge weight | BesideAt | dilution | levels | theta | drift knots.
struct DynamicLayout {
  int nodes = 0;
  int levels = 0;                 ///< of instruments 1, 2, ...
  std::vector<int> first_knot{};  ///< of each recording, counted from knots()
  std::vector<int> knots{};       ///< of each recording
  std::vector<double> knot_s{};   ///< their spacing
  int stretches = 0;              ///< of the static samples: one drift each
  int dead() const { return nodes; }
  int heating() const { return nodes + 1; }
  int beside(int k) const { return nodes + 2 + k; }
  int lean(int k) const { return nodes + 2 + kBesides + k; }
  int level(int instrument) const { return lean(kLeans) - 1 + instrument; }
  int theta(int k) const { return lean(kLeans) + levels + k; }
  int fixed() const { return theta(kThetas); }  ///< states without drift
  int knot(std::size_t recording, int k) const {
    return theta(kThetas) + first_knot[recording] + k;
  }
  int stretch(int k) const {
    return theta(kThetas) + (first_knot.empty() ? 0 : first_knot.back() + knots.back()) + k;
  }
  int states() const { return stretch(stretches); }
};

Theta theta_of(const Eigen::VectorXd& x, const DynamicLayout& layout);

DynamicLayout layout_of(const car::Grid& grid, std::span<const Driving> drives,
                        const SampleSource& others, const DynamicOptions& options);
/// Mean and covariance of all states before driving.
Eigen::VectorXd dynamic_mean(const DynamicLayout& l, const car::Grid& grid,
                             const DynamicOptions& options);
Eigen::MatrixXd dynamic_covariance(const DynamicLayout& l, const car::Grid& grid,
                                   const DynamicOptions& options);

/// Of the drift alone, the other states 0.
Eigen::MatrixXd drift_covariance(const DynamicLayout& l, const DynamicOptions& options);

/// sum w phi phi' and sum w phi y, one triangle at a time.
class Sums {
 public:
  explicit Sums(int states)
      : h_(Eigen::VectorXd::Zero(states)), H_(Eigen::MatrixXd::Zero(states, states)) {}
  /// States of the row in any order, each at most once.
  void add(std::span<const Entry> row, double y, double weight);
  void add_scaled(const Sums& other, double factor) {
    h_ += factor * other.h_;
    H_ += factor * other.H_;
  }
  Information information() const;

 private:
  Eigen::VectorXd h_;
  Eigen::MatrixXd H_;
};

/// VIF = 1 + 2 sum rho_k to the first rho_k < 0.05 (estimate.6); NaN: no residual in this row.
double inflation(std::span<const double> residuals, int most_lags);

}  // namespace fuelwright::advice
