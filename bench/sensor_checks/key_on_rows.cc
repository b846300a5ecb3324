#include "key_on_rows.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <random>

#include "base/contract.h"

namespace fuelwright::bench {
namespace {

// Sound sensors: 1 sd of their standing errors.
constexpr double kMapError_pa = 300, kThermistor_k = 0.8, kBattery_v = 0.08, kRailSensor_pa = 3e3;
constexpr double kHotBlock_k = 60, kCooling_h = 1.3;

}  // namespace

signals::Recording key_on_rows(const GarageCar& car, const AtRest& what, std::uint64_t seed) {
  std::mt19937_64 g(seed * 31 + car.seed);
  const auto n = [&] { return std::normal_distribution<>()(g); };
  const double ambient = car.truth.weather.ambient.from_zero.si;
  const double air = car.truth.weather.air.from_zero.si;
  const double map_error = kMapError_pa * n();
  const double coolant_error = kThermistor_k * n();
  const double intake_error = kThermistor_k * n();
  const double volts = 12.6 + kBattery_v * n() + what.battery_off_v;
  const double rail_set = car.truth.fuel.regulator.si + kRailSensor_pa * n() + what.rail_off_pa;
  const double soak = kHotBlock_k * std::exp(-what.stood_h / kCooling_h);
  std::string csv =
      "Time (s),RPM,MAP (kPa),Throttle (%),Coolant (degC),Intake air (degC),AFR,Battery (V),Fuel "
      "pressure (kPa gauge)\n";
  for (int i = 0; i < 800; ++i) {
    const double t = 0.05 * i;
    const double press = std::clamp(std::min((t - 15) / 2, (21 - t) / 2), 0.0, 1.0);
    double throttle = what.throttle_closed + press * (what.throttle_open - what.throttle_closed);
    if (press > 0.4 && press < 0.6) throttle += what.track_leap;
    const double warm = std::clamp((t - 4) / 3, 0.0, 1.0);
    const double lambda = std::min(0.68 + warm * 5, 1 + what.free_air_gain * (5 - 1.0));
    double shown = std::min({lambda, what.gauge_end, 1 + what.free_air_gain * 0.6});
    if (what.free_air_gain < 1) shown *= 1 + 0.004 * n();
    const double off = std::max(t - 3, 0.0);
    const double rail = std::clamp(t / 0.6, 0.0, 1.0) * (rail_set - 2e3 * std::min(off / 10, 3.0)) -
                        std::min(what.rail_lost_pa * off / 10, 0.97 * rail_set);
    csv += fmt::format("{:.2f},0,{:.1f},{:.1f},{:.1f},{:.1f},{:.2f},{:.2f},{:.0f}\n", t,
                       (ambient + map_error + what.map_off_pa + 80 * n()) / 1e3, 100 * throttle,
                       air - 273.15 + soak + coolant_error + what.coolant_off_k + 0.03 * n(),
                       air - 273.15 + 0.08 * soak + intake_error + what.intake_off_k + 0.03 * n(),
                       14.7 * shown, volts - (t < 3 ? 0.25 : 0.0) + 0.01 * n(),
                       std::max(rail, 0.0) / 1e3);
  }
  signals::Answers answers;
  answers.afr_constant = 14.7;
  for (const char* one : {"Throttle=throttle:%", "RPM=rpm:rpm", "MAP=map:kPa",
                          "Coolant=coolant:degC", "Intake air=intake_air:degC", "Battery=battery:V",
                          "Fuel pressure=fuel_pressure:kPa gauge"}) {
    EXPECTS(signals::add_channel_answer(answers, one).ok());
  }
  auto r = signals::read_recording(csv, "key_on.csv", answers);
  if (!r.ok()) fmt::print(stderr, "{}\n", r.error().line());
  EXPECTS(r.ok());
  return std::move(*r);
}

}  // namespace fuelwright::bench
