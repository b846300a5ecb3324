/// Vapour: how near the fuel is to boiling, at the pump's inlet and at the rail.
///
///   p_inlet = p_ambient + height - dp_suction(Q);  the pump fills while p_inlet >= p_v + needed
///                                                                                       (supply.16)
///
/// Petrol boils over a range, so this is where vapour begins, not where flow ends: the careful
/// side. A surge tank or a tank that holds pressure is taken as open to the air.
#pragma once

#include "physics/supply/system.h"

namespace fuelwright::physics::supply {

/// The flow at which the inlet comes down to p_v + needed; infinite if it never does within
/// `beyond`, 0 if it is there already at rest.
VolumeFlow inlet_can(const System& s, VolumeFlow beyond);

struct VapourMargin {
  PressureStep inlet;          ///< left over vapour pressure and `needed` at the pumped flow
  Temperature inlet_boils_at;  ///< fuel temperature at which nothing would be left
  PressureStep rail;           ///< left over vapour pressure at the rail
  Temperature rail_boils_at;   ///< at the regulated pressure, engine running
};
VapourMargin vapour_margin(const System& s, VolumeFlow pumped, GaugePressure rail);

}  // namespace fuelwright::physics::supply
