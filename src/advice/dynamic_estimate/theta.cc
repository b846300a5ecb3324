#include "advice/dynamic_estimate/theta.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "car/build/derived.h"

namespace fuelwright::advice {

Mass exhaust_before_sensor(const car::Sheet& sheet) {
  constexpr double kGas_kg_m3 = 0.4;
  const car::Exhaust& e = sheet.exhaust;
  const auto pipe = [](double d, double l) { return std::numbers::pi / 4 * d * d * l; };
  const double cylinders = sheet.engine.cylinders.si();
  const double primaries = cylinders * pipe(e.primary_diameter.si(), e.primary_length.si());
  const double sensor_m = sheet.sensors.mixture.empty()
                              ? e.primary_length.si() + e.collector_length.si()
                              : sheet.sensors.mixture.front().distance.si();
  const double beyond = std::max(sensor_m - e.primary_length.si(), 0.0);
  const double collectors =
      std::max(1, sheet.engine.banks.value) * pipe(e.collector_diameter.si(), beyond);
  return Mass{kGas_kg_m3 * (0.5 * primaries + collectors)};
}

DynamicsPrior DynamicsPrior::of(const car::Sheet& sheet) {
  const bool ports = sheet.injection.arrangement.value == car::InjectionArrangement::ports;
  double share = 1;
  if (!sheet.sensors.mixture.empty()) {
    const car::MixtureSensor& m = sheet.sensors.mixture.front();
    const double cylinders = sheet.engine.cylinders.si();
    if (!m.cylinders.values.empty()) {
      share = static_cast<double>(m.cylinders.values.size()) / cylinders;
    } else if (m.bank.value > 0 && sheet.engine.banks.value > 1) {
      share = 1.0 / sheet.engine.banks.si();
    }
  }
  const double gas = std::log(std::max(share * exhaust_before_sensor(sheet).si, 1e-5));
  DynamicsPrior p{};
  p.mean = {0.05, gas, std::log(0.11), ports ? 0.20 : 0.35, std::log(ports ? 0.4 : 0.8),
            0.4,  0.1, ports ? 0.06 : 0.20, std::log(ports ? 2.5 : 4.0)};
  p.sd = {0.04, 0.6, 0.35, ports ? 0.08 : 0.15, ports ? 0.4 : 0.5,
          0.3,  0.1, ports ? 0.04 : 0.12, ports ? 0.5 : 0.5};
  // Ordinary cams overlap by 10 crank degrees less than nothing at 0.050 in, rough idlers by 20
  // more than nothing; their idles read 0 to 0.06 lean.
  const double rough = std::clamp((car::overlap_050(sheet).degrees() + 10) / 30, 0.0, 1.0);
  p.dilution = Dilution::of(sheet);
  p.beside[kIdleLean] = 0.002 + 0.003 * rough;
  p.beside_sd[kIdleLean] = 0.004 + 0.006 * rough;
  p.film_discrepancy = ports ? 0 : 0.006;
  return p;
}

}  // namespace fuelwright::advice
