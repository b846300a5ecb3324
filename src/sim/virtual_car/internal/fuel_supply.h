/// Pump, regulator and injectors: the fuel that a pulse really gives (virtual_car.9,
/// virtual_car.10).
#pragma once

#include "sim/virtual_car/internal/faults.h"
#include "sim/virtual_car/truth.h"

namespace fuelwright::sim::virtual_car {

class FuelSupply {
 public:
  explicit FuelSupply(const Fuel& fuel, bool above_throttle)
      : fuel_(fuel), above_throttle_(above_throttle), rail_pa_(fuel.regulator.si) {}

  struct Moment {
    double map_pa, ambient_pa, battery_v, rpm, pulse_s;
  };
  /// Fuel leaving all injectors during the step [kg].
  double step(const Moment& now, const Faults& faults, double dt_s);
  double rail_gauge_pa() const { return rail_pa_; }
  /// How long the injector does not flow at the start of a pulse [s].
  double dead_time_s(double battery_v, double across_pa) const;

 private:
  double across_pa(const Moment& now) const;
  double pump_kg_s(double rail_pa, double battery_v, const Faults& faults) const;

  Fuel fuel_;
  bool above_throttle_;
  double rail_pa_;  ///< above ambient
};

}  // namespace fuelwright::sim::virtual_car
