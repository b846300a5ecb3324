#include "sim/virtual_car/internal/film.h"

#include <algorithm>
#include <cmath>

namespace fuelwright::sim::virtual_car {
namespace {

constexpr double kAt_pa = 50e3, kWarm_k = 363.15, kColdStep_k = 40;
constexpr double kMostShare = 0.85;
constexpr double kNothingLost_k = 348.15, kLossSpan_k = 55;

double puddle(double& mass_kg, double inflow_kg_s, double tau_s, double dt_s, bool started) {
  if (!started) mass_kg = inflow_kg_s * tau_s;
  const double keep = std::exp(-dt_s / tau_s);
  const double before = mass_kg;
  mass_kg = before * keep + inflow_kg_s * tau_s * (1 - keep);  // (virtual_car.5)
  return mass_kg - before;
}

}  // namespace

double WallFilm::step(double injected_kg, double dt_s, double map_pa, double wall_k) {
  const double cold = std::exp(film_.cold_growth * std::max(kWarm_k - wall_k, 0.0) / kColdStep_k);
  const double grown = cold * std::pow(map_pa / kAt_pa, film_.pressure_power);
  double fast = film_.fast_share * grown, slow = film_.slow_share * grown;
  const double scale = std::min(1.0, kMostShare / std::max(fast + slow, 1e-12));
  fast *= scale;
  slow *= scale;
  const double u = injected_kg / dt_s;
  const double growth = puddle(fast_kg_, fast * u, film_.fast_time.si * cold, dt_s, started_) +
                        puddle(slow_kg_, slow * u, film_.slow_time.si * cold, dt_s, started_);
  started_ = started_ || injected_kg > 0;
  return injected_kg - growth;
}

double lost_when_cold(const Film& film, double coolant_k) {
  return std::min(film.cold_loss * std::max(kNothingLost_k - coolant_k, 0.0) / kLossSpan_k, 0.6);
}

}  // namespace fuelwright::sim::virtual_car
