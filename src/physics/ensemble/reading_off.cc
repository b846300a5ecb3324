// The ensemble on other axes, and quantiles of whatever was computed from its members.
#include <algorithm>
#include <cmath>

#include "base/numerics/interpolate.h"
#include "physics/ensemble/ensemble.h"

namespace fuelwright::physics {

Result<Eigen::MatrixXd> weights_onto(const Ensemble& ensemble, const car::Grid& grid) {
  const MapPlaces& places = ensemble.drawn().places;
  const bool vacuum = grid.y.kind() == car::AxisKind::vacuum;
  if (grid.x.kind() != car::AxisKind::engine_speed ||
      (!vacuum && grid.y.kind() != car::AxisKind::map_absolute)) {
    return Error{ErrorCode::bad_input, "the table's axes",
                 std::string("came ") + car::label_of(grid.x.kind()) + " and " +
                     car::label_of(grid.y.kind()) +
                     ", expected engine speed against manifold pressure or vacuum"};
  }
  std::vector<double> speeds, pressures;
  for (const EngineSpeed n : places.speeds) speeds.push_back(n.rpm);
  for (const AbsolutePressure p : places.pressures) pressures.push_back(p.from_zero.si);
  const double ambient = places.surroundings.ambient.from_zero.si;
  Eigen::MatrixXd out =
      Eigen::MatrixXd::Zero(static_cast<Eigen::Index>(grid.size()), ensemble.nodes());
  const auto put = [&](Eigen::Index row, std::size_t ix, std::size_t iy, double share) {
    if (share > 0) out(row, static_cast<Eigen::Index>(iy * speeds.size() + ix)) += share;
  };
  for (std::size_t iy = 0; iy < grid.y.size(); ++iy) {
    const Bracket y = bracket(pressures, vacuum ? ambient - grid.y[iy] : grid.y[iy]);
    for (std::size_t ix = 0; ix < grid.x.size(); ++ix) {
      const Bracket x = bracket(speeds, grid.x[ix]);
      const auto row = static_cast<Eigen::Index>(grid.index(ix, iy));
      put(row, x.i, y.i, (1 - x.t) * (1 - y.t));
      put(row, x.i + 1, y.i, x.t * (1 - y.t));
      put(row, x.i, y.i + 1, (1 - x.t) * y.t);
      put(row, x.i + 1, y.i + 1, x.t * y.t);
    }
  }
  return out;
}

double quantile(std::span<const double> values, double share) {
  EXPECTS(!values.empty() && share >= 0 && share <= 1);
  std::vector<double> sorted(values.begin(), values.end());
  EXPECTS(std::none_of(sorted.begin(), sorted.end(), [](double v) { return std::isnan(v); }));
  std::sort(sorted.begin(), sorted.end());
  const auto n = static_cast<double>(sorted.size());
  const double at = std::clamp(share * n - 0.5, 0.0, n - 1);
  const auto i = static_cast<std::size_t>(at);
  const std::size_t next = std::min(i + 1, sorted.size() - 1);
  return sorted[i] + (at - std::floor(at)) * (sorted[next] - sorted[i]);
}

Interval interval_of(std::span<const double> values) {
  return {quantile(values, 0.025), quantile(values, 0.5), quantile(values, 0.975)};
}

}  // namespace fuelwright::physics
