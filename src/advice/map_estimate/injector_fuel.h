/// What the injectors of a sheet let through, as the estimates count it.
///
///   q = q_ref sqrt(dp/dp_ref rho/rho_ref),   dp = p_rail - p_tip                    (observe.3)
///   d0(V) = d0 (V_ref/V)^1.6
///
/// p_rail: the regulator's pressure above its reference, manifold or ambient. p_tip: the manifold's
/// at a port, near ambient above the throttle. Square-root law: an orifice (exact for dense flow).
/// Dead time grows as the battery sags: about 0.9 ms at 14 V is 1.15 ms at 12 V (common practice,
/// no source).
#pragma once

#include "car/build/sheet.h"

namespace fuelwright::advice {

/// Across an injector; below zero where the sheet's rail could not feed against that manifold.
PressureStep pressure_across_injector(const car::Injection& injection, AbsolutePressure manifold,
                                      AbsolutePressure ambient);
/// One injector, held open, with the fuel of the sheet; across > 0.
MassFlow injector_flow(const car::Sheet& sheet, PressureStep across);
/// At a battery voltage; 6 V and less, or NaN: nothing is known of it, and the sheet's own holds.
Duration dead_time(const car::Injection& injection, Voltage battery);

}  // namespace fuelwright::advice
