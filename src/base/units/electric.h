/// Electric amounts: current and resistance, beside the voltage of quantity.h.
///
///   Voltage drop = 7.0 * ampere * (0.05 * ohm);
#pragma once

#include "base/units/quantity.h"

namespace fuelwright {

using Current = Quantity<0, 0, 0, 0, 1>;
using Resistance = Quantity<2, 1, -3, 0, -2>;

inline constexpr Unit<0, 0, 0, 0, 1> ampere{1.0};
inline constexpr Unit<2, 1, -3, 0, -2> ohm{1.0}, milliohm{1e-3};

}  // namespace fuelwright
