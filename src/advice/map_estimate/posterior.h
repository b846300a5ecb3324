/// The algebra of the estimate: a Gaussian prior, information gathered sample by sample, a Gaussian
/// posterior.
///
/// A sample says y = phi' x + noise. Its information adds up, whatever the number of samples:
///
///   H = sum w phi phi',   h = sum w phi y (estimate.2) C = (K^-1 + H)^-1,    x = C h (estimate.3)
///
/// Memory is bounded by the table, never by the recording. Only the driven states enter the
/// factorisation: with K_aa = L L' over them and A = I + L' H_aa L,
///
///   W = K_.a L^-T,   x = W A^-1 L' h_a,   C = K - W W' + W A^-1 W' (estimate.4)
///
/// which never inverts K and gives every state, driven or not.
#pragma once

#include <Eigen/Core>
#include <span>
#include <utility>

namespace fuelwright::advice {

/// One non-zero entry of a sample's row.
struct Entry {
  int state;
  double share;
};

class Information {
 public:
  explicit Information(int states)
      : h_(Eigen::VectorXd::Zero(states)), H_(Eigen::MatrixXd::Zero(states, states)) {}
  /// Summed up elsewhere; H symmetric.
  Information(Eigen::VectorXd h, Eigen::MatrixXd H) : h_(std::move(h)), H_(std::move(H)) {}

  /// weight = 1 / variance.
  void add(std::span<const Entry> row, double y, double weight);
  void scale(double factor) {
    h_ *= factor;
    H_ *= factor;
  }
  int states() const { return static_cast<int>(h_.size()); }
  const Eigen::VectorXd& h() const { return h_; }
  const Eigen::MatrixXd& H() const { return H_; }

 private:
  Eigen::VectorXd h_;
  Eigen::MatrixXd H_;
};

struct Posterior {
  Eigen::VectorXd mean;
  Eigen::MatrixXd covariance;
};

/// Mean only (one pass of the robust fit); K must be positive definite.
Eigen::VectorXd posterior_mean(const Eigen::MatrixXd& K, const Information& information);
Posterior posterior(const Eigen::MatrixXd& K, const Information& information);

}  // namespace fuelwright::advice
