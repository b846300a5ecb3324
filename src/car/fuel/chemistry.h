/// Stoichiometry: how much air a fuel of carbon, hydrogen and oxygen needs to burn completely.
///
///   C_c H_h O_o + (c + h/4 - o/2) O2  ->  c CO2 + h/2 H2O
///   AFR_st = (c + h/4 - o/2) / x_O2 * M_air / M_fuel                                  (fuel.1)
///
/// One air convention is used everywhere: dry air with 20.946 % oxygen by volume and 28.9647 g/mol.
/// A book that takes 20.9 %, 21 % or "O2 + 3.76 N2" prints values up to 0.8 % away. Theory:
/// docs/theory/fuel.md.
#pragma once

#include "base/result.h"

namespace fuelwright::car {

/// Dry air, as (fuel.1) needs it.
struct AirConvention {
  double oxygen_share;      ///< of the volume (or moles) [-]
  double molar_mass_g_mol;  ///< [g/mol]
};
/// U.S. Standard Atmosphere 1976: 20.946 % (0.20946) oxygen, 28.9647 g/mol (the
/// atmosphere's 28.9644 with today's carbon dioxide; from memory).
inline constexpr AirConvention kAir{0.20946, 28.9647};

/// Atomic masses [g/mol], IUPAC abridged values.
inline constexpr double kCarbon_g_mol = 12.011;
inline constexpr double kHydrogen_g_mol = 1.008;
inline constexpr double kOxygen_g_mol = 15.999;

/// A fuel's elements by mass; the three shares add up to 1. Mass shares, because blends add by
/// mass.
struct Composition {
  double carbon = 0;
  double hydrogen = 0;
  double oxygen = 0;

  friend bool operator==(const Composition&, const Composition&) = default;
};

/// Mass shares of a molecule C_c H_h O_o (petrol as a mean molecule: c 1, h 1.87, o 0).
/// Needs c > 0 or h > 0, none negative; otherwise a broken contract.
Composition from_formula(double c, double h, double o);

/// Hydrogen and oxygen atoms per carbon atom, for people ("CH1.87O0.02").
double hydrogen_per_carbon(const Composition& fuel);
double oxygen_per_carbon(const Composition& fuel);

/// Mass of air per mass of fuel for complete combustion [-], (fuel.1) written for mass shares:
///
///   AFR_st = (C/M_C + H/(4 M_H) - O/(2 M_O)) * M_air / x_O2
///
/// Errors: out_of_range if a share is negative or not finite, the shares do not add up to 1 within
/// 1e-6, or the fuel carries more oxygen than it needs. Source: balance of elements;
/// isooctane 15.132, ethanol 9.005 checked in chemistry_test.cc.
Result<double> stoichiometric_afr(const Composition& fuel, const AirConvention& air = kAir);

}  // namespace fuelwright::car
