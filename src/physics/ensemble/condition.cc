#include "physics/ensemble/condition.h"

#include <fmt/format.h>

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <numbers>

#include "base/contract.h"

namespace fuelwright::physics {
namespace {

// Chance that chi-squared of `freedom` is above its value: Wilson and Hilferty's cube root (from
// memory), good to a few per cent of itself where verdicts are made.
double chance_above(double per_freedom, double freedom) {
  if (!(freedom > 0)) return 1;
  const double width = 2 / (9 * freedom);
  const double z = (std::cbrt(std::max(per_freedom, 0.0)) - (1 - width)) / std::sqrt(width);
  return 0.5 * std::erfc(z / std::numbers::sqrt2);
}

// Above 2 with little chance nothing may be extrapolated (measured: 4 to 10 for engines outside,
// about 1 inside, docs/theory/ensemble.md). The chances keep few observations from condemning an
// engine.
constexpr double kOutside = 2, kOutsideChance = 0.002;
constexpr double kDoubtful = 1.4, kDoubtfulChance = 0.02;

struct Measure {
  double per_freedom, freedom;
};

void judge(std::initializer_list<Measure> measures, FamilyTest* test) {
  for (const Measure& m : measures) {
    const double chance = chance_above(m.per_freedom, m.freedom);
    test->chance = std::min(test->chance, chance);
    if (m.per_freedom > kOutside && chance < kOutsideChance) {
      test->verdict = Family::outside;
    } else if (m.per_freedom > kDoubtful && chance < kDoubtfulChance) {
      test->verdict = std::max(test->verdict, Family::doubtful);
    }
  }
}

}  // namespace

const char* name_of(Family verdict) {
  switch (verdict) {
    case Family::inside:
      return "inside";
    case Family::doubtful:
      return "doubtful";
    case Family::outside:
      break;
  }
  return "outside";
}

std::string FamilyTest::says() const {
  const std::string figure = fmt::format("chi2/n {:.2g} over {} places", chi2_per_cell, cells);
  if (cells == 0) return "nothing has been measured yet";
  switch (verdict) {
    case Family::inside:
      return "what was measured fits the parts on the sheet (" + figure + ")";
    case Family::doubtful:
      return "what was measured fits the parts on the sheet badly (" + figure +
             "): check the sheet before trusting places that were not driven";
    case Family::outside:
      break;
  }
  return "what was measured does not fit the parts on the sheet (" + figure +
         "): nothing is concluded about places that were not driven";
}

Eigen::VectorXd Narrowed::fuelled() const { return mean.array() + scale; }

Eigen::MatrixXd Narrowed::fuelled_covariance() const {
  Eigen::MatrixXd out = covariance;
  out.colwise() += with_scale;
  out.rowwise() += with_scale.transpose();
  out.array() += scale_sd * scale_sd;
  return out;
}

namespace {

// Conditioning of the ensemble with `rough` more variance at every node by itself.
Result<Narrowed> with_roughness(const Ensemble& ensemble, const Observed& observed, double rough) {
  const Eigen::MatrixXd& H = observed.rows;
  const Eigen::Index n = observed.ln_ve.size();
  const double scale_variance = std::pow(ensemble.settings().scale_sd, 2);
  Narrowed out{.mean = ensemble.mean(),
               .covariance = ensemble.covariance(),
               .scale = 0,
               .scale_sd = ensemble.settings().scale_sd,
               .with_scale = Eigen::VectorXd::Zero(ensemble.nodes()),
               .family = {}};
  out.covariance.diagonal().array() += rough;
  if (n == 0) return out;
  EXPECTS(H.rows() == n && H.cols() == ensemble.nodes());
  EXPECTS(observed.noise.rows() == n && observed.noise.cols() == n);
  if (!observed.ln_ve.allFinite() || !H.allFinite())
    return Error{ErrorCode::out_of_range, "what was measured", "is not a finite number everywhere"};
  if (!observed.noise.allFinite() ||
      Eigen::LLT<Eigen::MatrixXd>(observed.noise).info() != Eigen::Success)
    return Error{ErrorCode::out_of_range, "the noise of what was measured",
                 "is no covariance (not positive definite)"};

  const Eigen::MatrixXd KH = out.covariance * H.transpose();
  Eigen::MatrixXd signal = H * KH;
  signal.array() += scale_variance;
  const Eigen::MatrixXd S = signal + observed.noise;
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

  FamilyTest& test = out.family;
  test.cells = static_cast<int>(n);
  const double chi2 = residual.dot(a);
  const double taken_up = a.dot(signal * a);
  test.chi2_per_cell = chi2 / static_cast<double>(n);
  test.freedom = solve.solve(signal).trace();  // (ensemble.8)
  const double rest = static_cast<double>(n) - test.freedom;
  test.taken_up = test.freedom > 0 ? taken_up / test.freedom : 0;
  test.left_over = rest > 0 ? (chi2 - taken_up) / rest : 0;
  judge({{test.chi2_per_cell, static_cast<double>(n)},
         {test.taken_up, test.freedom},
         {test.left_over, rest}},
        &test);
  return out;
}

// The roughness at which the observations are no longer surprising: chi2/n = 1.
Result<Narrowed> made_to_fit(const Ensemble& ensemble, const Observed& observed) {
  constexpr double kMost = 1.0;  // of ln VE: a factor of e
  constexpr int kHalvings = 20;
  double low = 0, high = kMost;  // (ensemble.10)
  for (int i = 0; i < kHalvings; ++i) {
    const double sd = (low + high) / 2;
    FW_TRY(const Narrowed tried, with_roughness(ensemble, observed, sd * sd));
    (tried.family.chi2_per_cell > 1 ? low : high) = sd;
  }
  return with_roughness(ensemble, observed, high * high);
}

}  // namespace

Result<Narrowed> conditioned(const Ensemble& ensemble, const Observed& observed) {
  return with_roughness(ensemble, observed, 0);
}

Result<Narrowed> narrow(const Ensemble& ensemble, const Observed& observed) {
  FW_TRY(Narrowed now, conditioned(ensemble, observed));
  if (now.family.may_extrapolate()) return now;
  FW_TRY(const Narrowed fitted, made_to_fit(ensemble, observed));
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
