/// Two invented engines and their charges, for tests and benches: a wedge-chamber V8 of 5.7 litres
/// and a pent-roof four of 2.0 litres. Charges from a plain filling rule, not from the gas
/// exchange.
#pragma once

#include "physics/combustion/internal/start.h"

namespace fuelwright::physics::example {

inline WorkingGas petrol_at(double lambda) {
  // Petrol of 43.5 MJ/kg (Heywood 1988, table D.4: 43 to 44; from memory).
  const auto fuel = burning_fuel(car::from_formula(1, 1.87, 0), 43.5 * MJ_per_kg).value();
  return working_gas(fuel, car::lambda(lambda)).value();
}

inline EngineBuild wedge_v8() {
  return {.shape = {101.6 * mm, 88.4 * mm, 144.8 * mm, 9.0},
          .cylinders = 8,
          .valves = 2,
          .vee = true,
          .valve_lift = 11.4 * mm,
          .train = ValveTrain::pushrod};
}
inline EngineBuild pent_roof_four() {
  return {.shape = {86 * mm, 86 * mm, 146 * mm, 10.0},
          .cylinders = 4,
          .valves = 4,
          .valve_lift = 9.5 * mm,
          .train = ValveTrain::direct_overhead};
}

/// Fresh air `ve` of the swept volume at `map` and 310 K; pressure at closing from the gas law at a
/// temperature that mixes fresh charge at 330 K with residual at 1000 K.
inline ClosedCharge charge_of(const WorkingGas& gas, const EngineBuild& engine, double n,
                              double map_kpa, double ve, double residual) {
  ClosedCharge c{.shape = engine.shape};
  c.chamber = engine.valves > 3 ? Chamber::pent_roof : Chamber::two_valve;
  c.speed = rpm(n);
  c.residual = residual;
  c.closing = crank_degrees(-120);
  c.exhaust_opening = crank_degrees(125);
  c.exhaust_pressure = absolute(105 * kPa);
  c.air = ve * map_kpa * 1000 * swept_volume(engine.shape).si / (287.05 * 310) * kg;
  const double t = 330 + (1000 - 330) * residual * 1.1;
  const double fresh = c.air.si / (1 - gas.tables->fuel_per_fresh);
  const double r = (1 - residual) * gas.tables->fresh.r + residual * gas.tables->frozen.r;
  const double v = cylinder_volume(c.shape, c.closing).si;
  c.pressure = absolute(fresh / (1 - residual) * r * t / v * pascal);
  c.temperature = kelvin(t);
  return c;
}
inline ClosedCharge full_throttle(const WorkingGas& gas, double n) {
  return charge_of(gas, wedge_v8(), n, 98, 0.85, 0.06);
}

}  // namespace fuelwright::physics::example
