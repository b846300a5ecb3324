#include "physics/supply/wiring.h"

#include <algorithm>

#include "car/build/derived.h"

namespace fuelwright::physics::supply {

Resistance wire_resistance(const Wiring& wiring) {
  return car::copper_resistance(wiring.length, wiring.area, celsius(40));
}

Voltage volts_at_pump(const Wiring& wiring, Current current) {
  const Resistance all = wire_resistance(wiring) + wiring.contacts;
  return Voltage{std::max(0.0, wiring.source.si - current.si * all.si)};  // (supply.10)
}

}  // namespace fuelwright::physics::supply
