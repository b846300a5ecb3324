/// The pump's wiring: voltage that arrives at the pump.
///
///   V_pump = V_source - I (rho (L + L_ground)/A + R_contacts) (supply.10)
///
/// Copper by car::copper_resistance(), at 40 degC. Contacts: relay, fuse, plugs, body.
#pragma once

#include "base/units/electric.h"
#include "base/units/points.h"

namespace fuelwright::physics::supply {

struct Wiring {
  Voltage source;  ///< at the battery, engine charging
  Area area;       ///< of the conductor, feed and ground
  Length length;   ///< feed and ground together
  Resistance contacts{};
};

Resistance wire_resistance(const Wiring& wiring);  ///< copper alone
/// (supply.10); not below 0.
Voltage volts_at_pump(const Wiring& wiring, Current current);

}  // namespace fuelwright::physics::supply
