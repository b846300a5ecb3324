/// What stands between the injectors and the reading, as nine numbers (forward.h says how).
#pragma once

#include <array>

#include "advice/map_estimate/dilution.h"
#include "car/build/sheet.h"

namespace fuelwright::advice {

/// Delay beyond the gas [s], ln of the gas before the sensor [kg], ln of the sensor's lag [s], share
/// of the quick film [-], ln of its time [s], the shares' growth with ln(MAP/50 kPa) and per 20 K
/// below 90 degC [-], share of the slow film [-], ln of its time [s].
enum ThetaAt {
  kDelay,
  kLnGas,
  kLnLag,
  kFilm,
  kLnTau,
  kFilmMap,
  kFilmCold,
  kSlowFilm,
  kLnSlowTau,
  kThetas
};
using Theta = std::array<double, kThetas>;

/// What a sensor adds to ln lambda, each one factor on a column of its own (dynamic.10): lean
/// reading of an idle with overlap and dilution; gain error; more gain per 100 kPa of exhaust
/// pressure; half the difference of the two banks.
enum BesideAt { kIdleLean, kGain, kPressureGain, kBankHalf, kBesides };
using Beside = std::array<double, kBesides>;

/// Theta and what the sensor adds before driving, means and standard deviations.
struct DynamicsPrior {
  Theta mean{};
  Theta sd{};
  Beside beside = {0.005, 0, 0.3, 0};
  Beside beside_sd = {0.010, 0.015, 0.15, 0.008};
  Dilution dilution;
  double film_discrepancy = 0;  ///< what two films do not explain of a wet manifold, ln at a node
  /// By arrangement of the injectors, pipe volume to the sensor and overlap of the cam. Figures
  /// from memory, wide.
  static DynamicsPrior of(const car::Sheet& sheet);
};

/// Exhaust gas between valves and sensor [kg], from the sheet: half the primaries' volume and the
/// collector's pipe up to the sensor, gas at 0.4 kg/m3 (850 K, common practice, no source).
Mass exhaust_before_sensor(const car::Sheet& sheet);

}  // namespace fuelwright::advice
