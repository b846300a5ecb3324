#include "advice/doubts/doubts.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "advice/doubts/internal/tests.h"
#include "base/contract.h"

namespace fuelwright::advice::doubts {
namespace {

// A lazy sensor, before looking: how usual, and how slow (common practice, no source).
constexpr double kLazyBefore = 0.05;
constexpr double kLazy_s = 0.6;
constexpr double kLazySd = 0.6;

}  // namespace

const char* name_of(Kind kind) {
  switch (kind) {
    case Kind::unit_corrected:
      return "unit_corrected";
    case Kind::not_applied:
      return "not_applied";
    case Kind::self_correction:
      return "self_correction";
    case Kind::other_table:
      return "other_table";
    case Kind::count:
      return "count";
    case Kind::exhaust_leak:
      return "exhaust_leak";
    case Kind::lazy_sensor:
      return "lazy_sensor";
  }
  broken_contract("a kind of doubt", __FILE__, __LINE__);
}

std::vector<Doubt> doubts_about(const Asked& asked) {
  const Timeline t(asked.recording, asked.sheet);
  const Witness ratio = fuel_ratio(asked, t);
  std::vector<Doubt> out = correction_doubts(asked, t, ratio);
  if (auto d = count_doubt(asked, t, ratio)) out.push_back(std::move(*d));
  if (auto d = leak_doubt(asked, t)) out.push_back(std::move(*d));
  std::stable_sort(out.begin(), out.end(),
                   [](const Doubt& a, const Doubt& b) { return a.probability > b.probability; });
  return out;
}

Doubt lazy_sensor(const About& ln_lag, const About& prior) {
  const About alone = likelihood_of(ln_lag, prior);
  const auto ln_density = [&](double middle, double variance) {
    const double v = alone.variance + variance;
    return -0.5 * (alone.mean - middle) * (alone.mean - middle) / v - 0.5 * std::log(v);
  };
  Doubt d;
  d.kind = Kind::lazy_sensor;
  d.ln_b = ln_density(std::log(kLazy_s), kLazySd * kLazySd) -
           ln_density(prior.mean, prior.variance);  // (doubts.9)
  d.probability = probability(d.ln_b, kLazyBefore);
  d.size = std::exp(ln_lag.mean);
  d.size_sd = d.size * std::sqrt(ln_lag.variance);
  d.spoils = false;  // its lag is taken into account
  d.says = fmt::format(
      "the mixture sensor answers slowly ({:.2f} s, usual is {:.2f} s): old, fouled or cold",
      d.size, std::exp(prior.mean));
  return d;
}

}  // namespace fuelwright::advice::doubts
