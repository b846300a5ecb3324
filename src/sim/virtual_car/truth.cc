#include "sim/virtual_car/truth.h"

#include <algorithm>
#include <cmath>

#include "base/contract.h"

namespace fuelwright::sim::virtual_car {
namespace {

double at_reference(const Truth& truth, const car::Surface& table, EngineSpeed speed,
                    AbsolutePressure map) {
  const double ratio = map.from_zero / truth.weather.ambient.from_zero;
  return table.at(speed.rpm, ratio * truth.air.reference_ambient.from_zero.si);
}

}  // namespace

double true_ve(const Truth& truth, EngineSpeed speed, AbsolutePressure map) {
  DASSERT(truth.has_air());
  return truth.air.level * at_reference(truth, *truth.air.ve, speed, map);  // (virtual_car.1)
}

double true_residual(const Truth& truth, EngineSpeed speed, AbsolutePressure map) {
  return at_reference(truth, *truth.air.residual, speed, map);
}

Temperature true_charge_temperature(const Truth& truth, Temperature intake, Temperature coolant,
                                    MassFlow air) {
  const double share = truth.air.heating / (1.0 + air / truth.air.heating_flow);
  return intake + share * (coolant - intake);  // (virtual_car.2)
}

double dry_share(const Weather& weather) {
  const double t = in_celsius(weather.air);
  // Magnus' formula over water, 611 Pa at 0 degC (from memory; 0.5 % over -30..50 degC).
  const double saturated_pa = 611.2 * std::exp(17.62 * t / (243.12 + t));
  return 1.0 - weather.humidity * saturated_pa / weather.ambient.from_zero.si;  // (virtual_car.3)
}

const std::vector<std::string>& channel_names() {
  static const std::vector<std::string> kNames{
      "throttle", "coolant",     "intake_air", "afr",     "afr_target",    "correction",
      "warm_up",  "pulse_width", "maf",        "battery", "fuel_pressure", "speed"};
  return kNames;
}

}  // namespace fuelwright::sim::virtual_car
