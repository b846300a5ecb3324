#include "sim/road_drive/engine_air.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "physics/breathing/breathing.h"
#include "physics/ensemble/sample.h"
#include "physics/ensemble/uncertain.h"
#include "sim/road_drive/internal/random.h"

namespace fuelwright::sim {

namespace {

constexpr int kSpeeds = 18, kPressures = 12;

car::Grid places(const car::Sheet& sheet, double ambient_pa) {
  const double high = std::max(sheet.wishes.rev_limit.value.rpm * 1.05, 3000.0);
  const double low = std::clamp(0.6 * sheet.wishes.idle_speed.value.rpm, 350.0, 900.0);
  return {car::Axis::even(car::AxisKind::engine_speed, low, high, kSpeeds),
          car::Axis::even(car::AxisKind::map_absolute, 20e3, ambient_pa, kPressures)};
}

// A few waves over the map that nothing on the sheet explains.
double model_error(const double* phase, double x, double y) {
  return std::sin(2 * std::numbers::pi * (1.1 * x + 0.3 * y) + phase[0]) +
         std::sin(2 * std::numbers::pi * (0.6 * x - 0.5 * y) + phase[1]);
}

}  // namespace

Result<car::Surface> engine_air(const car::Sheet& sheet, const Truth& truth, std::uint64_t seed,
                                const EngineAirOptions& options) {
  const auto parts = physics::uncertain_parts(sheet);
  const double ambient = truth.surroundings.ambient.from_zero.si;
  const car::Grid grid = places(sheet, ambient);
  physics::MapPlaces at;
  for (const double n : grid.x.points()) at.speeds.push_back(rpm(n));
  for (const double p : grid.y.points()) at.pressures.push_back(absolute(p * pascal));
  at.surroundings = physics::surroundings_of(sheet);
  at.surroundings.ambient = truth.surroundings.ambient;
  physics::MapSettings settings;
  settings.threads = options.threads;
  Random random(seed, 77);
  // A draw far out may be no engine at all; then a nearer one is taken.
  Eigen::MatrixXd z = physics::normal_draws(1, static_cast<int>(parts.size()), seed);
  Result<physics::EngineModel> engine = Error{ErrorCode::out_of_range, "", ""};
  for (int i = 0; i < 6 && !engine; ++i, z *= 0.6) {
    std::vector<double> row(z.data(), z.data() + z.size());
    for (double& v : row) v = std::clamp(v, -2.5, 2.5);
    const physics::Variant v = physics::variant_of(sheet, parts, row);
    engine = physics::engine_model(v.sheet, v.unstated);
  }
  if (!engine) return engine.error();
  const physics::AirMap map = physics::whole_engine_map(*engine, at, settings);
  const double phase[2] = {random.uniform(0, 2 * std::numbers::pi),
                           random.uniform(0, 2 * std::numbers::pi)};
  const double intake = at.surroundings.intake_air.from_zero.si;
  const double coolant = truth.surroundings.thermostat.from_zero.si;
  const double charge = intake + truth.surroundings.charge_heating * (coolant - intake);
  car::Surface out{grid, {}};
  for (std::size_t iy = 0; iy < grid.y.size(); ++iy) {
    for (std::size_t ix = 0; ix < grid.x.size(); ++ix) {
      const double error =
          options.model_error * model_error(phase, static_cast<double>(ix) / kSpeeds,
                                            static_cast<double>(iy) / kPressures);
      // A place where it hardly burns is never driven long; it has the air it is computed with.
      const double ve = std::clamp(map.node(ix, iy).ve, 0.08, 1.4);
      out.values.push_back(ve * std::exp(error) * charge / intake);
    }
  }
  return out;
}

}  // namespace fuelwright::sim
