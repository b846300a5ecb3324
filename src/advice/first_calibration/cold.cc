// Fuel of a cold engine: cranking, after the start, while it warms up.
#include <fmt/format.h>

#include <cmath>

#include "advice/first_calibration/fuel_vapour.h"
#include "advice/first_calibration/internal/making.h"
#include "car/build/derived.h"

namespace fuelwright::advice::internal {
namespace {

constexpr double kGasConstantAir = 287.05;  // J/(kg K)
// While cranking some two thirds of the vapour of equilibrium are reached, and a mixture burns from
// 0.8 of the stoichiometric vapour; the charge is some 10 K warmer than the walls by compression
// (from memory).
constexpr double kReached = 0.65;
constexpr double kBurnsFrom = 0.80;
constexpr double kWarmer_K = 10;
// Times stoichiometric; more wets the plugs and washes the bores (common practice, no source): 8 in
// deep cold, 3 at 20 degC, little when warm.
double most_cranking(double t_k) {
  return along_celsius(t_k, {{-20, 8.0}, {0, 5.0}, {20, 3.0}, {40, 2.0}, {80, 1.3}});
}

struct Blend {
  double stoichiometric;
  double alcohol;
};

Blend blend_of(const car::Sheet& sheet) {
  return {sheet.fuel.stoichiometric.si(), alcohol_share(sheet.fuel.name.value)};
}
constexpr Blend kPetrol{14.6, 0};
// Evaporating alcohol takes some four times the heat of petrol for the same air: what evaporates
// sees the charge that much colder (from memory).
constexpr double kAlcoholCools_K = 15;

double cranking_factor(const Making& m, const Blend& fuel, double t_k) {
  return fuel_for_vapour(kelvin(t_k + kWarmer_K - fuel.alcohol * kAlcoholCools_K), m.air.ambient,
                         fuel.stoichiometric, fuel.alcohol, kBurnsFrom / kReached,
                         most_cranking(t_k));
}

// Fuel over the stoichiometric amount so that the vapour alone has `phi` at idle pressure.
double running_fuel(const Making& m, const Blend& fuel, double t_k, double phi) {
  constexpr double kMostRunning = 4;
  return fuel_for_vapour(kelvin(t_k - fuel.alcohol * kAlcoholCools_K), m.air.idle_map,
                         fuel.stoichiometric, fuel.alcohol, phi, kMostRunning);
}

// Extra share of fuel so that all that is needed is vapour.
double running_need(const Making& m, const Blend& fuel, double t_k) {
  return running_fuel(m, fuel, t_k, 1.0) - 1;
}

// What petrol engines are given (common practice, no source): 60-80 % at -20 degC, 30-40 at 0,
// 15-20 at 20, none above 70-80; lines between.
double within_practice(double need, double t_k) {
  const double low = along_celsius(
      t_k, {{-30, 0.70}, {-20, 0.60}, {0, 0.30}, {20, 0.15}, {40, 0.05}, {60, 0.00}, {75, 0}});
  const double high = along_celsius(
      t_k, {{-30, 0.90}, {-20, 0.80}, {0, 0.40}, {20, 0.20}, {40, 0.11}, {60, 0.04}, {75, 0}});
  return std::clamp(need, low, high);
}

// A blend needs more than petrol by the ratio of what must be injected for the same vapour; at the
// coolant points, and never less in the cold: where both reach their limit the ratio says nothing.
std::vector<double> blend_ratios(const Making& m) {
  constexpr double kMostRatio = 1.8;
  constexpr double kCompared = 0.7;  // vapour at which they are compared; the rest goes in as drops
  std::vector<double> out;
  for (const double t : coolant_points()) {
    const double own = running_fuel(m, blend_of(m.sheet), t, kCompared);
    const double petrol = running_fuel(m, kPetrol, t, kCompared);
    out.push_back(std::clamp(own / petrol, 1.0, kMostRatio));
  }
  for (std::size_t i = out.size() - 1; i-- > 0;) out[i] = std::max(out[i], out[i + 1]);
  return out;
}

double cranking_air(const Making& m, double t_k) {
  constexpr double kCrankingVe = 0.75;  // slow, throttle open a little (common practice, no source)
  return kCrankingVe * m.ambient_pa() * car::cylinder_volume(m.sheet).si / (kGasConstantAir * t_k);
}

void make_cranking(Making& m) {
  const Blend fuel = blend_of(m.sheet);
  std::vector<double> values;
  double too_cold = -300;
  for (const double t : coolant_points()) {
    const double factor = cranking_factor(m, fuel, t);
    if (factor >= most_cranking(t)) too_cold = t - kZeroCelsius_K;
    values.push_back(factor * cranking_air(m, t) / fuel.stoichiometric);  // (first.12)
  }
  m.put(car::CurveWhat::cranking_fuel, coolant_points(), values,
        fmt::format(
            "enough that the share of {} that is vapour by then can burn: {:.1f} times "
            "stoichiometric at 20 degC, {:.1f} at -20; never more than {:.0f} and {:.0f} times "
            "there, which would only wet the plugs.",
            m.sheet.fuel.name.value, cranking_factor(m, fuel, celsius(20).from_zero.si),
            cranking_factor(m, fuel, celsius(-20).from_zero.si),
            most_cranking(celsius(20).from_zero.si), most_cranking(celsius(-20).from_zero.si)));
  if (too_cold > -25) {
    m.caution(
        fmt::format("{} gives too little vapour to be sure of a start at {:.0f} degC and "
                    "below; more cranking fuel would only wet the plugs.",
                    m.sheet.fuel.name.value, too_cold));
  }
}

void make_warm_up(Making& m) {
  const std::vector<double> ratio = blend_ratios(m);
  std::vector<double> values;
  for (std::size_t i = 0; i < coolant_points().size(); ++i) {
    const double t = coolant_points()[i];
    const double petrol = within_practice(std::max(0.0, running_need(m, kPetrol, t)), t);
    const double extra = (1 + petrol) * ratio[i] - 1;  // (first.13)
    values.push_back(extra < 1e-6 ? 0 : extra);
  }
  const double need = running_need(m, kPetrol, celsius(0).from_zero.si);
  std::string reason = fmt::format(
      "what does not evaporate at idle pressure ({:+.0f} % at 0 degC for petrol), kept within what "
      "is usual: 60-80 % at -20 degC, 30-40 at 0, 15-20 at 20, none from 75 (common practice, no "
      "source)",
      100 * need);
  if (blend_of(m.sheet).alcohol > 0) {
    reason += fmt::format("; times {:.2f} at 0 degC for {}", ratio[3], m.sheet.fuel.name.value);
  }
  m.put(car::CurveWhat::warm_up_fuel, coolant_points(), values, reason + ".");
}

void make_after_start(Making& m) {
  const std::vector<double> ratio = blend_ratios(m);
  std::vector<double> share;
  std::vector<double> time;
  for (std::size_t i = 0; i < coolant_points().size(); ++i) {
    const double t = coolant_points()[i];
    const double petrol =
        along_celsius(t, {{-30, 0.40}, {-20, 0.40}, {0, 0.34}, {20, 0.29}, {90, 0.20}});
    share.push_back((1 + petrol) * std::pow(ratio[i], 0.25) - 1);
    time.push_back(along_celsius(t, {{-30, 60}, {-20, 55}, {0, 40}, {20, 28}, {90, 10}}));
  }
  m.put(car::CurveWhat::after_start_fuel, coolant_points(), share,
        "the walls of the ports are still to be wetted: 20-40 % (common practice, no source), more "
        "with alcohol in the fuel.");
  m.put(car::CurveWhat::after_start_time, coolant_points(), time,
        "fades in 10 s warm to 60 s in the cold (common practice, no source).");
}

}  // namespace

void make_cold(Making& m) {
  make_cranking(m);
  make_after_start(m);
  make_warm_up(m);
  m.put(car::SettingWhat::flood_clear_throttle, 0.80,
        "the pedal on the floor while cranking dries wet plugs (common practice, no source).");
}

}  // namespace fuelwright::advice::internal
