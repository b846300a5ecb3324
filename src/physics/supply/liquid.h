/// The fuel as a liquid: density, viscosity and vapour pressure against temperature.
///
///   rho = rho_s (1 - beta (T - 290.65 K)),  beta = (0.95 + 0.15 a) 1e-3 1/K             (supply.1)
///   ln mu = sum of w_i ln mu_i,  mu_i = A_i exp(B_i/T)                                  (supply.2)
///   p_v = p_Reid exp(b (1/310.93 K - 1/T)),  b = 3300 K petrol, 5000 ethanol, 4500 methanol, by
///   mass of alcohol a between                                                           (supply.3)
///
/// Constants from memory: petrol 0.55 and 0.44 mPa s at 20 and 40 degC, ethanol 1.20 and 0.83,
/// methanol 0.59 and 0.46. Checked: pure ethanol and methanol boil at 78.3 and 64.7 degC (handbook)
/// within 2 K by (supply.3). Range: 230..390 K. Limits: a blend of alcohol boils as its Reid
/// pressure says, not as its parts.
#pragma once

#include "base/units/points.h"

namespace fuelwright::physics::supply {

struct Liquid {
  Density density;          ///< rho_s, at 15 to 20 degC
  double alcohol = 0;       ///< a, share of the mass [-]
  bool methanol = false;    ///< the alcohol is methanol, otherwise ethanol
  AbsolutePressure reid{};  ///< vapour pressure at 37.8 degC
};

Density density_at(const Liquid& fuel, Temperature t);
/// Dynamic viscosity [Pa s].
double viscosity_pa_s(const Liquid& fuel, Temperature t);
AbsolutePressure vapour_pressure(const Liquid& fuel, Temperature t);
/// The temperature at which it boils under a pressure above 0.
Temperature boils_at(const Liquid& fuel, AbsolutePressure p);

}  // namespace fuelwright::physics::supply
