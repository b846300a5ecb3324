#include "car/tables/placing.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace fuelwright::car {
namespace {

constexpr double kNear = 0.02;  // of the way to the next breakpoint; spreadsheets round

struct Near {
  std::size_t index = 0;
  double share = 0;  // of the way to the next breakpoint
};

Near nearest_breakpoint(const Axis& axis, double x) {
  const auto points = axis.points();
  const auto above = std::lower_bound(points.begin(), points.end(), x);
  auto i = static_cast<std::size_t>(above - points.begin());
  if (i == points.size() || (i > 0 && x - points[i - 1] < points[i] - x)) --i;
  const double off = x - points[i];
  if (off == 0) return {i, 0};
  const bool up = off > 0;
  // Outside the axis, or where there is one point, the nearest step there is; else 2 % of the
  // point.
  double step = std::abs(points[i]);
  if (points.size() > 1) {
    const std::size_t low = up ? std::min(i, points.size() - 2) : (i == 0 ? 0 : i - 1);
    step = points[low + 1] - points[low];
  }
  return {i, step > 0 ? std::abs(off) / step : 1.0};
}

// Where each breakpoint that came lies on the table's axis; nullopt if one is no breakpoint of it,
// or two are the same.
std::optional<std::vector<std::size_t>> all_on(const Axis& came, const Axis& axis, double& shift) {
  std::vector<std::size_t> out;
  for (const double x : came.points()) {
    const Near n = nearest_breakpoint(axis, x);
    if (n.share > kNear || (!out.empty() && out.back() == n.index)) return std::nullopt;
    shift = std::max(shift, n.share);
    out.push_back(n.index);
  }
  return out;
}

// Within the axis that came, or so near its ends that it counts as the same breakpoint.
bool within(const Axis& came, const Axis& axis, std::size_t i) {
  const double first = came[0];
  const double last = came[came.size() - 1];
  const auto is_here = [&](double x) { return breakpoint_at(axis, x) == i; };
  return (axis[i] >= first && axis[i] <= last) || is_here(first) || is_here(last);
}

Placed on_nodes(const Surface& came, const Surface& onto, const std::vector<std::size_t>& xs,
                const std::vector<std::size_t>& ys) {
  Placed out{.surface = onto};
  for (std::size_t iy = 0; iy < ys.size(); ++iy) {
    for (std::size_t ix = 0; ix < xs.size(); ++ix) {
      out.surface.node(xs[ix], ys[iy]) = came.node(ix, iy);
      out.nodes.push_back(static_cast<int>(onto.grid.index(xs[ix], ys[iy])));
    }
  }
  const bool whole = came.grid.size() == onto.grid.size();
  out.axes = whole ? AxesThatCame::same : AxesThatCame::part;
  return out;
}

Placed between_nodes(const Surface& came, const Surface& onto) {
  Placed out{.surface = onto, .axes = AxesThatCame::other};
  const Grid& grid = onto.grid;
  for (std::size_t iy = 0; iy < grid.y.size(); ++iy) {
    for (std::size_t ix = 0; ix < grid.x.size(); ++ix) {
      if (!within(came.grid.x, grid.x, ix) || !within(came.grid.y, grid.y, iy)) continue;
      out.surface.node(ix, iy) = came.at(grid.x[ix], grid.y[iy]);
      out.nodes.push_back(static_cast<int>(grid.index(ix, iy)));
    }
  }
  for (std::size_t iy = 0; iy < came.grid.y.size(); ++iy) {
    for (std::size_t ix = 0; ix < came.grid.x.size(); ++ix) {
      const double now = out.surface.at(came.grid.x[ix], came.grid.y[iy]);
      out.largest_loss =
          std::max(out.largest_loss, std::abs(now - came.node(ix, iy)));  // (tables.2)
    }
  }
  return out;
}

}  // namespace

std::optional<std::size_t> breakpoint_at(const Axis& axis, double x) {
  if (!std::isfinite(x)) return std::nullopt;
  const Near n = nearest_breakpoint(axis, x);
  if (n.share > kNear) return std::nullopt;
  return n.index;
}

Result<Placed> place(const Surface& came, const Surface& onto, bool interpolate, bool percent) {
  for (const auto& [a, b] : {std::pair{came.grid.x.kind(), onto.grid.x.kind()},
                             std::pair{came.grid.y.kind(), onto.grid.y.kind()}}) {
    if (a == b) continue;
    return Error{ErrorCode::bad_input, "table axes",
                 fmt::format("{} came; the table stands over {}", label_of(a), label_of(b))};
  }
  double shift = 0;
  const auto xs = all_on(came.grid.x, onto.grid.x, shift);
  const auto ys = all_on(came.grid.y, onto.grid.y, shift);
  if (xs && ys) {
    Placed out = on_nodes(came, onto, *xs, *ys);
    out.largest_shift = shift;
    return out;
  }
  Placed out = between_nodes(came, onto);
  const std::string sizes =
      fmt::format("{} by {} values on other axes came; the table has {} by {}", came.grid.y.size(),
                  came.grid.x.size(), onto.grid.y.size(), onto.grid.x.size());
  if (out.nodes.empty()) {
    return Error{ErrorCode::out_of_range, "table axes",
                 sizes + ", and none of its nodes lies within them"};
  }
  if (interpolate) return out;
  const double loss = percent ? 100 * out.largest_loss : out.largest_loss;
  return Error{
      ErrorCode::needs_answer, "table axes",
      fmt::format("{}; interpolating gives {} of its nodes a value and loses up to {:.3g}{} "
                  "of what came; give --interpolate to do that",
                  sizes, out.nodes.size(), loss, percent ? " %" : "")};
}

}  // namespace fuelwright::car
