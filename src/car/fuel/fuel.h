/// Fuels by name, and blends of them: petrol, E10, E85, E<n>, ethanol, methanol, M<n>.
///
///   Fuel e10 = *fuel_named("E10");
///   e10.stoichiometric_afr     14.014 (mass of air per mass of fuel)
///   e10.density                0.7494 kg/l
///
/// A fuel's own stoichiometric ratio turns air into fuel. It never turns a gauge's reading into
/// lambda: that is car/fuel/mixture.h.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "base/result.h"
#include "base/units/quantity.h"
#include "car/fuel/chemistry.h"

namespace fuelwright::car {

struct Fuel {
  std::string name;  ///< canonical: "petrol", "E10", "ethanol", "M15"
  Composition composition;
  Density density;                ///< liquid, 15..20 degC
  double stoichiometric_afr = 0;  ///< mass of air per mass of fuel [-]
  double stoichiometric_tolerance =
      0;                        ///< 95 % half-width: what the same name means from pump to pump [-]
  double octane_ron = 0;        ///< research octane number, typical
  double octane_tolerance = 0;  ///< 95 % half-width

  friend bool operator==(const Fuel&, const Fuel&) = default;
};

/// Mean petrol without ethanol: CH1.87, 0.745 kg/l (common practice, no source).
const Fuel& petrol();
/// C2H5OH, 0.789 kg/l at 20 degC (from memory).
const Fuel& ethanol();
/// CH3OH, 0.792 kg/l at 20 degC (from memory).
const Fuel& methanol();

struct Part {
  Fuel fuel;
  double share = 0;  ///< of the volume or of the mass, 0..1
};

/// Mixture of fuels by mass: elements, and so the stoichiometric ratio, add by mass; volumes add
/// without shrinkage.
///
///   AFR_st = sum w_i AFR_i          1/rho = sum w_i / rho_i                            (fuel.2)
///
/// Limits: the excess volume of ethanol in petrol is below 0.3 % (from memory) and is left out.
/// Octane is blended by moles, tolerances by mass; an octane number blended so is a guide, no
/// rating. Errors: out_of_range if a share is negative or the shares do not add up to 1 within
/// 1e-6.
Result<Fuel> blend_by_mass(std::string name, const std::vector<Part>& parts);

/// Mixture of fuels by volume, as pumps name them (E10: 10 % ethanol by volume).
///
///   w_i = v_i rho_i / sum v_j rho_j, then (fuel.2)                                     (fuel.3)
Result<Fuel> blend_by_volume(std::string name, const std::vector<Part>& parts);

/// The fuel that a person names: "petrol", "gasoline", "E0".."E100", "ethanol", "M0".."M100",
/// "methanol"; case and blanks do not matter. E<n> and M<n> are n % by volume in petrol. Errors:
/// bad_input for an unknown name, with the nearest known one; out_of_range for a share above 100 %.
Result<Fuel> fuel_named(std::string_view name);

/// "petrol, E10, E85, E<percent>, ...", for messages.
const char* fuel_names();

}  // namespace fuelwright::car
