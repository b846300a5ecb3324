/// Air through a throttle: the area that a flow needs.
///
///   m = Cd A p0/sqrt(R T0) psi(p/p0),
///   psi = sqrt(2 g/(g-1) (r^(2/g) - r^((g+1)/g))), r not below (2/(g+1))^(g/(g-1))    (first.16)
///
/// g 1.4. Source: isentropic flow with a discharge coefficient; table values in the test.
#pragma once

#include "base/units/points.h"

namespace fuelwright::advice {

/// Cd A. Downstream below upstream; both above 0.
Area effective_area(MassFlow flow, AbsolutePressure upstream, AbsolutePressure downstream,
                    Temperature upstream_temperature);

}  // namespace fuelwright::advice
