/// Fuel on the walls of the intake: a share X of what is injected wets them and leaves with the
/// time constant tau (Aquino, SAE 810494, from memory):
///
///   dM/dt = X m_inj - M/tau         fuel into the cylinder = (1 - X) m_inj + M/tau    (first.10)
///
/// When manifold pressure rises the film must grow. To keep the mixture meanwhile the unit adds, as
/// a share of the fuel,
///
///   a = X tau (dp/dt)/p,   extra = a/(1 + a (1 - X)/X)                                (first.11)
///
/// a alone for a slow rise; for a step the most that can be missing, X/(1 - X).
#pragma once

#include "base/units/points.h"
#include "car/build/sheet.h"

namespace fuelwright::advice {

struct WallFilm {
  double wetting = 0.2;  ///< X [-], 0..1
  Duration leaving;      ///< tau
};

/// Typical film of such an injection at this coolant temperature; right to about a factor of 2
/// (from memory). More wets the walls, and for longer, when they are cold and when fuel enters at
/// the throttle.
WallFilm typical_film(car::InjectionArrangement arrangement, Temperature coolant);

/// (first.11); the rise 0 or more, in Pa/s, from manifold pressure p.
double tip_in_share(const WallFilm& film, double rise_pa_s, AbsolutePressure p);

}  // namespace fuelwright::advice
