#include "advice/map_estimate/injector_fuel.h"

#include <cmath>

#include "base/contract.h"

namespace fuelwright::advice {
namespace {

constexpr double kDeadTimeExponent = 1.6;
constexpr double kNoBattery_v = 6;

}  // namespace

PressureStep pressure_across_injector(const car::Injection& in, AbsolutePressure manifold,
                                      AbsolutePressure ambient) {
  const bool by_manifold = in.regulator_reference.value == car::RegulatorReference::manifold;
  const bool at_ports = in.arrangement.value == car::InjectionArrangement::ports;
  const double reference = (by_manifold ? manifold : ambient).from_zero.si;
  const double tip = (at_ports ? manifold : ambient).from_zero.si;
  return PressureStep{reference + in.regulator_pressure.si() - tip};
}

MassFlow injector_flow(const car::Sheet& sheet, PressureStep across) {
  EXPECTS(across.si > 0);
  const car::Injection& in = sheet.injection;
  return MassFlow{in.injector_flow.si() *
                  std::sqrt(across.si / in.injector_pressure.si() * sheet.fuel.density.si() /
                            in.rated_density.si())};
}

Duration dead_time(const car::Injection& in, Voltage battery) {
  if (!(battery.si > kNoBattery_v)) return Duration{in.dead_time.si()};
  return Duration{in.dead_time.si() *
                  std::pow(in.dead_time_voltage.si() / battery.si, kDeadTimeExponent)};
}

}  // namespace fuelwright::advice
