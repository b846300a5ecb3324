#include "sim/virtual_car/internal/fuel_supply.h"

#include <algorithm>
#include <cmath>

namespace fuelwright::sim::virtual_car {
namespace {

constexpr double kNominal_v = 14, kPump_v = 13.5;
constexpr double kRail_s = 0.05;               // pressure follows so fast
constexpr double kDeadTimePerPressure = 0.25;  // share of dead time per share of pressure
constexpr double kLowestAcross_pa = 1e3;
constexpr int kHalvings = 18;

}  // namespace

double FuelSupply::across_pa(const Moment& now) const {
  const double tip = above_throttle_ ? now.ambient_pa : now.map_pa;
  return std::max(rail_pa_ + now.ambient_pa - tip, kLowestAcross_pa);
}

double FuelSupply::dead_time_s(double battery_v, double across_pa) const {
  const double below = kNominal_v - battery_v;
  const double at_pressure =
      fuel_.dead_time.si +
      fuel_.dead_time_per_volt.si * below * (1 + fuel_.dead_time_curvature * std::max(below, 0.0));
  const double pressure = 1 + kDeadTimePerPressure * (across_pa / fuel_.flow_pressure.si - 1);
  return std::max(at_pressure * std::max(pressure, 0.3), 0.0);  // (virtual_car.9)
}

double FuelSupply::pump_kg_s(double rail_pa, double battery_v, const Faults& faults) const {
  const double slope = 1 - fuel_.pump_slope * (rail_pa / fuel_.pump_pressure.si - 1);
  const double volts = std::max(battery_v / kPump_v, 0.2);
  const double weak = 1 - 0.7 * faults.severity(car::FaultKind::weak_pump);
  return std::max(fuel_.pump_flow.si * fuel_.density.si * slope * volts * weak, 0.0);
}

double FuelSupply::step(const Moment& now, const Faults& faults, double dt_s) {
  const double across = across_pa(now);
  const double open_s = std::clamp(now.pulse_s - dead_time_s(now.battery_v, across), 0.0,
                                   120.0 / std::max(now.rpm, 100.0) / fuel_.squirts_per_cycle);
  const double clogged = 1 - 0.25 * faults.severity(car::FaultKind::clogged_injectors);
  const double rate =
      now.rpm / 120 * fuel_.injectors * fuel_.squirts_per_cycle * open_s * fuel_.flow.si * clogged;
  const auto injected_kg_s = [&](double p) {
    return rate * std::sqrt(std::max(p, kLowestAcross_pa) / fuel_.flow_pressure.si);
  };
  // What the rail settles at: the regulator's pressure, or where the pump gives no more.
  const double reference = fuel_.regulated_to_manifold ? now.map_pa - now.ambient_pa : 0;
  const double used = injected_kg_s(across) / std::max(fuel_.pump_flow.si * fuel_.density.si, 1e-9);
  const double set = fuel_.regulator.si * (1 - fuel_.droop * std::min(used, 1.0)) + reference;
  const double to_across = across - rail_pa_;
  double settled = set;
  if (pump_kg_s(set, now.battery_v, faults) < injected_kg_s(set + to_across)) {
    double low = std::min(0.0, set), high = set;  // (virtual_car.10)
    for (int i = 0; i < kHalvings; ++i) {
      const double mid = 0.5 * (low + high);
      (pump_kg_s(mid, now.battery_v, faults) > injected_kg_s(mid + to_across) ? low : high) = mid;
    }
    settled = 0.5 * (low + high);
  }
  rail_pa_ += (settled - rail_pa_) * (1 - std::exp(-dt_s / kRail_s));
  return injected_kg_s(across) * dt_s;
}

}  // namespace fuelwright::sim::virtual_car
