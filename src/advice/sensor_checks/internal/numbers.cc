#include "advice/sensor_checks/internal/numbers.h"

#include <algorithm>
#include <cmath>

namespace fuelwright::advice {

double quantile(std::vector<double> v, double share) {
  std::erase_if(v, [](double x) { return std::isnan(x); });
  if (v.empty()) return NAN;
  const auto at = static_cast<std::ptrdiff_t>(share * static_cast<double>(v.size() - 1) + 0.5);
  std::nth_element(v.begin(), v.begin() + at, v.end());
  return v[static_cast<std::size_t>(at)];
}

double median(std::vector<double> v) { return quantile(std::move(v), 0.5); }

double robust_sd(std::vector<double> v) {
  const double middle = median(v);
  for (double& x : v) x = std::abs(x - middle);
  return 1.4826 * median(std::move(v));
}

double mean(const std::vector<double>& v) {
  double sum = 0;
  long n = 0;
  for (const double x : v) {
    if (std::isnan(x)) continue;
    sum += x;
    ++n;
  }
  return n ? sum / static_cast<double>(n) : NAN;
}

}  // namespace fuelwright::advice
