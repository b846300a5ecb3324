#include "sim/virtual_car/internal/parameters.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <numbers>
#include <type_traits>

#include "car/build/derived.h"
#include "sim/virtual_car/internal/random.h"

namespace fuelwright::sim::virtual_car {
namespace {

// Values without a sheet behind them are from general knowledge of such cars (from memory, no
// source); the second number is what nineteen of twenty cars lie within.

using Sheet = car::Sheet;

template <class T>
double si_of(const T& value) {
  if constexpr (std::is_same_v<T, bool>) {
    return value ? 1 : 0;
  } else {
    return car::Si<T>::of(value);
  }
}

template <auto Part, auto Member>
double get(const Truth& t) {
  return si_of((t.*Part).*Member);
}

template <auto Part, auto Member>
void set(Truth& t, double si) {
  using T = std::remove_cvref_t<decltype((t.*Part).*Member)>;
  if constexpr (std::is_same_v<T, bool>) {
    (t.*Part).*Member = si > 0.5;
  } else {
    (t.*Part).*Member = car::Si<T>::make(si);
  }
}

struct As {
  double unit = 1;
  double zero = 0;
};
struct Within {
  double lowest, highest;
};

template <auto Part, auto Member>
constexpr Parameter number(const char* section, const char* key, As as, Within w,
                           Typical (*typical)(const Sheet&), bool as_factor = false) {
  using T = std::remove_cvref_t<decltype((std::declval<Truth&>().*Part).*Member)>;
  return {section,
          key,
          as.unit,
          as.zero,
          w.lowest,
          w.highest,
          std::is_same_v<T, int> || std::is_same_v<T, bool>,
          get<Part, Member>,
          set<Part, Member>,
          typical,
          as_factor};
}

template <class T>
Typical known(const car::Known<T>& k) {
  return {k.si(), k.tolerance_si()};
}

double litres(const Sheet& s) { return s.engine.displacement.value.in(litre); }
bool wet(const Sheet& s) {
  return s.injection.arrangement.value == car::InjectionArrangement::throttle;
}
// Air at full throttle near the rated speed [kg/s]: VE 0.9, 1.15 kg/m3.
double full_air(const Sheet& s) {
  return 0.9 * 1.15 * s.engine.displacement.value.si * s.wishes.rev_limit.value.rpm / 120;
}
double throttle_area(const Sheet& s) {
  const double d = s.intake.throttle_diameter.value.si;
  return 0.75 * s.intake.throttle_count.value * std::numbers::pi / 4 * d * d;
}
double stated_flow(const Sheet& s) {
  return s.injection.injector_flow.value.si *
         std::sqrt(s.fuel.density.value / s.injection.rated_density.value);
}

#define FIELD(part, type, member) number<&Truth::part, &type::member>
constexpr As kPlain{}, kSeconds{}, kMs{1e-3}, kKpa{1e3}, kGram{1e-3}, kGramPerS{1e-3},
    kCelsius{1, 273.15}, kMm2{1e-6};

constexpr auto kEngine = std::to_array<Parameter>({
    FIELD(engine, Engine, cylinders)("engine", "cylinders", kPlain, {1, 12},
        [](const Sheet& s) { return Typical{double(s.engine.cylinders.value)}; }),
    FIELD(engine, Engine, banks)("engine", "banks", kPlain, {1, 2},
        [](const Sheet& s) {
          // A sensor that is said to see all banks sits where they have met.
          const auto& sensors = s.sensors.mixture;
          const bool joined = !sensors.empty() && sensors[0].bank.value == 0;
          return Typical{joined ? 1.0 : double(std::min(s.engine.banks.value, 2))};
        }),
    FIELD(engine, Engine, displacement)("engine", "displacement_l", {1e-3}, {0.2, 15},
        [](const Sheet& s) { return known(s.engine.displacement); }),
    FIELD(engine, Engine, compression)("engine", "compression", kPlain, {4, 20},
        [](const Sheet& s) { return known(s.engine.compression); }),
    FIELD(engine, Engine, work)("engine", "work", kPlain, {0.5, 1.3},
        [](const Sheet&) { return Typical{1, 0.05}; }),
    FIELD(engine, Engine, friction)("engine", "friction", kPlain, {0.3, 3},
        [](const Sheet&) { return Typical{1, 0.15}; }),
    FIELD(engine, Engine, inertia)("engine", "inertia_kg_m2", kPlain, {0.01, 3},
        [](const Sheet& s) { return Typical{0.08 + 0.03 * litres(s), 0.3}; }, true),
    FIELD(engine, Engine, manifold)("engine", "manifold_l", {1e-3}, {0.1, 30},
        [](const Sheet& s) {
          const double d = s.intake.runner_diameter.value.si;
          const double runner = std::numbers::pi / 4 * d * d * s.intake.runner_length.value.si *
                                s.engine.cylinders.value;
          return Typical{s.intake.plenum_volume.value.si + runner, 0.2};
        }, true),
    FIELD(engine, Engine, throttle_open)("engine", "throttle_open_mm2", kMm2, {50, 1e5},
        [](const Sheet& s) { return Typical{throttle_area(s), 0.1}; }, true),
    FIELD(engine, Engine, throttle_shut)("engine", "throttle_shut_mm2", kMm2, {0, 500},
        [](const Sheet& s) { return Typical{kStopPerIdleArea * usual_idle_area_m2(s), 0.2}; }, true),
    FIELD(engine, Engine, idle_valve)("engine", "idle_valve_mm2", kMm2, {0, 2000},
        [](const Sheet& s) { return Typical{kIdleValvePerIdleArea * usual_idle_area_m2(s), 0.2}; }, true),
    FIELD(air, Air, level)("air", "level", kPlain, {0.5, 1.5},
        [](const Sheet&) { return Typical{1, 0.02}; }),
    FIELD(air, Air, heating)("air", "heating", kPlain, {0, 0.8},
        [](const Sheet& s) { return Typical{wet(s) ? 0.3 : 0.2, 0.1}; }),
    FIELD(air, Air, heating_flow)("air", "heating_flow_g_per_s", kGramPerS, {0.1, 500},
        [](const Sheet& s) { return Typical{0.25 * full_air(s), 0.4}; }, true),
});

constexpr auto kFuel = std::to_array<Parameter>({
    FIELD(fuel, Fuel, stoichiometric)("fuel", "stoichiometric", kPlain, {5, 20},
                                      [](const Sheet& s) { return known(s.fuel.stoichiometric); }),
    FIELD(fuel, Fuel, density)("fuel", "density_kg_per_m3", kPlain, {500, 1200},
                               [](const Sheet& s) { return Typical{s.fuel.density.value.si}; }),
    FIELD(fuel, Fuel, injectors)(
        "fuel", "injectors", kPlain, {1, 24},
        [](const Sheet& s) { return Typical{double(s.injection.injector_count.value)}; }),
    FIELD(fuel, Fuel, squirts_per_cycle)(
        "fuel", "squirts_per_cycle", kPlain, {0.25, 16},
        [](const Sheet& s) { return Typical{s.injection.squirts_per_cycle.value}; }),
    FIELD(fuel, Fuel, flow)(
        "fuel", "flow_g_per_s", kGramPerS, {0.05, 200},
        [](const Sheet& s) {
          const auto& q = s.injection.injector_flow;
          return Typical{stated_flow(s), std::max(q.tolerance_si() / q.si(), 0.02)};
        },
        true),
    FIELD(fuel, Fuel, flow_pressure)("fuel", "flow_pressure_kpa", kKpa, {20, 3000},
                                     [](const Sheet& s) {
                                       return Typical{s.injection.injector_pressure.value.si};
                                     }),
    FIELD(fuel, Fuel, dead_time)("fuel", "dead_time_ms", kMs, {0, 5},
                                 [](const Sheet& s) {
                                   const auto& d = s.injection.dead_time;
                                   const double below = 14 - s.injection.dead_time_voltage.value.si;
                                   return Typical{d.si() - 0.11e-3 * below,
                                                  std::clamp(d.tolerance_si(), 0.03e-3, 0.15e-3)};
                                 }),
    FIELD(fuel, Fuel, dead_time_per_volt)("fuel", "dead_time_per_volt_ms", kMs, {0, 1},
                                          [](const Sheet&) { return Typical{0.11e-3, 0.03e-3}; }),
    FIELD(fuel, Fuel, dead_time_curvature)("fuel", "dead_time_curvature", kPlain, {0, 0.5},
                                           [](const Sheet&) { return Typical{0.1, 0.05}; }),
    FIELD(fuel, Fuel, regulated_to_manifold)("fuel", "regulated_to_manifold", kPlain, {0, 1},
                                             [](const Sheet& s) {
                                               return Typical{
                                                   s.injection.regulator_reference.value ==
                                                           car::RegulatorReference::manifold
                                                       ? 1.0
                                                       : 0.0};
                                             }),
    FIELD(fuel, Fuel, regulator)("fuel", "regulator_kpa", kKpa, {20, 3000},
                                 [](const Sheet& s) {
                                   return Typical{
                                       s.injection.regulator_pressure.value.si,
                                       std::min(s.injection.regulator_pressure.tolerance_si(),
                                                0.04 * s.injection.regulator_pressure.value.si)};
                                 }),
    FIELD(fuel, Fuel, droop)("fuel", "droop", kPlain, {0, 0.3},
                             [](const Sheet&) { return Typical{0.01, 0.006}; }),
    FIELD(fuel, Fuel, pump_flow)(
        "fuel", "pump_flow_l_per_h", {1e-3 / 3600}, {1, 2000},
        [](const Sheet& s) { return Typical{s.injection.pump_flow.value.si, 0.08}; }, true),
    FIELD(fuel, Fuel, pump_pressure)("fuel", "pump_pressure_kpa", kKpa, {20, 3000},
                                     [](const Sheet& s) {
                                       return Typical{s.injection.pump_pressure.value.si};
                                     }),
    FIELD(fuel, Fuel, pump_slope)("fuel", "pump_slope", kPlain, {0.05, 3},
                                  [](const Sheet&) { return Typical{0.4, 0.15}; }),
    FIELD(film, Film, above_throttle)("film", "above_throttle", kPlain, {0, 1},
                                      [](const Sheet& s) { return Typical{wet(s) ? 1.0 : 0.0}; }),
    FIELD(film, Film, fast_share)(
        "film", "fast_share", kPlain, {0, 0.7},
        [](const Sheet& s) { return wet(s) ? Typical{0.30, 0.12} : Typical{0.20, 0.08}; }),
    FIELD(film, Film, slow_share)(
        "film", "slow_share", kPlain, {0, 0.6},
        [](const Sheet& s) { return wet(s) ? Typical{0.22, 0.10} : Typical{0.06, 0.04}; }),
    FIELD(film, Film, fast_time)(
        "film", "fast_time_s", kSeconds, {0.02, 10},
        [](const Sheet& s) { return Typical{wet(s) ? 0.7 : 0.35, 0.4}; }, true),
    FIELD(film, Film, slow_time)(
        "film", "slow_time_s", kSeconds, {0.05, 60},
        [](const Sheet& s) { return Typical{wet(s) ? 3.5 : 2.0, 0.5}; }, true),
    FIELD(film, Film, pressure_power)("film", "pressure_power", kPlain, {0, 2},
                                      [](const Sheet&) { return Typical{0.4, 0.2}; }),
    FIELD(film, Film, cold_growth)("film", "cold_growth", kPlain, {0, 2},
                                   [](const Sheet&) { return Typical{0.5, 0.2}; }),
    FIELD(film, Film, cold_loss)("film", "cold_loss", kPlain, {0, 0.5},
                                 [](const Sheet&) { return Typical{0.15, 0.05}; }),
});

constexpr auto kGas = std::to_array<Parameter>({
    FIELD(exhaust, Exhaust, pipe)(
        "exhaust", "pipe_g", kGram, {0, 50},
        [](const Sheet& s) {
          // To the sensor of one bank: primaries and pipe, hot gas of 0.45 kg/m3.
          const double far =
              s.sensors.mixture.empty() ? 0.9 : s.sensors.mixture[0].distance.value.si;
          const double area =
              0.7 * std::numbers::pi / 4 * std::pow(s.exhaust.collector_diameter.value.si, 2);
          return Typical{0.45 * area * std::clamp(far, 0.2, 4.0) + 0.05e-3 * litres(s), 0.35};
        },
        true),
    FIELD(exhaust, Exhaust, mixing)(
        "exhaust", "mixing_g", kGram, {0, 20},
        [](const Sheet& s) { return Typical{0.06e-3 * litres(s), 0.5}; }, true),
    FIELD(exhaust, Exhaust, revolutions)("exhaust", "revolutions", kPlain, {0, 6},
                                         [](const Sheet&) { return Typical{1.75, 0.25}; }),
    FIELD(exhaust, Exhaust, back_pressure)(
        "exhaust", "back_pressure_kpa", kKpa, {0, 100},
        [](const Sheet& s) { return Typical{s.exhaust.back_pressure.value.above_ambient.si, 0.3}; },
        true),
    FIELD(exhaust, Exhaust, back_pressure_flow)(
        "exhaust", "back_pressure_flow_g_per_s", kGramPerS, {1, 3000},
        [](const Sheet& s) { return Typical{full_air(s)}; }),
    FIELD(sensor, Sensor, fitted)("sensor", "fitted", kPlain, {0, 2},
                                  [](const Sheet& s) {
                                    return Typical{double(
                                        std::clamp<std::size_t>(s.sensors.mixture.size(), 1, 2))};
                                  }),
    FIELD(sensor, Sensor, tip_delay)("sensor", "tip_delay_s", kSeconds, {0, 1},
                                     [](const Sheet&) { return Typical{0.035, 0.02}; }),
    FIELD(sensor, Sensor, lag)(
        "sensor", "lag_s", kSeconds, {0, 5}, [](const Sheet&) { return Typical{0.10, 0.3}; }, true),
    FIELD(sensor, Sensor, noise)("sensor", "noise", kPlain, {0, 0.2},
                                 [](const Sheet&) { return Typical{0.006, 0.002}; }),
    FIELD(sensor, Sensor, drift)("sensor", "drift", kPlain, {0, 0.2},
                                 [](const Sheet&) { return Typical{0.004, 0.002}; }),
    FIELD(sensor, Sensor, drift_time)(
        "sensor", "drift_time_s", kSeconds, {1, 10000},
        [](const Sheet&) { return Typical{150, 0.4}; }, true),
    FIELD(sensor, Sensor, gain)("sensor", "gain", kPlain, {0.5, 1.5},
                                [](const Sheet&) { return Typical{1, 0.03}; }),
    FIELD(sensor, Sensor, pressure_error)("sensor", "pressure_error", kPlain, {-1, 2},
                                          [](const Sheet&) { return Typical{0.25, 0.1}; }),
    FIELD(sensor, Sensor, dilution_limit)("sensor", "dilution_limit", kPlain, {0.1, 1},
                                          [](const Sheet&) { return Typical{0.42, 0.04}; }),
    FIELD(sensor, Sensor, dilution_width)("sensor", "dilution_width", kPlain, {0.002, 0.2},
                                          [](const Sheet&) { return Typical{0.025, 0.008}; }),
    FIELD(sensor, Sensor, misfire_seen)("sensor", "misfire_seen", kPlain, {0, 1},
                                        [](const Sheet&) { return Typical{0.6, 0.2}; }),
    FIELD(sensor, Sensor, misfires_per_minute)("sensor", "misfires_per_minute", kPlain, {0, 1000},
                                               [](const Sheet&) { return Typical{0.5, 0.4}; }),
    FIELD(sensor, Sensor, richest)("sensor", "richest_lambda", kPlain, {0.3, 0.9},
                                   [](const Sheet&) { return Typical{0.65}; }),
    FIELD(sensor, Sensor, leanest)("sensor", "leanest_lambda", kPlain, {1.1, 10},
                                   [](const Sheet&) { return Typical{1.55}; }),
    FIELD(sensor, Sensor, gauge_constant)("sensor", "gauge_constant", kPlain, {5, 20},
                                          [](const Sheet& s) {
                                            const bool stated = !s.sensors.mixture.empty();
                                            const auto scale =
                                                stated ? s.sensors.mixture[0].scale.value
                                                       : car::MixtureScale{};
                                            return Typical{scale.kind() == car::ScaleKind::afr
                                                               ? scale.constant()
                                                               : 14.7};
                                          }),
    FIELD(computer, Computer, update)("computer", "update_ms", kMs, {2.5, 200},
                                      [](const Sheet&) { return Typical{10e-3}; }),
    FIELD(computer, Computer, map_step)("computer", "map_step_kpa", kKpa, {0, 5},
                                        [](const Sheet&) { return Typical{100}; }),
    FIELD(computer, Computer, map_filter)(
        "computer", "map_filter_ms", kMs, {0, 500},
        [](const Sheet&) { return Typical{15e-3, 0.3}; }, true),
    FIELD(computer, Computer, rpm_step)("computer", "rpm_step", kPlain, {0, 100},
                                        [](const Sheet&) { return Typical{1}; }),
    FIELD(computer, Computer, pulse_step)("computer", "pulse_step_us", {1e-6}, {0, 500},
                                          [](const Sheet&) { return Typical{1e-6}; }),
    FIELD(computer, Computer, charge_mix)("computer", "charge_mix", kPlain, {0, 0.8},
                                          [](const Sheet&) { return Typical{0}; }),
    FIELD(computer, Computer, correction_gain)(
        "computer", "correction_gain", kPlain, {0, 1},
        [](const Sheet&) { return Typical{0.06, 0.3}; }, true),
    FIELD(computer, Computer, correction_step)("computer", "correction_step_s", kSeconds, {0.01, 5},
                                               [](const Sheet&) { return Typical{0.15}; }),
    FIELD(computer, Computer, correction_wait)("computer", "correction_wait_s", kSeconds, {0, 30},
                                               [](const Sheet&) { return Typical{0.8}; }),
    FIELD(computer, Computer, self_correction)("computer", "self_correction_per_min", kPlain,
                                               {0, 60}, [](const Sheet&) { return Typical{0}; }),
});

constexpr auto kRoad = std::to_array<Parameter>({
    FIELD(weather, Weather, ambient)(
        "weather", "ambient_kpa", kKpa, {40, 110},
        [](const Sheet& s) { return Typical{s.place.pressure.value.from_zero.si, 1.2e3}; }),
    FIELD(weather, Weather, air)(
        "weather", "air_degc", kCelsius, {-40, 55},
        [](const Sheet& s) { return Typical{s.place.temperature.value.from_zero.si, 10}; }),
    FIELD(weather, Weather, humidity)("weather", "humidity", kPlain, {0, 1},
                                      [](const Sheet&) { return Typical{0.5, 0.3}; }),
    FIELD(weather, Weather, heat_soak)("weather", "heat_soak_k", kPlain, {0, 80},
                                       [](const Sheet&) { return Typical{28, 10}; }),
    FIELD(vehicle, Vehicle, automatic)("vehicle", "automatic", kPlain, {0, 1},
                                       [](const Sheet&) { return Typical{0}; }),
    FIELD(vehicle, Vehicle, mass)("vehicle", "mass_kg", kPlain, {200, 10000},
                                  [](const Sheet& s) {
                                    return Typical{
                                        s.car.mass.si(),
                                        std::min(s.car.mass.tolerance_si(), 0.1 * s.car.mass.si())};
                                  }),
    FIELD(vehicle, Vehicle, drag_area)(
        "vehicle", "drag_area_m2", kPlain, {0.1, 6},
        [](const Sheet&
               s) { return Typical{s.car.drag.value * s.car.frontal_area.value.si, 0.08}; },
        true),
    FIELD(vehicle, Vehicle, rolling)(
        "vehicle", "rolling", kPlain, {0, 0.1},
        [](const Sheet& s) { return Typical{s.car.rolling_resistance.value, 0.002}; }),
    FIELD(vehicle, Vehicle, grade)("vehicle", "grade", kPlain, {-0.3, 0.3},
                                   [](const Sheet&) { return Typical{0}; }),
    FIELD(vehicle, Vehicle, hills)("vehicle", "hills", kPlain, {0, 0.1},
                                   [](const Sheet&) { return Typical{0.005, 0.003}; }),
    FIELD(vehicle, Vehicle, axle)("vehicle", "axle", kPlain, {1, 10},
                                  [](const Sheet& s) { return Typical{s.car.axle.value}; }),
    FIELD(vehicle, Vehicle, tyre_radius)(
        "vehicle", "tyre_radius_m", kPlain, {0.15, 0.8},
        [](const Sheet& s) { return Typical{s.car.tyre_radius.value.si, 0.01}; }, true),
    FIELD(vehicle, Vehicle, driveline)("vehicle", "driveline", kPlain, {0.5, 1},
                                       [](const Sheet&) { return Typical{0.92, 0.02}; }),
    FIELD(vehicle, Vehicle, stall)(
        "vehicle", "stall_rpm", kPlain, {800, 6000},
        [](const Sheet&) { return Typical{2000, 0.1}; }, true),
    FIELD(vehicle, Vehicle, shift)(
        "vehicle", "shift_s", kSeconds, {0.05, 3}, [](const Sheet&) { return Typical{0.45, 0.3}; },
        true),
    FIELD(vehicle, Vehicle, thermostat)("vehicle", "thermostat_degc", kCelsius, {40, 120},
                                        [](const Sheet&) { return Typical{363.15, 4}; }),
    FIELD(vehicle, Vehicle, warm_up)(
        "vehicle", "warm_up_s", kSeconds, {1, 3600}, [](const Sheet&) { return Typical{110, 0.2}; },
        true),
    FIELD(vehicle, Vehicle, coolant_at_start)(
        "vehicle", "coolant_at_start_degc", kCelsius, {-40, 115},
        [](const Sheet& s) { return Typical{s.place.temperature.value.from_zero.si}; }),
    FIELD(driver, Driver, reaction)(
        "driver", "reaction_s", kSeconds, {0.02, 3}, [](const Sheet&) { return Typical{0.2, 0.3}; },
        true),
    FIELD(driver, Driver, unsteadiness)("driver", "unsteadiness", kPlain, {0, 0.5},
                                        [](const Sheet&) { return Typical{0.05, 0.02}; }),
    FIELD(driver, Driver, eagerness)("driver", "eagerness_per_s", kPlain, {0.1, 3},
                                     [](const Sheet&) { return Typical{0.6, 0.15}; }),
    FIELD(recorder, Recorder, rows_per_second)("recorder", "rows_per_second", kPlain, {0.2, 100},
                                               [](const Sheet&) { return Typical{20}; }),
    FIELD(recorder, Recorder, jitter)("recorder", "jitter_ms", kMs, {0, 100},
                                      [](const Sheet&) { return Typical{0}; }),
    FIELD(recorder, Recorder, polled_in)("recorder", "polled_in_rows", kPlain, {1, 50},
                                         [](const Sheet&) { return Typical{1}; }),
    FIELD(recorder, Recorder, map_noise)("recorder", "map_noise_kpa", kKpa, {0, 5},
                                         [](const Sheet&) { return Typical{200, 100}; }),
});
#undef FIELD

constexpr double kMostHalfWidths = 1.28;
constexpr double kHalfWidth = 1.96;  // standard deviations

}  // namespace

std::span<const Parameter> all_parameters() {
  constexpr std::size_t n = kEngine.size() + kFuel.size() + kGas.size() + kRoad.size();
  static constexpr auto kAll = [] {
    std::array<Parameter, n> out{};
    auto at = std::copy(kEngine.begin(), kEngine.end(), out.begin());
    at = std::copy(kFuel.begin(), kFuel.end(), at);
    at = std::copy(kGas.begin(), kGas.end(), at);
    std::copy(kRoad.begin(), kRoad.end(), at);
    return out;
  }();
  return kAll;
}

double usual_idle_area_m2(const car::Sheet& sheet) { return 1.1e-6 * litres(sheet) * 1.6; }

double to_si(const Parameter& p, double shown) { return shown * p.unit + p.zero; }

std::string shown(const Parameter& p, double si) {
  const double value = (si - p.zero) / p.unit;
  for (int digits = 6; digits < 17; ++digits) {
    const std::string text = fmt::format("{:.{}g}", value, digits);
    double back = 0;
    std::from_chars(text.data(), text.data() + text.size(), back);
    if (to_si(p, back) == si) return text;
  }
  return fmt::format("{:.17g}", value);
}

double drawn(const Parameter& p, const car::Sheet& sheet, std::uint64_t seed) {
  const Typical typical = p.typical(sheet);
  Random random(seed, std::string(p.section) + "." + p.key);
  const double z = std::clamp(random.normal() / kHalfWidth, -kMostHalfWidths, kMostHalfWidths);
  const double si = p.as_factor ? typical.si * std::exp(z * typical.half_width)
                                : typical.si + z * typical.half_width;
  const double value = std::clamp((si - p.zero) / p.unit, p.lowest, p.highest);
  const std::string text = fmt::format("{:.6g}", value);
  double rounded = 0;
  std::from_chars(text.data(), text.data() + text.size(), rounded);
  return to_si(p, rounded);
}

}  // namespace fuelwright::sim::virtual_car
