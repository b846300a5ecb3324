/// A surface: values over two axes, bilinear between nodes.
///
///   f(x, y) = sum over the four nodes of the cell: w_k f_k,
///   w = (1-s)(1-t), s(1-t), (1-s)t, st                                               (tables.1)
///
/// s, t: how far x, y lie between the two neighbouring breakpoints, 0..1.
/// Edge rule: outside an axis the nearest edge value holds; nothing is extrapolated.
/// Layout: values[y][x], row-major: index = iy * x.size() + ix.
/// Source: bilinear interpolation as engine computers do it (common practice, no source);
/// docs/theory/tables.md.
#pragma once

#include <array>
#include <vector>

#include "base/result.h"
#include "car/tables/axis.h"

namespace fuelwright::car {

/// The nodes that carry a point and their shares (tables.1). Shares are >= 0 and add up to 1.
struct NodeShares {
  std::array<int, 4> node{};
  std::array<double, 4> share{};
  int count = 0;  ///< entries with a share above zero: 1, 2 or 4
};

/// Two axes and nothing else: the places of the nodes.
struct Grid {
  Axis x;
  Axis y;

  std::size_t size() const { return x.size() * y.size(); }
  std::size_t index(std::size_t ix, std::size_t iy) const { return iy * x.size() + ix; }
  NodeShares shares(double x_si, double y_si) const;
  NodeShares shares(const OperatingPoint& at) const;
  friend bool operator==(const Grid&, const Grid&) = default;
};

struct Surface {
  Grid grid;
  std::vector<double> values;  ///< [y][x], row-major

  static Surface flat(Grid grid, double value);
  double at(double x_si, double y_si) const;
  double at(const OperatingPoint& point) const;
  double& node(std::size_t ix, std::size_t iy) { return values[grid.index(ix, iy)]; }
  double node(std::size_t ix, std::size_t iy) const { return values[grid.index(ix, iy)]; }
  friend bool operator==(const Surface&, const Surface&) = default;
};

/// The same surface on other axes (of the same kinds). Values between nodes follow (tables.1), so
/// corners of the old surface that fall between the new nodes are lost: `largest_loss` says how
/// much, at the old nodes.
struct Resampled {
  Surface surface;
  double largest_loss = 0;  ///< max |new(old node) - old value|, unit of the values
};
Result<Resampled> resample(const Surface& from, const Grid& onto);

}  // namespace fuelwright::car
