/// A robust linear fit over a table and a few columns beside it, and how likely its rows are under
/// one prior against another.
///
///   y_i = phi_i' delta + sum_k a_k x_ik + drift + noise                              (doubts.1)
///   ln Z(K) = h' x / 2 - ln det(I + K H) / 2,   x = (I + K H)^-1 K h                 (doubts.2)
///
/// Student-t weights (estimate.5), information over its repetition (estimate.6). The difference of
/// two ln Z of the same rows is the logarithm of a Bayes factor, exact for a Gaussian.
#pragma once

#include <Eigen/Core>
#include <array>
#include <string>
#include <vector>

#include "advice/map_estimate/posterior.h"
#include "car/tables/surface.h"

namespace fuelwright::advice::doubts {

inline constexpr int kMostColumns = 8;

struct FitRow {
  car::NodeShares at;
  std::array<double, kMostColumns> column{};
  double y = 0;
  double sd = 0.01;  ///< relative to the other rows; the scale is estimated
  double seconds = 1;
  int run = 0;      ///< repetition is looked for inside a run only
  int stretch = 0;  ///< shares a drift
};

/// What a column's coefficient may be before looking.
struct Column {
  double mean = 0;
  double sd = 1;
};

struct Model {
  Eigen::MatrixXd table;        ///< covariance of delta, [node][node]
  std::vector<Column> columns;  ///< at most kMostColumns
  double drift_sd = 0.006;      ///< of one stretch [-]
};

class Fit {
 public:
  /// At least one row.
  Fit(Model model, const std::vector<FitRow>& rows);

  double mean(int column) const { return posterior_.mean[at(column)] + mean_[at(column)]; }
  double variance(int column) const { return posterior_.covariance(at(column), at(column)); }
  double noise_scale() const { return scale_; }
  double repetition() const { return repetition_; }
  /// ln of how likely the rows are if the table's covariance were another one; against no unknowns
  /// at all.
  double ln_evidence(const Eigen::MatrixXd& table) const;

 private:
  Eigen::Index at(int column) const { return nodes_ + column; }
  Eigen::MatrixXd prior(const Eigen::MatrixXd& table) const;
  void pass(const std::vector<FitRow>& rows, bool gently);

  Model model_;
  int nodes_ = 0;
  int states_ = 0;
  Eigen::VectorXd mean_;
  Posterior posterior_;
  Information information_{1};
  double scale_ = 1;
  double repetition_ = 1;
};

}  // namespace fuelwright::advice::doubts
