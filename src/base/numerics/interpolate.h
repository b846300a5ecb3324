/// Linear interpolation on increasing points. Outside the points the nearest edge value holds:
/// nothing is extrapolated.
#pragma once

#include <cstddef>
#include <span>

namespace fuelwright {

/// Where x lies between two neighbouring points: value = (1 - t) v[i] + t v[i + 1], 0 <= t <= 1.
struct Bracket {
  std::size_t i = 0;
  double t = 0;
};

/// points: strictly increasing, one or more. x outside gives t = 0 or 1 at the edge (a single
/// point: i = 0, t = 0). NaN in x is a broken contract.
Bracket bracket(std::span<const double> points, double x);

/// The interpolated value of `values` (same length as `points`) at x.
double interpolate(std::span<const double> points, std::span<const double> values, double x);

/// True if every point is finite and larger than the one before.
bool strictly_increasing(std::span<const double> points);

}  // namespace fuelwright
