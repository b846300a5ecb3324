/// Fuel on the walls: two puddles side by side (virtual_car.5), solved exactly for a constant
/// inflow over each step (Aquino, SAE 810494, from memory, with a second puddle):
///
///   dm_i/dt = X_i u - m_i/tau_i,     cylinders: (1 - X_1 - X_2) u + m_1/tau_1 + m_2/tau_2
///
/// so that fuel injected = fuel into the cylinders + growth of the puddles, to rounding.
#pragma once

#include "sim/virtual_car/truth.h"

namespace fuelwright::sim::virtual_car {

class WallFilm {
 public:
  explicit WallFilm(const Film& film) : film_(film) {}
  /// Fuel into the cylinders during the step [kg]. The first step starts in equilibrium.
  double step(double injected_kg, double dt_s, double map_pa, double wall_k);
  double mass_kg() const { return fast_kg_ + slow_kg_; }

 private:
  Film film_;
  double fast_kg_ = 0, slow_kg_ = 0;
  bool started_ = false;
};

/// Share of the fuel in the cylinder that does not burn while the engine is cold [-].
double lost_when_cold(const Film& film, double coolant_k);

}  // namespace fuelwright::sim::virtual_car
