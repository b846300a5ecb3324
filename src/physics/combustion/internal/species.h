/// The ten gases that count in a spark-ignition engine: their heat, entropy and elements.
///
/// NASA seven-coefficient polynomials, below and above 1000 K, as in the common combustion
/// mechanisms (from memory; gas_test.cc checks formation enthalpies and equilibrium constants
/// against textbook tables).
#pragma once

#include <array>

namespace fuelwright::physics::gas {

inline constexpr double kGasConstant = 8.314462618;  ///< [J/(mol K)], SI, exact to the digits

enum Species { kCO2, kH2O, kN2, kO2, kCO, kH2, kOH, kO, kH, kNO, kSpecies };
enum Element { kCarbon, kHydrogen, kOxygen, kNitrogen, kElements };

/// Amounts per kilogram of gas [mol/kg].
using Moles = std::array<double, kSpecies>;
using Elements = std::array<double, kElements>;

/// Atoms of each element in each species.
extern const std::array<std::array<int, kElements>, kSpecies> kAtoms;

/// Molar enthalpy with the elements at 298.15 K as zero [J/mol], heat capacity [J/(mol K)] and
/// standard Gibbs energy over RT [-] at t_k, 200..5000 K.
double enthalpy(Species s, double t_k);
double heat_capacity(Species s, double t_k);
double gibbs_over_rt(Species s, double t_k);

/// Equilibrium of the elements at temperature and pressure.                      (combustion.2)
///
///   p_i = p0 exp(-g_i/RT + sum_j a_ij lambda_j),   sum_i a_ij n_i = b_j,   sum_i p_i = p
///
/// b: elements [mol/kg]; t_k 1500..4200 K, p_pa above 0. `start` holds the last solution's
/// element potentials and is updated; pass a default one first. Newton in logarithms; false if it
/// does not settle in 200 steps (no case known).
struct Potentials {
  std::array<double, kElements> per_element{};
  double log_moles = 0;
  bool known = false;
};
bool equilibrium(const Elements& b, double t_k, double p_pa, Potentials& start, Moles& moles);

}  // namespace fuelwright::physics::gas
