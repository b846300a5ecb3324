/// Pump: flow against pressure and voltage.
///
///   Q(p, V) = s Q_rated(p/s^2),  s = V/V_rated                    affinity laws         (supply.8)
///   I(p) = I_rated (0.45 + 0.55 p/p_rated)                                              (supply.9)
///
/// Q_rated is the curve at rated voltage: straight between its points, its last slope beyond them,
/// never below 0. Sources: affinity laws of turbo machines; a motor of fixed field turns nearly as
/// its voltage. A typical curve then gives 17 to 20 % less at 12.0 than at 13.5 V, where common
/// practice says 15 to 20 %. (supply.9): from memory. Range: 6..18 V.
#pragma once

#include <vector>

#include "base/units/electric.h"
#include "base/units/points.h"

namespace fuelwright::physics::supply {

struct Pump {
  std::vector<PressureStep> pressure;  ///< increasing, 2 or more
  std::vector<VolumeFlow> flow;        ///< of one pump there, at `rated`; not increasing
  Voltage rated;
  int count = 1;        ///< side by side
  double strength = 1;  ///< flow over that of the curve: a worn or a better pump [-]
  Current current{};    ///< of one pump at current_pressure
  PressureStep current_pressure{};
};

/// All pumps together. p 0 or more: pressure rise from inlet to outlet; volts 0 or more.
VolumeFlow pump_flow(const Pump& pump, PressureStep p, Voltage volts);
Current pump_current(const Pump& pump, PressureStep p);

}  // namespace fuelwright::physics::supply
