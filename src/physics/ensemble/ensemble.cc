#include "physics/ensemble/ensemble.h"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <limits>

#include "base/contract.h"
#include "physics/ensemble/internal/fill.h"
#include "physics/ensemble/sample.h"

namespace fuelwright::physics {
namespace {

// What the other cylinders do to the filling: the whole engine against the one-cylinder form.
std::vector<double> structure_of(const AirMap& one, const AirMap& whole) {
  constexpr double kMost = 0.25;
  std::vector<double> out;
  for (std::size_t i = 0; i < one.nodes.size(); ++i) {
    const AirNode &a = one.nodes[i], &b = whole.nodes[i];
    const bool sound = a.reachable && b.reachable && a.ve > 0 && b.ve > 0;
    out.push_back(sound ? std::clamp(std::log(b.ve / a.ve), -kMost, kMost) : 0.0);
  }
  return out;
}

constexpr double kNaN = std::numeric_limits<double>::quiet_NaN();
constexpr double kMostMisfires = 0.2;  // of the members, at a node that still counts as known
// Spread of ln VE at a node that nobody can predict: idle VE of a big cam from its parts was
// .14/.27/.37 (5/50/95 %, docs/theory/ensemble.md), wider below the median.
constexpr double kUnknown_sd = 0.35;
constexpr double kIndependent_sd =
    0.001;  // keeps the covariance well conditioned; far below any figure shown
constexpr double kLeastVe = 0.01;  // below it ln VE says nothing of an engine that runs

// ln VE where the engine runs there; NaN where it does not (never the logarithm of a misfire).
double ln_ve(const AirNode& node) {
  return node.reachable && node.ve > kLeastVe && std::isfinite(node.ve) ? std::log(node.ve) : kNaN;
}

Eigen::MatrixXd ln_ve(std::span<const AirMap> maps, Eigen::Index nodes) {
  Eigen::MatrixXd out(static_cast<Eigen::Index>(maps.size()), nodes);
  for (Eigen::Index m = 0; m < out.rows(); ++m) {
    const AirMap& map = maps[static_cast<std::size_t>(m)];
    EXPECTS(static_cast<Eigen::Index>(map.nodes.size()) == nodes);
    for (Eigen::Index i = 0; i < nodes; ++i)
      out(m, i) = ln_ve(map.nodes[static_cast<std::size_t>(i)]);
  }
  return out;
}

// A guess for a node where nearly nobody runs: the mean of those that do, or else the next higher
// pressure at the same speed, or else VE 0.5.
double guess_at(const Eigen::VectorXd& mean, const Eigen::VectorXd& reachable, Eigen::Index i,
                Eigen::Index speeds, Eigen::Index members) {
  constexpr double kSome = 3;
  for (Eigen::Index j = i; j < mean.size(); j += speeds) {
    if (reachable[j] * static_cast<double>(members) >= kSome - 0.5) return mean[j];
  }
  return std::log(0.5);
}

// NaN-free mean per column.
Eigen::VectorXd means_of(const Eigen::MatrixXd& values) {
  Eigen::VectorXd out = Eigen::VectorXd::Zero(values.cols());
  for (Eigen::Index j = 0; j < values.cols(); ++j) {
    const Eigen::ArrayXd column = values.col(j).array();
    const double n = static_cast<double>((!column.isNaN()).count());
    if (n > 0) out[j] = column.isNaN().select(0.0, column).sum() / n;
  }
  return out;
}

}  // namespace

Ensemble::Ensemble(Drawn drawn, const EnsembleSettings& settings)
    : drawn_(std::make_shared<const Drawn>(std::move(drawn))), settings_(settings) {
  constexpr std::size_t kLeastMembers = 8;
  EXPECTS(drawn_->members.size() >= kLeastMembers && drawn_->nodes() > 0);
  EXPECTS(drawn_->z.rows() == static_cast<Eigen::Index>(drawn_->members.size()));
  if (settings_.structure.empty() && drawn_->whole)
    settings_.structure = structure_of(drawn_->centre, *drawn_->whole);
  EXPECTS(settings_.structure.empty() || settings_.structure.size() == drawn_->nodes());
  for (const Suspect& one : settings_.suspects)
    EXPECTS(one.change.size() == static_cast<Eigen::Index>(drawn_->nodes()));
  structure_ = Eigen::VectorXd::Zero(static_cast<Eigen::Index>(drawn_->nodes()));
  for (std::size_t i = 0; i < settings_.structure.size(); ++i)
    structure_[static_cast<Eigen::Index>(i)] = settings_.structure[i];
  take_members();
  take_steps();
  take_covariance();
}

void Ensemble::take_members() {
  const auto n = static_cast<Eigen::Index>(drawn_->nodes());
  const Eigen::MatrixXd values = ln_ve(drawn_->members, n);
  const auto rows = static_cast<double>(values.rows());
  reachable_ = 1.0 - values.array().isNaN().cast<double>().colwise().sum().transpose() / rows;
  std::vector<Eigen::Index> usable;
  known_.assign(static_cast<std::size_t>(n), false);
  for (Eigen::Index i = 0; i < n; ++i) {
    known_[static_cast<std::size_t>(i)] = reachable_[i] >= 1 - kMostMisfires;
    if (known(i)) usable.push_back(i);
  }
  const internal::Filled filled = internal::fill_missing(values(Eigen::all, usable));
  const Eigen::VectorXd plain = means_of(values);
  mean_.resize(n);
  deviations_ = Eigen::MatrixXd::Zero(values.rows(), n);
  left_out_ = Eigen::VectorXd::Constant(n, kUnknown_sd * kUnknown_sd);
  for (Eigen::Index i = 0; i < n; ++i)
    mean_[i] = guess_at(plain, reachable_, i,
                        static_cast<Eigen::Index>(drawn_->places.speeds.size()), values.rows());
  for (std::size_t k = 0; k < usable.size(); ++k) {
    const auto from = static_cast<Eigen::Index>(k);
    mean_[usable[k]] = filled.mean[from];
    deviations_.col(usable[k]) = filled.deviations.col(from);
    left_out_[usable[k]] = filled.filled_variance[from];
  }
  mean_ += structure_;
}

void Ensemble::take_steps() {
  const auto n = static_cast<Eigen::Index>(drawn_->nodes());
  const Eigen::MatrixXd steps = ln_ve(drawn_->steps, n);
  sensitivities_ = Eigen::MatrixXd::Zero(steps.rows(), n);
  if (steps.rows() == 0) return;
  EXPECTS(steps.rows() == static_cast<Eigen::Index>(drawn_->parts.size()));
  const Eigen::RowVectorXd centre = ln_ve(std::span(&drawn_->centre, 1), n);
  for (Eigen::Index i = 0; i < n; ++i) {
    if (!known(i) || std::isnan(centre[i])) continue;
    for (Eigen::Index k = 0; k < steps.rows(); ++k)
      if (!std::isnan(steps(k, i))) sensitivities_(k, i) = steps(k, i) - centre[i];
  }
}

void Ensemble::take_covariance() {
  const double freedom = static_cast<double>(members() - 1);
  const Eigen::BDCSVD<Eigen::MatrixXd> svd(deviations_ / std::sqrt(freedom), Eigen::ComputeThinV);
  const Eigen::VectorXd variance = svd.singularValues().array().square();
  const double total = variance.sum();
  Eigen::Index k = 0;
  double held = 0;
  while (k < variance.size() && k < settings_.most_components &&
         held < settings_.components_share * total)
    held += variance[k++];
  held_ = total > 0 ? held / total : 1;
  components_ =
      svd.matrixV().leftCols(k) * svd.singularValues().head(k).asDiagonal();  // (ensemble.4)
  const Eigen::VectorXd all = deviations_.colwise().squaredNorm().transpose() / freedom;
  left_out_ += (all - components_.rowwise().squaredNorm()).cwiseMax(0.0);
  covariance_ = covariance_of_members() + discrepancy();
  covariance_.diagonal().array() += kIndependent_sd * kIndependent_sd;
}

Eigen::MatrixXd Ensemble::covariance_of_members() const {
  Eigen::MatrixXd out = components_ * components_.transpose();
  out.diagonal() += left_out_;
  return out;
}

Eigen::MatrixXd Ensemble::discrepancy() const {
  const Eigen::VectorXd doubt = settings_.structure_doubt * structure_;
  return internal::discrepancy_covariance(settings_.discrepancy, drawn_->places) +
         doubt * doubt.transpose();
}

double Ensemble::ve(Eigen::Index node) const { return std::exp(mean_[node]); }
double Ensemble::sd_log(Eigen::Index node) const { return std::sqrt(covariance_(node, node)); }

Eigen::MatrixXd Ensemble::draws(int count, std::uint64_t seed) const {
  const Eigen::LLT<Eigen::MatrixXd> root(covariance_);
  EXPECTS(root.info() == Eigen::Success);
  const Eigen::MatrixXd z = normal_draws(count, static_cast<int>(nodes()), seed);
  return (z * root.matrixL().transpose()).rowwise() + mean_.transpose();
}

std::vector<AirMap> Ensemble::honest_members(std::uint64_t seed) const {
  Eigen::MatrixXd K = discrepancy();
  K.diagonal().array() += kIndependent_sd * kIndependent_sd;
  const Eigen::LLT<Eigen::MatrixXd> root(K);
  EXPECTS(root.info() == Eigen::Success);
  const Eigen::MatrixXd z =
      normal_sample(static_cast<int>(members()), static_cast<int>(nodes()), seed);
  const Eigen::MatrixXd moved = (z * root.matrixL().transpose()).rowwise() + structure_.transpose();
  std::vector<AirMap> out = drawn_->members;
  for (Eigen::Index m = 0; m < moved.rows(); ++m) {
    AirMap& map = out[static_cast<std::size_t>(m)];
    for (Eigen::Index i = 0; i < nodes(); ++i) {
      AirNode& node = map.nodes[static_cast<std::size_t>(i)];
      const double factor = std::exp(moved(m, i));
      node.ve *= factor;
      node.trapped = node.trapped + (factor - 1) * node.trapped_air;
      node.trapped_air = factor * node.trapped_air;
    }
  }
  return out;
}

}  // namespace fuelwright::physics
