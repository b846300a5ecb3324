#include "advice/doubts/internal/fit.h"

#include <Eigen/LU>
#include <algorithm>
#include <cmath>

#include "base/contract.h"

namespace fuelwright::advice::doubts {
namespace {

constexpr int kPasses = 4;
constexpr double kNu = 4;
constexpr double kMemory_s = 5;
constexpr double kPriorSamples = 50;

constexpr double kForgotten = 0.05;
constexpr double kBatch_s = 20;
constexpr std::size_t kFewestBatches = 8;

using Entries = std::array<Entry, 4 + kMostColumns + 1>;

// The same from means over a batch of rows, which would be variance/rows if nothing repeated: what
// is slow and smaller than the noise of one row is seen here only.
double of_batches(const std::vector<FitRow>& rows, const std::vector<double>& z, double variance) {
  const auto size = static_cast<std::size_t>(std::max(2.0, kBatch_s / rows.front().seconds));
  const std::size_t batches = z.size() / size;
  if (batches < kFewestBatches) return 1;
  double squares = 0;
  for (std::size_t b = 0; b < batches; ++b) {
    double sum = 0;
    for (std::size_t i = b * size; i < (b + 1) * size; ++i) sum += z[i];
    squares += sum * sum;
  }
  return squares / (static_cast<double>(batches * size) * variance);
}

// (estimate.6) of residuals row after row; a lag never crosses from one run into another.
double inflation(const std::vector<FitRow>& rows, const std::vector<double>& z) {
  double squares = 0;
  for (const double v : z) squares += v * v;
  if (!(squares > 0)) return 1;
  const auto longest = static_cast<std::size_t>(std::max(3.0, kMemory_s / rows.front().seconds));
  double sum = 0;
  for (std::size_t lag = 1; lag <= longest && lag < z.size(); ++lag) {
    double products = 0;
    for (std::size_t i = lag; i < z.size(); ++i) {
      if (rows[i].run == rows[i - lag].run) products += z[i] * z[i - lag];
    }
    const double rho = products / squares;
    if (rho < kForgotten) break;
    sum += rho;
  }
  return std::max(1 + 2 * sum, of_batches(rows, z, squares / static_cast<double>(z.size())));
}

}  // namespace

Fit::Fit(Model model, const std::vector<FitRow>& rows)
    : model_(std::move(model)), nodes_(static_cast<int>(model_.table.rows())) {
  EXPECTS(!rows.empty());
  EXPECTS(model_.columns.size() <= kMostColumns);
  int stretches = 0;
  for (const FitRow& r : rows) stretches = std::max(stretches, r.stretch + 1);
  states_ = nodes_ + static_cast<int>(model_.columns.size()) + stretches;
  mean_ = Eigen::VectorXd::Zero(states_);
  for (std::size_t k = 0; k < model_.columns.size(); ++k) {
    mean_[nodes_ + static_cast<Eigen::Index>(k)] = model_.columns[k].mean;
  }
  const Eigen::MatrixXd K = prior(model_.table);
  posterior_.mean = Eigen::VectorXd::Zero(states_);
  for (int i = 0; i < kPasses; ++i) {
    pass(rows, i == 0);
    posterior_.mean = posterior_mean(K, information_);
  }
  pass(rows, false);
  posterior_ = posterior(K, information_);
}

Eigen::MatrixXd Fit::prior(const Eigen::MatrixXd& table) const {
  Eigen::MatrixXd K = Eigen::MatrixXd::Zero(states_, states_);
  K.topLeftCorner(nodes_, nodes_) = table;
  const auto columns = static_cast<int>(model_.columns.size());
  for (int k = 0; k < columns; ++k) {
    const double sd = model_.columns[static_cast<std::size_t>(k)].sd;
    K(nodes_ + k, nodes_ + k) = sd * sd;
  }
  for (int k = nodes_ + columns; k < states_; ++k) K(k, k) = model_.drift_sd * model_.drift_sd;
  return K;
}

void Fit::pass(const std::vector<FitRow>& rows, bool gently) {
  Information information(states_);
  std::vector<double> z;
  z.reserve(rows.size());
  const int columns = static_cast<int>(model_.columns.size());
  double squares = 0;
  for (const FitRow& r : rows) {
    Entries row;
    std::size_t n = 0;
    for (; n < static_cast<std::size_t>(r.at.count); ++n) row[n] = {r.at.node[n], r.at.share[n]};
    for (int k = 0; k < columns; ++k) {
      const double x = r.column[static_cast<std::size_t>(k)];
      if (x != 0) row[n++] = {nodes_ + k, x};
    }
    row[n++] = {nodes_ + columns + r.stretch, 1.0};
    double y = r.y;
    double left = r.y;
    for (std::size_t k = 0; k < n; ++k) {
      y -= row[k].share * mean_[row[k].state];
      left -= row[k].share * (mean_[row[k].state] + posterior_.mean[row[k].state]);
    }
    const double t = left / (r.sd * scale_);
    const double soft = gently ? 1.0 : (kNu + 1) / (kNu + t * t);
    information.add({row.data(), n}, y, soft / (r.sd * r.sd * scale_ * scale_));
    squares += soft * (left / r.sd) * (left / r.sd);
    z.push_back(t * std::sqrt(soft));
  }
  const auto count = static_cast<double>(rows.size());
  if (!gently) {
    scale_ = std::sqrt((kPriorSamples + squares) / (kPriorSamples + count));
    repetition_ = inflation(rows, z);
  }
  information.scale(1 / repetition_);
  information_ = std::move(information);
}

double Fit::ln_evidence(const Eigen::MatrixXd& table) const {
  const Eigen::MatrixXd K = prior(table);
  const Eigen::MatrixXd A =
      Eigen::MatrixXd::Identity(states_, states_) + K * information_.H();  // (doubts.2)
  const Eigen::PartialPivLU<Eigen::MatrixXd> lu(A);
  const Eigen::VectorXd x = lu.solve(K * information_.h());
  double ln_det = 0;
  for (Eigen::Index i = 0; i < states_; ++i) ln_det += std::log(std::abs(lu.matrixLU()(i, i)));
  return 0.5 * information_.h().dot(x) - 0.5 * ln_det;
}

}  // namespace fuelwright::advice::doubts
