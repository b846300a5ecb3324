#include "advice/drive_plan/gain.h"

#include <Eigen/Cholesky>
#include <algorithm>
#include <cmath>

#include "base/contract.h"

namespace fuelwright::advice {
namespace {

// a' A b over the nodes of two places.
double between(const Eigen::MatrixXd& A, const car::NodeShares& a, const car::NodeShares& b) {
  double sum = 0;
  for (std::size_t i = 0; i < static_cast<std::size_t>(a.count); ++i) {
    for (std::size_t k = 0; k < static_cast<std::size_t>(b.count); ++k) {
      sum += a.share[i] * b.share[k] * A(a.node[i], b.node[k]);
    }
  }
  return sum;
}

Eigen::MatrixXd among(const Eigen::MatrixXd& A, const std::vector<Visit>& visits) {
  const auto n = static_cast<Eigen::Index>(visits.size());
  Eigen::MatrixXd out(n, n);
  for (Eigen::Index i = 0; i < n; ++i) {
    for (Eigen::Index k = 0; k <= i; ++k) {
      out(i, k) = out(k, i) = between(A, visits[static_cast<std::size_t>(i)].shares,
                                      visits[static_cast<std::size_t>(k)].shares);
    }
  }
  return out;
}

}  // namespace

double Readings::variance(Duration time, double moving) const {
  EXPECTS(time.si > 0 && moving > 0);
  return sd * sd * moving * moving * repetition / (rows_per_second * time.si);  // (drive_plan.4)
}

Knowing::Knowing(Eigen::MatrixXd covariance, Eigen::VectorXd floor_sd, const Readings& readings)
    : C_(std::move(covariance)), floor_sd_(std::move(floor_sd)), readings_(readings) {
  kept_ = C_.diagonal().cwiseMax(0.0).cwiseMin(readings.level_sd * readings.level_sd);
  EXPECTS(C_.rows() == C_.cols() && floor_sd_.size() == C_.rows());
  EXPECTS(readings.sd > 0 && readings.rows_per_second > 0 && readings.repetition >= 1);
}

Eigen::MatrixXd Knowing::innovation(const std::vector<Visit>& visits) const {
  Eigen::MatrixXd S = among(C_, visits);
  const double step = readings_.shared_sd * readings_.shared_sd;
  for (Eigen::Index i = 0; i < S.rows(); ++i) {
    for (Eigen::Index k = 0; k < S.cols(); ++k) {
      S(i, k) += step + visits[static_cast<std::size_t>(i)].shared_sd *
                            visits[static_cast<std::size_t>(k)].shared_sd;
    }
    const Visit& v = visits[static_cast<std::size_t>(i)];
    S(i, i) += readings_.variance(v.time, v.moving);
  }
  return S;
}

void Knowing::look(const Eigen::MatrixXd& use) {
  EXPECTS(use.rows() == C_.rows() && use.cols() == C_.cols());
  CGC_.noalias() = C_ * (use * C_);
}

double Knowing::gain(const std::vector<Visit>& visits) const {
  EXPECTS(CGC_.rows() == C_.rows());
  if (visits.empty()) return 0;
  return innovation(visits).llt().solve(among(CGC_, visits)).trace();  // (drive_plan.6)
}

void Knowing::take(const std::vector<Visit>& visits) {
  if (visits.empty()) return;
  const auto n = static_cast<Eigen::Index>(visits.size());
  Eigen::MatrixXd CPhi = Eigen::MatrixXd::Zero(C_.rows(), n);
  for (Eigen::Index k = 0; k < n; ++k) {
    const car::NodeShares& at = visits[static_cast<std::size_t>(k)].shares;
    for (std::size_t i = 0; i < static_cast<std::size_t>(at.count); ++i) {
      CPhi.col(k) += at.share[i] * C_.col(at.node[i]);
    }
  }
  const Eigen::LLT<Eigen::MatrixXd> llt(innovation(visits));
  EXPECTS(llt.info() == Eigen::Success);
  C_.noalias() -= CPhi * llt.solve(CPhi.transpose());  // (drive_plan.5)
  C_ = 0.5 * (C_ + C_.transpose()).eval();
}

double Knowing::floor(const car::NodeShares& at) const {
  double sum = 0;
  for (std::size_t i = 0; i < static_cast<std::size_t>(at.count); ++i) {
    sum += at.share[i] * floor_sd_[at.node[i]] * floor_sd_[at.node[i]];
  }
  return std::sqrt(sum);
}

double Knowing::sd(const car::NodeShares& at) const {
  const double f = floor(at);
  double kept = 0;
  for (std::size_t i = 0; i < static_cast<std::size_t>(at.count); ++i) {
    kept += at.share[i] * kept_[at.node[i]];
  }
  return std::sqrt(std::max(between(C_, at, at), kept) + f * f);
}

}  // namespace fuelwright::advice
