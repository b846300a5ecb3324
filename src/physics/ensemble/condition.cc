#include "physics/ensemble/condition.h"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>

#include "base/contract.h"

namespace fuelwright::physics {

Eigen::VectorXd Narrowed::fuelled() const { return mean.array() + scale; }

Eigen::MatrixXd Narrowed::fuelled_covariance() const {
  Eigen::MatrixXd out = covariance;
  out.colwise() += with_scale;
  out.rowwise() += with_scale.transpose();
  out.array() += scale_sd * scale_sd;
  return out;
}

namespace {

Status check(const Ensemble& ensemble, const Observed& observed) {
  const Eigen::Index n = observed.ln_ve.size();
  EXPECTS(observed.rows.rows() == n && observed.rows.cols() == ensemble.nodes());
  EXPECTS(observed.noise.rows() == n && observed.noise.cols() == n);
  if (!observed.ln_ve.allFinite() || !observed.rows.allFinite())
    return Error{ErrorCode::out_of_range, "what was measured", "is not a finite number everywhere"};
  if (!observed.noise.allFinite() ||
      Eigen::LLT<Eigen::MatrixXd>(observed.noise).info() != Eigen::Success)
    return Error{ErrorCode::out_of_range, "the noise of what was measured",
                 "is no covariance (not positive definite)"};
  return Done{};
}

// The ensemble as it is, every node given `rough` more variance by itself.
Narrowed before(const Ensemble& ensemble, double rough) {
  Narrowed out{.mean = ensemble.mean(),
               .covariance = ensemble.covariance(),
               .scale = 0,
               .scale_sd = ensemble.settings().scale_sd,
               .with_scale = Eigen::VectorXd::Zero(ensemble.nodes()),
               .family = {}};
  out.covariance.diagonal().array() += rough;
  return out;
}

// That, conditioned; chi2/n of what was observed goes to `chi2_per_cell`.
Narrowed with_roughness(const Ensemble& ensemble, const Observed& observed, double rough,
                        double* chi2_per_cell) {
  const Eigen::MatrixXd& H = observed.rows;
  const Eigen::Index n = observed.ln_ve.size();
  const double scale_variance = std::pow(ensemble.settings().scale_sd, 2);
  Narrowed out = before(ensemble, rough);
  const Eigen::MatrixXd KH = out.covariance * H.transpose();
  Eigen::MatrixXd S = H * KH + observed.noise;
  S.array() += scale_variance;
  const Eigen::LLT<Eigen::MatrixXd> solve(S);
  EXPECTS(solve.info() == Eigen::Success);
  const Eigen::VectorXd residual = observed.ln_ve - H * ensemble.mean();
  const Eigen::VectorXd a = solve.solve(residual);
  const Eigen::RowVectorXd ones = Eigen::RowVectorXd::Ones(n);

  out.mean += KH * a;                                  // (ensemble.6)
  out.covariance -= KH * solve.solve(KH.transpose());  // (ensemble.7)
  out.covariance = 0.5 * (out.covariance + out.covariance.transpose()).eval();
  out.scale = scale_variance * a.sum();
  const double told = ones * solve.solve(ones.transpose());
  out.scale_sd = std::sqrt(std::max(0.0, scale_variance - scale_variance * scale_variance * told));
  out.with_scale = -scale_variance * KH * solve.solve(ones.transpose());

  *chi2_per_cell = residual.dot(a) / static_cast<double>(n);
  return out;
}

// The roughness at which the observations are no longer surprising: chi2/n = 1.
Narrowed made_to_fit(const Ensemble& ensemble, const Observed& observed) {
  constexpr double kMost = 1.0;  // of ln VE: a factor of e
  constexpr int kHalvings = 20;
  double low = 0, high = kMost, chi2_per_cell = 0;  // (ensemble.10)
  for (int i = 0; i < kHalvings; ++i) {
    const double sd = (low + high) / 2;
    with_roughness(ensemble, observed, sd * sd, &chi2_per_cell);
    (chi2_per_cell > 1 ? low : high) = sd;
  }
  return with_roughness(ensemble, observed, high * high, &chi2_per_cell);
}

// Every variance as many times as the worst mark is more than it should be.       (ensemble.13)
Narrowed widened(Narrowed now) {
  const FamilyTest& test = now.family;
  const double factor =
      std::max({1.0, test.chi2_per_cell, test.taken_up, test.left_over, test.in_strong});
  now.covariance *= factor;
  now.with_scale *= factor;
  now.scale_sd *= std::sqrt(factor);
  return now;
}

}  // namespace

Result<Narrowed> conditioned(const Ensemble& ensemble, const Observed& observed) {
  if (observed.ln_ve.size() == 0) return before(ensemble, 0);
  FW_CHECK(check(ensemble, observed));
  double chi2_per_cell = 0;
  Narrowed out = with_roughness(ensemble, observed, 0, &chi2_per_cell);
  out.family = family_test(ensemble, observed);
  return out;
}

Result<Narrowed> narrow(const Ensemble& ensemble, const Observed& observed) {
  FW_TRY(Narrowed now, conditioned(ensemble, observed));
  if (now.family.verdict == Family::inside) return now;
  if (now.family.verdict == Family::doubtful) return widened(std::move(now));
  const Narrowed fitted = made_to_fit(ensemble, observed);
  const Eigen::VectorXd seen = observed.rows.colwise().sum();
  const Eigen::VectorXd mean = fitted.fuelled();
  const Eigen::MatrixXd covariance = fitted.fuelled_covariance();
  now.mean = ensemble.mean();
  now.covariance = ensemble.covariance();
  for (Eigen::Index j = 0; j < seen.size(); ++j) {
    if (seen[j] >= kSeen) now.mean[j] = mean[j];
    for (Eigen::Index i = 0; i < seen.size(); ++i) {
      if (seen[i] >= kSeen && seen[j] >= kSeen) {
        now.covariance(i, j) = covariance(i, j);
      } else if (seen[i] >= kSeen || seen[j] >= kSeen) {
        now.covariance(i, j) = 0;
      }
    }
  }
  now.scale = now.scale_sd = 0;
  now.with_scale.setZero();
  return now;
}

}  // namespace fuelwright::physics
