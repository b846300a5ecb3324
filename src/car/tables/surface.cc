#include "car/tables/surface.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "base/numerics/interpolate.h"

namespace fuelwright::car {

NodeShares Grid::shares(double x_si, double y_si) const {
  const Bracket bx = bracket(x.points(), x_si);
  const Bracket by = bracket(y.points(), y_si);
  NodeShares out;
  for (const int up : {0, 1}) {
    for (const int right : {0, 1}) {
      const double share = (right ? bx.t : 1.0 - bx.t) * (up ? by.t : 1.0 - by.t);  // (tables.1)
      if (share <= 0.0) continue;
      out.node[out.count] = static_cast<int>(index(bx.i + right, by.i + up));
      out.share[out.count] = share;
      ++out.count;
    }
  }
  return out;
}

NodeShares Grid::shares(const OperatingPoint& at) const {
  return shares(x.coordinate(at), y.coordinate(at));
}

Surface Surface::flat(Grid grid, double value) {
  const std::size_t n = grid.size();
  return {std::move(grid), std::vector<double>(n, value)};
}

double Surface::at(double x_si, double y_si) const {
  const NodeShares s = grid.shares(x_si, y_si);
  double sum = 0;
  for (int k = 0; k < s.count; ++k) sum += s.share[k] * values[s.node[k]];
  return sum;
}

double Surface::at(const OperatingPoint& point) const {
  return at(grid.x.coordinate(point), grid.y.coordinate(point));
}

Result<Resampled> resample(const Surface& from, const Grid& onto) {
  if (from.grid.x.kind() != onto.x.kind() || from.grid.y.kind() != onto.y.kind()) {
    return Error{ErrorCode::bad_input, "table axes",
                 fmt::format("{} over {} cannot be put on {} over {}", label_of(from.grid.y.kind()),
                             label_of(from.grid.x.kind()), label_of(onto.y.kind()),
                             label_of(onto.x.kind()))};
  }
  Resampled out{Surface::flat(onto, 0.0), 0.0};
  for (std::size_t iy = 0; iy < onto.y.size(); ++iy) {
    for (std::size_t ix = 0; ix < onto.x.size(); ++ix) {
      out.surface.node(ix, iy) = from.at(onto.x[ix], onto.y[iy]);
    }
  }
  for (std::size_t iy = 0; iy < from.grid.y.size(); ++iy) {
    for (std::size_t ix = 0; ix < from.grid.x.size(); ++ix) {
      const double now = out.surface.at(from.grid.x[ix], from.grid.y[iy]);
      out.largest_loss = std::max(out.largest_loss, std::abs(now - from.node(ix, iy)));
    }
  }
  return out;
}

}  // namespace fuelwright::car
