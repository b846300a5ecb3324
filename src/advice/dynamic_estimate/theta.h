/// What stands between the injectors and the reading, as seven numbers (forward.h says how).
#pragma once

#include <array>

#include "car/build/sheet.h"

namespace fuelwright::advice {

/// Delay beyond the gas [s], ln of the gas before the sensor [kg], ln of the sensor's lag [s], film
/// share [-], ln of its time [s], the share's growth per 50 kPa above 50 kPa and per 20 K below
/// 90 degC [-].
enum ThetaAt { kDelay, kLnGas, kLnLag, kFilm, kLnTau, kFilmMap, kFilmCold, kThetas };
using Theta = std::array<double, kThetas>;

/// Theta before driving, means and standard deviations; and the lean reading of an idle with
/// overlap and dilution, ln, which is the sensor's and not the table's.
struct DynamicsPrior {
  Theta mean{};
  Theta sd{};
  double idle_bias = 0.015;
  double idle_bias_sd = 0.020;
  /// By arrangement of the injectors, pipe volume to the sensor and overlap of the cam. Figures
  /// from memory, wide.
  static DynamicsPrior of(const car::Sheet& sheet);
};

/// Exhaust gas between valves and sensor [kg], from the sheet: half the primaries' volume and the
/// collector's pipe up to the sensor, gas at 0.4 kg/m3 (850 K, common practice, no source).
Mass exhaust_before_sensor(const car::Sheet& sheet);

}  // namespace fuelwright::advice
