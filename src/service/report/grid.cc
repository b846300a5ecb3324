#include "service/report/grid.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace fuelwright::service {
namespace {

std::string axis_title(const car::Axis& axis, UnitSystem units) {
  if (axis.kind() == car::AxisKind::throttle) return "throttle %";
  return std::string(axis.kind() == car::AxisKind::vacuum ? "vacuum " : "MAP ") +
         display_unit(car::number_kind(axis.kind()), units).symbol;
}

std::string axis_number(const car::Axis& axis, std::size_t i, UnitSystem units) {
  if (axis.kind() == car::AxisKind::throttle) return fmt::format("{:.0f}", 100 * axis[i]);
  const UnitInfo unit = display_unit(car::number_kind(axis.kind()), units);
  const double v = (axis[i] - unit.offset) / unit.factor;
  return std::abs(v - std::round(v)) < 0.05 ? fmt::format("{:.0f}", v) : fmt::format("{:.1f}", v);
}

// Iterates rows with high load first.
template <class F>
void from_high_load(const car::Grid& grid, F f) {
  const bool vacuum = grid.y.kind() == car::AxisKind::vacuum;
  for (std::size_t k = 0; k < grid.y.size(); ++k) f(vacuum ? k : grid.y.size() - 1 - k);
}

}  // namespace

std::string grid_text(const car::Grid& grid, UnitSystem units,
                      const std::function<std::string(std::size_t, std::size_t)>& cell) {
  int width = 4;
  for (std::size_t iy = 0; iy < grid.y.size(); ++iy) {
    for (std::size_t ix = 0; ix < grid.x.size(); ++ix) {
      const std::string c = cell(ix, iy);
      const auto shown =
          std::count_if(c.begin(), c.end(), [](char b) { return (b & 0xC0) != 0x80; });
      width = std::max(width, static_cast<int>(shown));
    }
  }
  ++width;
  std::string out = fmt::format("{:>11} ", axis_title(grid.y, units));
  for (std::size_t ix = 0; ix < grid.x.size(); ++ix) {
    out += fmt::format("{:>{}}", axis_number(grid.x, ix, units), width);
  }
  out += "  rpm\n";
  from_high_load(grid, [&](std::size_t iy) {
    out += fmt::format("{:>11} ", axis_number(grid.y, iy, units));
    for (std::size_t ix = 0; ix < grid.x.size(); ++ix) {
      out += fmt::format("{:>{}}", cell(ix, iy), width);
    }
    out += "\n";
  });
  return out;
}

}  // namespace fuelwright::service
