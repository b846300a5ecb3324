#include "advice/map_estimate/internal/repetition.h"

#include <algorithm>
#include <cmath>

namespace fuelwright::advice {
namespace {

constexpr double kSmallest_rho = 0.05;
constexpr int kFewestLags = 3;
constexpr long kFewestPairs = 20;  // below this a correlation is noise

}  // namespace

void Repetition::add(int run, double residual, double seconds) {
  if (lags_ == 0) {
    lags_ = std::clamp(static_cast<int>(std::lround(longest_s_ / seconds)), kFewestLags, kMostLags);
    last_.assign(static_cast<std::size_t>(lags_), 0.0);
    products_.assign(static_cast<std::size_t>(lags_) + 1, 0.0);
    counts_.assign(static_cast<std::size_t>(lags_) + 1, 0);
  }
  if (run != run_) {
    run_ = run;
    in_run_ = 0;
  }
  const auto n = static_cast<std::size_t>(lags_);
  for (std::size_t lag = 1; lag <= std::min(in_run_, n); ++lag) {
    products_[lag] += residual * last_[(in_run_ - lag) % n];
    ++counts_[lag];
  }
  last_[in_run_ % n] = residual;
  ++in_run_;
  squares_ += residual * residual;
  ++samples_;
}

double Repetition::inflation() const {
  if (samples_ == 0 || squares_ <= 0) return 1.0;
  const double variance = squares_ / static_cast<double>(samples_);
  double vif = 1.0;
  for (std::size_t lag = 1; lag < products_.size() && counts_[lag] >= kFewestPairs; ++lag) {
    const double rho = products_[lag] / static_cast<double>(counts_[lag]) / variance;
    if (rho < kSmallest_rho) break;
    vif += 2.0 * rho;
  }
  return std::max(1.0, vif);
}

}  // namespace fuelwright::advice
