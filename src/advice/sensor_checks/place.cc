// The pressure of the place: barometer, weather report or sheet.
#include <fmt/format.h>

#include <cmath>

#include "advice/sensor_checks/internal/numbers.h"
#include "advice/sensor_checks/sensor_checks.h"

namespace fuelwright::advice {
namespace {

// U.S. Standard Atmosphere 1976.
constexpr double kSeaLevel_k = 288.15;
constexpr double kLapse_k_m = 0.0065;
constexpr double kPower = 5.25588;  // g M / (R L)

constexpr double kBarometer_pa = 300;  // one standard deviation
constexpr double kReport_pa = 1000;    // 2 kPa as a 95 % half-width

}  // namespace

PlacePressure place_pressure(const WeatherReport& w, const car::Sheet& sheet,
                             const signals::Recording* recording, UnitSystem units) {
  if (w.station) return {*w.station, kBarometer_pa * pascal, "a barometer at the place"};
  if (recording) {
    const signals::Channel* baro = recording->find(signals::Quantity::baro);
    if (baro && baro->converted) {
      const double p = median(baro->si);
      // One that stands at 0 or at its end carries nothing.
      if (p > 50e3 && p < 110e3) {
        return {absolute(p * pascal), 2 * kBarometer_pa * pascal, "the recorded barometer"};
      }
    }
  }
  if (w.sea_level) {
    const double h = w.altitude ? w.altitude->si : sheet.place.altitude.si();
    const double p = w.sea_level->from_zero.si *
                     std::pow(1 - kLapse_k_m * h / kSeaLevel_k, kPower);  // (sensor_checks.3)
    return {absolute(p * pascal), kReport_pa * pascal,
            fmt::format("the weather report, brought from sea level to {}",
                        units == UnitSystem::us ? fmt::format("{:.0f} ft", h / foot.factor)
                                                : fmt::format("{:.0f} m", h))};
  }
  const double sd = std::max(kReport_pa, sheet.place.pressure.tolerance_si() / 1.96);
  return {sheet.place.pressure.value, sd * pascal, "the place of the sheet"};
}

}  // namespace fuelwright::advice
