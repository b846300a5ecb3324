#include "advice/sensor_checks/evidence.h"

#include <algorithm>

#include "base/contract.h"

namespace fuelwright::advice {
namespace {

double chance_of(double ln_ratio, double prior) {
  const double ln_odds = ln_ratio + std::log(prior / (1 - prior));
  return 1 / (1 + std::exp(-std::clamp(ln_odds, -700.0, 700.0)));
}

}  // namespace

double outside_normal(double z) { return std::erfc(std::abs(z) / std::sqrt(2.0)); }

double poisson_tail(long count, double mean) {
  if (count <= 0) return 1;
  // Terms from `count` upwards: exact where it matters, in the tail; else 1 minus those below.
  const double k = static_cast<double>(count);
  double term = std::exp(k * std::log(mean) - mean - std::lgamma(k + 1));
  if (k > mean) {
    double sum = 0;
    for (int i = 1; i < 1000 && term > 1e-18 * sum; ++i) {
      sum += term;
      term *= mean / (k + i);
    }
    return std::min(sum, 1.0);
  }
  double below = 0;
  for (double j = k; j >= 1 && term > 1e-18; --j) {
    term *= j / mean;
    below += term;
  }
  return std::clamp(1 - below, 0.0, 1.0);
}

Evidence weigh_level(double size, double sd_healthy, double sd_faulty, double looks, double prior) {
  EXPECTS(sd_healthy > 0 && sd_faulty > 0 && looks >= 1);
  Evidence e;
  e.size = size;
  e.sd = sd_healthy;
  if (!std::isfinite(size)) return e;
  const double h = sd_healthy * sd_healthy;
  const double f = h + sd_faulty * sd_faulty;
  e.ln_ratio = 0.5 * size * size * (1 / h - 1 / f) - 0.5 * std::log(f / h) - std::log(looks);
  e.chance = chance_of(e.ln_ratio, prior);  // (sensor_checks.1)
  e.false_alarm = std::min(1.0, looks * outside_normal(size / sd_healthy));
  return e;
}

Evidence weigh_count(long count, double healthy, double faulty, double prior) {
  EXPECTS(count >= 0 && healthy > 0 && faulty > 0);
  Evidence e;
  e.size = static_cast<double>(count);
  e.sd = std::sqrt(healthy);
  e.ln_ratio = e.size * std::log1p(faulty / healthy) - faulty;  // (sensor_checks.2)
  e.chance = chance_of(e.ln_ratio, prior);
  e.false_alarm = poisson_tail(count, healthy);
  return e;
}

Evidence certain(double size) { return {size, 0, 700, 1, 0}; }

bool sure(const Evidence& e) { return e.chance >= kSureChance && e.false_alarm <= kSureFalseAlarm; }

}  // namespace fuelwright::advice
