#include "base/numerics/interpolate.h"

#include <algorithm>
#include <cmath>

#include "base/contract.h"

namespace fuelwright {

Bracket bracket(std::span<const double> points, double x) {
  EXPECTS(!points.empty());
  EXPECTS(!std::isnan(x));
  if (points.size() == 1 || x <= points.front()) return {0, 0.0};
  if (x >= points.back()) return {points.size() - 2, 1.0};
  const auto above = std::upper_bound(points.begin(), points.end(), x);
  const auto i = static_cast<std::size_t>(above - points.begin()) - 1;
  return {i, (x - points[i]) / (points[i + 1] - points[i])};
}

double interpolate(std::span<const double> points, std::span<const double> values, double x) {
  EXPECTS(points.size() == values.size());
  const Bracket b = bracket(points, x);
  if (b.t == 0.0) return values[b.i];
  return (1.0 - b.t) * values[b.i] + b.t * values[b.i + 1];
}

bool strictly_increasing(std::span<const double> points) {
  for (std::size_t i = 0; i < points.size(); ++i) {
    if (!std::isfinite(points[i])) return false;
    if (i > 0 && !(points[i] > points[i - 1])) return false;
  }
  return true;
}

}  // namespace fuelwright
