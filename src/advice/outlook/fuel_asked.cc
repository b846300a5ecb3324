#include "advice/outlook/fuel_asked.h"

#include <cmath>

namespace fuelwright::advice {
namespace {

constexpr double kAirGasConstant = 287.053;  // J/(kg K), U.S. Standard Atmosphere 1976
constexpr double kIntakeAir_K = 293.15;      // 20 degC

}  // namespace

std::optional<FuelAsked> fuel_asked(const car::Sheet& sheet, EngineSpeed speed,
                                    AbsolutePressure manifold, AbsolutePressure ambient, double ve,
                                    car::Lambda mixture) {
  EXPECTS(speed.rpm > 0 && manifold.from_zero.si > 0 && ve > 0 && mixture.value > 0);
  const car::Injection& in = sheet.injection;
  const double air = ve * manifold.from_zero.si * sheet.engine.displacement.si() * speed.rpm /
                     (120 * kAirGasConstant * kIntakeAir_K);                   // (outlook.1)
  const double fuel = air / (mixture.value * sheet.fuel.stoichiometric.si());  // (outlook.2)
  const bool by_manifold = in.regulator_reference.value == car::RegulatorReference::manifold;
  const bool ports = in.arrangement.value == car::InjectionArrangement::ports;
  const PressureStep reference = by_manifold ? manifold.from_zero : ambient.from_zero;
  const PressureStep tip = ports ? manifold.from_zero : ambient.from_zero;
  const double dp = in.regulator_pressure.si() + (reference - tip).si;  // (outlook.3)
  if (dp <= 0) return std::nullopt;
  const double one =
      in.injector_flow.si() *
      std::sqrt(dp / in.injector_pressure.si() * sheet.fuel.density.si() / in.rated_density.si());
  const double dead = in.squirts_per_cycle.si() * in.dead_time.si() * speed.cycles_per_second();
  return FuelAsked{fuel * kg_per_s, fuel / (in.injector_count.si() * one) + dead};  // (outlook.4)
}

}  // namespace fuelwright::advice
