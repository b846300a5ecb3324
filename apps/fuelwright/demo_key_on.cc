// The demo's car before it is started: key on, engine standing, after a night outside. The pump
// primes, the mixture sensor warms up in free air, somebody treads the pedal once.
#include <fmt/format.h>

#include <algorithm>
#include <random>

#include "demo_car.h"

namespace fuelwright::apps {
namespace {

constexpr double kLasts_s = 40, kPrimes_s = 2, kSensorWakes_s = 9, kSensorWarm_s = 3;
constexpr double kTread_s = 15, kTrodden_s = 21, kPedal_s = 2;
constexpr double kFalls_pa_s = 150;       // of rail pressure, the pump off: a tight check valve
constexpr double kThermistor_k = 0.7;     // one standard deviation (common practice, no source)
constexpr double kRested_v = 12.6, kPump_v = 0.25;
constexpr double kClosed = 0.0, kOpen = 1.0;  // as the unit shows it after its own learning

}  // namespace

std::string DemoCar::standing(std::uint64_t seed) const {
  std::mt19937_64 random(seed);
  const auto noise = [&](double sd) { return sd * std::normal_distribution<>()(random); };
  const double rows = truth_.recorder.rows_per_second;
  const double air_degc = truth_.weather.air.from_zero.si - 273.15;
  const double coolant = air_degc + noise(kThermistor_k), intake = air_degc + noise(kThermistor_k);
  const auto fahrenheit = [](double degc) { return 32 + 1.8 * degc; };
  std::string csv =
      "Time (s),RPM,MAP (kPa),Throttle (%),Coolant (degF),Intake air (degF),AFR,Battery (V),"
      "Fuel pressure (kPa)\n";
  for (int i = 0; i < static_cast<int>(kLasts_s * rows); ++i) {
    const double t = i / rows;
    const double tread =
        std::clamp(std::min((t - kTread_s) / kPedal_s, (kTrodden_s - t) / kPedal_s), 0.0, 1.0);
    const double awake = std::clamp((t - kSensorWakes_s) / kSensorWarm_s, 0.0, 1.0);
    const double lambda =
        truth_.sensor.richest + awake * (truth_.sensor.leanest - truth_.sensor.richest);
    const double rail = std::clamp(t / 0.6, 0.0, 1.0) * truth_.fuel.regulator.si -
                        kFalls_pa_s * std::max(0.0, t - kPrimes_s);
    csv += fmt::format("{:.2f},0,{:.1f},{:.1f},{:.1f},{:.1f},{:.2f},{:.2f},{:.0f}\n", t,
                       (truth_.weather.ambient.from_zero.si +
                        noise(truth_.recorder.map_noise.si)) / 1e3,
                       100 * (kClosed + tread * (kOpen - kClosed)),
                       fahrenheit(coolant + noise(0.03)), fahrenheit(intake + noise(0.03)),
                       truth_.sensor.gauge_constant * lambda,
                       kRested_v - (t < kPrimes_s ? kPump_v : 0) + noise(0.01), rail / 1e3);
  }
  return csv;
}

}  // namespace fuelwright::apps
