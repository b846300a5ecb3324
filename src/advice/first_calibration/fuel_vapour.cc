#include "advice/first_calibration/fuel_vapour.h"

#include <algorithm>
#include <array>
#include <cmath>

#include "base/contract.h"

namespace fuelwright::advice {
namespace {

struct Component {
  double mass_share;  // of petrol
  double boiling_k;   // at 1 atm
  double molar_g;     // [g/mol]
  double heat;        // k of (first.2): heat of evaporation at 25 degC over R times boiling_k
};
// Summer petrol as butane, pentanes, hexanes, heptanes, toluene, xylenes, C9 to C10, C11 and above:
// a tenth boils by about 50, half by 100, nine tenths by 165 degC (from memory).
constexpr std::array<Component, 9> kFuel{{{0.04, 272.7, 58, 9.9},
                                          {0.16, 303.0, 72, 10.2},
                                          {0.16, 338.0, 86, 11.0},
                                          {0.20, 371.0, 100, 11.6},
                                          {0.16, 384.0, 92, 11.9},
                                          {0.14, 412.0, 106, 12.5},
                                          {0.09, 443.0, 130, 13.5},
                                          {0.05, 475.0, 150, 14.5},
                                          {0.0, 351.4, 46.07, 14.5}}};  // ethanol
constexpr std::size_t kEthanol = 8;
constexpr double kMargules = 1.5;
constexpr double kAtm_Pa = 101325;
constexpr double kAirMolar_g = 28.96;

using Moles = std::array<double, kFuel.size()>;

Moles moles_per_kg(double ethanol_volume) {
  const double e = ethanol_volume * 789;
  const double petrol = (1 - ethanol_volume) * 745;
  Moles out{};
  for (std::size_t i = 0; i < kFuel.size(); ++i) {
    const double share =
        i == kEthanol ? e / (e + petrol) : kFuel[i].mass_share * petrol / (e + petrol);
    out[i] = 1000 * share / kFuel[i].molar_g;
  }
  return out;
}

// Vapour pressure over total pressure, with the activity of an ethanol share x_e. (first.2,
// first.3)
Moles volatility(double t, double p, double x_e) {
  Moles out{};
  for (std::size_t i = 0; i < kFuel.size(); ++i) {
    const double other = i == kEthanol ? 1 - x_e : x_e;
    const double gamma = std::exp(kMargules * other * other);
    out[i] = gamma * kAtm_Pa / p * std::exp(kFuel[i].heat * (1 - kFuel[i].boiling_k / t));
  }
  return out;
}

struct Split {
  double liquid = 0;  // moles
  Moles left{};       // of each that are liquid
};

// Moles that stay liquid when `total` moles of gas stand over them: n_i L/(L + K_i G).
Split split(const Moles& fuel, const Moles& k, double air) {
  double low = 0;
  double high = 0;
  double all = 0;
  for (const double n : fuel) all += n;
  high = all;
  Split out;
  for (int step = 0; step < 60; ++step) {
    out.liquid = 0.5 * (low + high);
    const double gas = air + all - out.liquid;
    double sum = 0;
    for (std::size_t i = 0; i < fuel.size(); ++i) {
      out.left[i] = fuel[i] * out.liquid / (out.liquid + k[i] * gas);
      sum += out.left[i];
    }
    (sum > out.liquid ? low : high) = out.liquid;
  }
  return out;
}

}  // namespace

double evaporated_share(Temperature t, AbsolutePressure p, double air_per_fuel,
                        double ethanol_volume) {
  EXPECTS(air_per_fuel > 0 && ethanol_volume >= 0 && ethanol_volume <= 1);
  const double t_k = std::clamp(t.from_zero.si, 230.0, 400.0);
  const double p_pa = std::max(p.from_zero.si, 5e3);
  const Moles fuel = moles_per_kg(ethanol_volume);
  const double air = 1000 * air_per_fuel / kAirMolar_g;
  double x_e = 0;
  Split s;
  double all = 0;
  for (const double n : fuel) all += n;
  x_e = fuel[kEthanol] / all;
  for (int round = 0; round < 12; ++round) {  // the liquid's ethanol share settles
    s = split(fuel, volatility(t_k, p_pa, x_e), air);
    if (s.liquid < 1e-9 * all) return 1;
    x_e = 0.5 * (x_e + s.left[kEthanol] / s.liquid);
  }
  double liquid_g = 0;
  for (std::size_t i = 0; i < fuel.size(); ++i) liquid_g += s.left[i] * kFuel[i].molar_g;
  return std::clamp(1 - liquid_g / 1000, 0.0, 1.0);
}

double fuel_for_vapour(Temperature t, AbsolutePressure p, double stoichiometric,
                       double ethanol_volume, double vapour_phi, double most) {
  const auto vapour = [&](double fuel) {
    return fuel * evaporated_share(t, p, stoichiometric / fuel, ethanol_volume);
  };
  if (vapour(most) < vapour_phi) return most;
  double low = vapour_phi;  // all of it vapour
  double high = most;
  for (int step = 0; step < 40; ++step) {
    const double middle = 0.5 * (low + high);
    (vapour(middle) < vapour_phi ? low : high) = middle;  // (first.4)
  }
  return high;
}

}  // namespace fuelwright::advice
