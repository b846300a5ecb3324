#include "physics/supply/internal/series.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "base/numerics/interpolate.h"
#include "physics/ensemble/ensemble.h"

namespace fuelwright::physics::supply::internal {
namespace {

template <class T, class Number>
std::vector<double> on_grid(const std::vector<double>& from, const std::vector<T>& values,
                            const std::vector<double>& grid, Number number) {
  std::vector<double> y;
  for (const T& v : values) y.push_back(number(v));
  std::vector<double> out;
  for (const double x : grid) out.push_back(interpolate(from, y, x));
  return out;
}

std::vector<double> median_of(const std::vector<std::vector<double>>& rows, std::size_t n) {
  std::vector<double> out, column(rows.size());
  for (std::size_t i = 0; i < n; ++i) {
    for (std::size_t m = 0; m < rows.size(); ++m) column[m] = rows[m][i];
    out.push_back(physics::quantile(column, 0.5));
  }
  return out;
}

}  // namespace

std::vector<Need> Series::needs(const System& s, std::size_t engine) const {
  const auto& air = engine == kMiddle ? middle_air_kg_s : air_kg_s[engine];
  std::vector<Need> out;
  for (std::size_t i = 0; i < speeds.size(); ++i) {
    out.push_back({speeds[i], manifold[i],
                   fuel_for(MassFlow{air[i]}, car::lambda(s.lambda), s.stoichiometric)});
  }
  return out;
}

std::vector<double> Series::power_at(std::size_t i) const {
  std::vector<double> out;
  for (const auto& row : power_w) out.push_back(row[i]);
  return out;
}

Power Series::middle_power(EngineSpeed n) const {
  std::vector<double> x;
  for (const EngineSpeed s : speeds) x.push_back(s.rpm);
  return Power{interpolate(x, middle_power_w, n.rpm)};
}

Result<Series> series_of(const Demand& demand, EngineSpeed top) {
  std::vector<double> from;
  for (const EngineSpeed s : demand.speeds) from.push_back(s.rpm);
  const double last = std::min(top.rpm, from.back());
  if (!(last > from.front())) {
    return Error{ErrorCode::out_of_range, "demand",
                 fmt::format("begins at {:.0f} rpm, expected below the rev limit of {:.0f} rpm",
                             from.front(), top.rpm)};
  }
  constexpr double kApart_rpm = 100;
  const int steps = std::max(2, static_cast<int>(std::ceil((last - from.front()) / kApart_rpm)));
  std::vector<double> grid;
  for (int i = 0; i <= steps; ++i) grid.push_back(from.front() + (last - from.front()) * i / steps);
  Series out;
  for (const double n : grid) out.speeds.push_back(rpm(n));
  for (const double p :
       on_grid(from, demand.manifold, grid, [](AbsolutePressure x) { return x.from_zero.si; }))
    out.manifold.push_back(absolute(PressureStep{p}));
  const auto si = [](const auto& x) { return x.si; };
  for (const auto& row : demand.air) out.air_kg_s.push_back(on_grid(from, row, grid, si));
  for (const auto& row : demand.power) out.power_w.push_back(on_grid(from, row, grid, si));
  out.middle_air_kg_s = median_of(out.air_kg_s, grid.size());
  out.middle_power_w = median_of(out.power_w, grid.size());
  return out;
}

}  // namespace fuelwright::physics::supply::internal
