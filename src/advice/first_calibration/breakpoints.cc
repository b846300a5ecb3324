#include "advice/first_calibration/breakpoints.h"

#include <algorithm>
#include <cmath>
#include <limits>

namespace fuelwright::advice {
namespace {

using Rows = std::vector<std::vector<double>>;

// What a straight line from knot i to knot j loses at the points between, over all rows.
double lost_between(const std::vector<double>& points, const Rows& rows, const Rows& weights,
                    std::size_t i, std::size_t j) {
  double sum = 0;
  for (std::size_t r = 0; r < rows.size(); ++r) {
    for (std::size_t k = i + 1; k < j; ++k) {
      const double t = (points[k] - points[i]) / (points[j] - points[i]);
      const double e = ((1 - t) * rows[r][i] + t * rows[r][j]) / rows[r][k] - 1;
      sum += weights[r][k] * e * e;  // (first.1)
    }
  }
  return sum;
}

bool skips(const std::vector<std::size_t>& must, std::size_t i, std::size_t j) {
  return std::any_of(must.begin(), must.end(), [&](std::size_t m) { return m > i && m < j; });
}

std::size_t nearest_index(std::span<const double> points, double x) {
  std::size_t best = 0;
  for (std::size_t i = 1; i < points.size(); ++i) {
    if (std::abs(points[i] - x) < std::abs(points[best] - x)) best = i;
  }
  return best;
}

struct Loss {
  double rms = 0;
  double worst = 0;
};

// The fine surface read off at the grid's nodes, and how far that table is from it.
Loss loss_on(const car::Surface& fine, const std::vector<double>& weights, const car::Grid& grid) {
  car::Surface table = car::Surface::flat(grid, 0);
  for (std::size_t iy = 0; iy < grid.y.size(); ++iy) {
    for (std::size_t ix = 0; ix < grid.x.size(); ++ix) {
      table.node(ix, iy) = fine.at(grid.x[ix], grid.y[iy]);
    }
  }
  Loss out;
  double sum = 0;
  double total = 0;
  constexpr double kDriven = 0.2;
  for (std::size_t iy = 0; iy < fine.grid.y.size(); ++iy) {
    for (std::size_t ix = 0; ix < fine.grid.x.size(); ++ix) {
      const double w = weights[fine.grid.index(ix, iy)];
      const double e = table.at(fine.grid.x[ix], fine.grid.y[iy]) / fine.node(ix, iy) - 1;
      sum += w * e * e;
      total += w;
      if (w > kDriven) out.worst = std::max(out.worst, std::abs(e));
    }
  }
  out.rms = std::sqrt(sum / total);  // (first.1)
  return out;
}

car::Axis axis_of_knots(const car::Axis& fine, const std::vector<std::size_t>& knots) {
  std::vector<double> points;
  for (const std::size_t k : knots) points.push_back(fine[k]);
  auto axis = car::Axis::make(fine.kind(), std::move(points));
  EXPECTS(axis.ok());
  return *axis;
}

car::Axis best_axis(const car::Surface& fine, const std::vector<double>& weights, bool along_x,
                    std::size_t count, std::optional<double> idle) {
  const car::Axis& axis = along_x ? fine.grid.x : fine.grid.y;
  const std::size_t lines = along_x ? fine.grid.y.size() : fine.grid.x.size();
  Rows rows(lines);
  Rows w(lines);
  for (std::size_t r = 0; r < lines; ++r) {
    for (std::size_t i = 0; i < axis.size(); ++i) {
      const std::size_t node = along_x ? fine.grid.index(i, r) : fine.grid.index(r, i);
      rows[r].push_back(fine.values[node]);
      w[r].push_back(weights[node]);
    }
  }
  std::vector<std::size_t> must;
  if (idle) must.push_back(nearest_index(axis.points(), *idle));
  const std::vector<double> points(axis.points().begin(), axis.points().end());
  return axis_of_knots(axis, best_knots(points, rows, w, count, must));
}

}  // namespace

std::vector<std::size_t> best_knots(const std::vector<double>& points, const Rows& rows,
                                    const Rows& weights, std::size_t count,
                                    const std::vector<std::size_t>& must) {
  const std::size_t n = points.size();
  EXPECTS(n >= 1);
  std::vector<std::size_t> all(n);
  for (std::size_t i = 0; i < n; ++i) all[i] = i;
  if (n <= count || n < 3) return all;
  EXPECTS(count >= 2 && must.size() + 2 <= std::max<std::size_t>(count, 3));
  constexpr double kNever = std::numeric_limits<double>::infinity();
  Rows cost(n, std::vector<double>(n, kNever));
  for (std::size_t i = 0; i < n; ++i) {
    for (std::size_t j = i + 1; j < n; ++j) {
      if (!skips(must, i, j)) cost[i][j] = lost_between(points, rows, weights, i, j);
    }
  }
  // best[k][j]: least loss up to point j with k steps; from[k][j]: the knot before.
  Rows best(count, std::vector<double>(n, kNever));
  std::vector<std::vector<std::size_t>> from(count, std::vector<std::size_t>(n, 0));
  best[0][0] = 0;
  for (std::size_t k = 1; k < count; ++k) {
    for (std::size_t j = k; j < n; ++j) {
      for (std::size_t i = k - 1; i < j; ++i) {
        const double c = best[k - 1][i] + cost[i][j];
        if (c < best[k][j]) {
          best[k][j] = c;
          from[k][j] = i;
        }
      }
    }
  }
  // Too few knots to keep all that must be kept: only a table of two speeds; its ends stand.
  if (best[count - 1][n - 1] == kNever) return {0, n - 1};
  std::vector<std::size_t> out{n - 1};
  for (std::size_t k = count - 1; k > 0; --k) out.push_back(from[k][out.back()]);
  std::reverse(out.begin(), out.end());
  return out;
}

ProposedAxes propose_breakpoints(const car::Surface& fine, const std::vector<double>& weights,
                                 const car::Grid& present,
                                 std::optional<std::pair<double, double>> idle_si) {
  EXPECTS(weights.size() == fine.grid.size() && present.x.size() >= 2 && present.y.size() >= 2);
  const auto idle_x = idle_si ? std::optional(idle_si->first) : std::nullopt;
  const auto idle_y = idle_si ? std::optional(idle_si->second) : std::nullopt;
  ProposedAxes out{{best_axis(fine, weights, true, present.x.size(), idle_x),
                    best_axis(fine, weights, false, present.y.size(), idle_y)}};
  const Loss now = loss_on(fine, weights, present);
  const Loss then = loss_on(fine, weights, out.grid);
  out.loss = then.rms;
  out.worst = then.worst;
  out.present_loss = now.rms;
  out.present_worst = now.worst;
  return out;
}

}  // namespace fuelwright::advice
