#include "advice/map_estimate/posterior.h"

#include <Eigen/Cholesky>
#include <vector>

#include "base/contract.h"

namespace fuelwright::advice {
namespace {

std::vector<int> driven_states(const Information& information) {
  std::vector<int> out;
  for (int i = 0; i < information.states(); ++i) {
    if (information.H()(i, i) > 0) out.push_back(i);
  }
  return out;
}

// The factors of (estimate.4).
struct Factors {
  std::vector<int> driven;
  Eigen::LLT<Eigen::MatrixXd> K;  // of the driven states, L L'
  Eigen::LLT<Eigen::MatrixXd> A;  // I + L' H L
  Eigen::VectorXd z;              // A^-1 L' h
};

Factors factorise(const Eigen::MatrixXd& K, const Information& information) {
  EXPECTS(K.rows() == information.states());
  Factors f;
  f.driven = driven_states(information);
  const auto n = static_cast<Eigen::Index>(f.driven.size());
  if (n == 0) return f;
  f.K.compute(K(f.driven, f.driven));
  EXPECTS(f.K.info() == Eigen::Success);
  const auto L = f.K.matrixL();
  const Eigen::MatrixXd H = information.H()(f.driven, f.driven);
  const Eigen::MatrixXd HL = H * L;
  Eigen::MatrixXd A = L.transpose() * HL;
  A.diagonal().array() += 1.0;
  f.A.compute(A);
  EXPECTS(f.A.info() == Eigen::Success);
  const Eigen::VectorXd h = information.h()(f.driven);
  f.z = f.A.solve(L.transpose() * h);
  return f;
}

}  // namespace

void Information::add(std::span<const Entry> row, double y, double weight) {
  DASSERT(weight >= 0);
  for (const Entry& a : row) {
    h_[a.state] += weight * a.share * y;
    for (const Entry& b : row) H_(a.state, b.state) += weight * a.share * b.share;  // (estimate.2)
  }
}

Eigen::VectorXd posterior_mean(const Eigen::MatrixXd& K, const Information& information) {
  const Factors f = factorise(K, information);
  if (f.driven.empty()) return Eigen::VectorXd::Zero(K.rows());
  return K(Eigen::all, f.driven) * f.K.matrixL().transpose().solve(f.z);
}

Posterior posterior(const Eigen::MatrixXd& K, const Information& information) {
  const Factors f = factorise(K, information);
  if (f.driven.empty()) return {Eigen::VectorXd::Zero(K.rows()), K};
  // W = K_.a L^-T; W A^-1 W' = V' V with V = A^-1/2 W'
  const Eigen::MatrixXd W = f.K.matrixL().solve(K(f.driven, Eigen::all)).transpose();
  const Eigen::MatrixXd V = f.A.matrixL().solve(W.transpose());
  Posterior out{W * f.z, K};
  out.covariance.noalias() -= W * W.transpose();
  out.covariance.noalias() += V.transpose() * V;  // (estimate.4)
  out.covariance = 0.5 * (out.covariance + out.covariance.transpose()).eval();
  return out;
}

}  // namespace fuelwright::advice
