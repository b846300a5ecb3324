#include "sim/virtual_car/engine_air.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

#include "base/contract.h"
#include "physics/breathing/breathing.h"
#include "physics/ensemble/uncertain.h"
#include "sim/virtual_car/internal/random.h"

namespace fuelwright::sim::virtual_car {
namespace {

constexpr double kLowest_pa = 20e3;
constexpr double kLowestVe = 0.08, kHighestVe = 1.5;
constexpr double kMost_z = 2.5;  // standard deviations of a part
constexpr int kTries = 6;        // a draw far out may be no engine; each try lies nearer

/// A few long waves over the map, one standard deviation high.
class SmoothError {
 public:
  explicit SmoothError(Random& random) {
    for (Wave& w : waves_) {
      const double way = random.uniform(0, std::numbers::pi);
      const double turns = 2 * std::numbers::pi * random.uniform(0.4, 1.8);
      w = {turns * std::cos(way), turns * std::sin(way), random.uniform(0, 2 * std::numbers::pi)};
    }
  }
  double at(double x, double y) const {
    double sum = 0;
    for (const Wave& w : waves_) sum += std::cos(w.kx * x + w.ky * y + w.phase);
    return sum * std::sqrt(2.0 / static_cast<double>(waves_.size()));
  }

 private:
  struct Wave {
    double kx = 0, ky = 0, phase = 0;
  };
  std::array<Wave, 4> waves_{};
};

Result<physics::EngineModel> engine_within_tolerance(const car::Sheet& sheet, std::uint64_t seed) {
  const auto parts = physics::uncertain_parts(sheet);
  Random random(seed, "parts of the engine");
  std::vector<double> z(parts.size());
  for (double& v : z) v = std::clamp(random.normal(), -kMost_z, kMost_z);
  Result<physics::EngineModel> engine = physics::engine_model(sheet);
  if (!engine) return engine;
  for (int i = 0; i < kTries; ++i) {
    const physics::Variant v = physics::variant_of(sheet, parts, z);
    if (auto drawn = physics::engine_model(v.sheet, v.unstated)) return drawn;
    for (double& one : z) one *= 0.6;
  }
  return engine;
}

/// Evenly spaced, the inner points rounded.
car::Axis even_axis(car::AxisKind kind, double first, double last, int count, double step) {
  std::vector<double> points;
  for (int i = 0; i < count; ++i) {
    const double at = first + (last - first) * i / (count - 1);
    points.push_back(i == 0 || i == count - 1 ? at : std::round(at / step) * step);
  }
  const auto axis = car::Axis::make(kind, points);
  EXPECTS(axis.ok());
  return *axis;
}

double rounded(double value) { return std::round(value * 1e5) / 1e5; }

physics::MapPlaces places_of(const car::Grid& grid, const physics::Surroundings& around) {
  physics::MapPlaces places;
  for (const double n : grid.x.points()) places.speeds.push_back(rpm(n));
  for (const double p : grid.y.points()) places.pressures.push_back(absolute(p * pascal));
  places.surroundings = around;
  return places;
}

}  // namespace

Status give_air(Truth& truth, const car::Sheet& sheet, std::uint64_t seed,
                const AirOptions& options) {
  EXPECTS(options.speeds >= 4 && options.speeds <= 60);
  EXPECTS(options.pressures >= 4 && options.pressures <= 40);
  FW_TRY(const physics::EngineModel engine, engine_within_tolerance(sheet, seed));
  physics::Surroundings around = physics::surroundings_of(sheet);
  around.ambient = absolute(std::round(around.ambient.from_zero.si) * pascal);
  around.intake_air = celsius(std::round(in_celsius(around.intake_air)));
  const double most = std::round(1.06 * std::max(sheet.wishes.rev_limit.value.rpm, 2500.0));
  const double least =
      std::round(std::clamp(0.55 * sheet.wishes.idle_speed.value.rpm, 300.0, 800.0));
  const car::Grid grid{even_axis(car::AxisKind::engine_speed, least, most, options.speeds, 1),
                       even_axis(car::AxisKind::map_absolute, kLowest_pa,
                                 around.ambient.from_zero.si, options.pressures, 10)};
  physics::MapSettings settings;
  settings.threads = options.threads;
  settings.progress = options.progress;
  const physics::AirMap map = physics::whole_engine_map(engine, places_of(grid, around), settings);

  Random random(seed, "error beside the flow model");
  const SmoothError error(random);
  truth.air.ve = car::Surface::flat(grid, 0);
  truth.air.residual = car::Surface::flat(grid, 0);
  for (std::size_t ix = 0; ix < grid.x.size(); ++ix) {
    double above = 0.5;
    for (std::size_t iy = grid.y.size(); iy-- > 0;) {
      const physics::AirNode& node = map.node(ix, iy);
      const bool burns = node.reachable && std::isfinite(node.ve);
      const double ve = burns ? node.ve : 0.97 * above;
      above = std::clamp(ve, kLowestVe, kHighestVe);
      const double x = static_cast<double>(ix) / static_cast<double>(grid.x.size() - 1);
      const double y = static_cast<double>(iy) / static_cast<double>(grid.y.size() - 1);
      truth.air.ve->node(ix, iy) =
          rounded(above * std::exp(options.model_error * error.at(x, y)));  // (virtual_car.4)
      truth.air.residual->node(ix, iy) =
          rounded(std::isfinite(node.residual) ? std::clamp(node.residual, 0.0, 1.0) : 0.6);
    }
  }
  truth.air.reference_ambient = around.ambient;
  truth.air.reference_intake = around.intake_air;
  truth.air.reference_coolant = around.coolant;
  return Done{};
}

}  // namespace fuelwright::sim::virtual_car
