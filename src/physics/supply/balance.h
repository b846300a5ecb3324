/// The fuel system in balance: what the pump sends is what the injectors and the return take.
///
///   Q_pump(p_rail + dp_hose(Q) + dp_filter(Q), V(I)) = Q = Q_injected + Q_returned (supply.15)
///
/// The regulator holds the rail at its setting while something is left to return. If nothing is,
/// the rail falls until pump and injectors agree; if the return hose cannot take the rest, the rail
/// rises to what pushes it through. A pump whose inlet would fall below the fuel's vapour pressure
/// (and `needed`) gets no more than what keeps it there (vapour.h). Every equation has one unknown
/// and one sign of slope, and is solved inside a bracket: it cannot fail.
#pragma once

#include "physics/supply/system.h"

namespace fuelwright::physics::supply {

/// Rail pressure that the regulator is set to at this manifold pressure, above ambient.
GaugePressure set_pressure(const System& s, AbsolutePressure manifold);

/// The most the pump sends to a rail at this pressure, through filter and hose (returnless: to the
/// regulator).
VolumeFlow pump_can(const System& s, GaugePressure rail);
/// Pressure rise the pump makes, and volts it gets, at that flow.
PressureStep pump_works_against(const System& s, GaugePressure rail, VolumeFlow flow);

/// Pressure across the nozzle while the regulator holds and `fuel` is burnt; not below 0.
PressureStep across_nozzle(const System& s, AbsolutePressure manifold, MassFlow fuel);

/// What each part can send at this speed and manifold pressure, at the rail pressure that is set.
struct Most {
  MassFlow pump;
  MassFlow injectors;
  MassFlow lift;  ///< infinite without one
  MassFlow least() const;
};
Most most_at(const System& s, EngineSpeed n, AbsolutePressure manifold);

struct OperatingPoint {
  GaugePressure rail;
  PressureStep across;         ///< the nozzle
  PressureStep pump_pressure;  ///< rise over the pump
  Voltage pump_volts;
  Current pump_current;
  VolumeFlow pumped, injected, returned;
  MassFlow delivered;        ///< what the injectors send with the pulses that the need commands
  Pulse pulse;               ///< commanded, at the set pressure
  double leaner = 0;         ///< need/delivered - 1: lambda rises by this share
  bool rail_held = true;     ///< false: the pump is at its end and the rail has fallen
  bool return_full = false;  ///< the return hose holds the rail above its setting
  bool inlet_boils = false;  ///< the pump gets less than it could for vapour
};
/// (supply.15) with pulses long enough for the need at the set pressure (longer ones than fit are
/// cut to an injector held open).
OperatingPoint balance(const System& s, const Need& need);

}  // namespace fuelwright::physics::supply
