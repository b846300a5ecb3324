/// The units of axes.
#pragma once

#include "car/tables/axis.h"

namespace fuelwright::car {

/// The unit in which people read an axis, and in which it stands in text and CDF: rpm, kPa, inHg
/// for vacuum in US, % of throttle, degC (degF in US), V, kPa/s. Place in SI = number * factor +
/// offset.
UnitInfo axis_unit(AxisKind kind, UnitSystem system);

}  // namespace fuelwright::car
