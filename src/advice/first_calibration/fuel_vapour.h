/// How much of a fuel is vapour in cold air: petrol as a few paraffins by boiling point, with
/// ethanol beside them.
///
///   ln(p_i/1 atm) = k_i (1 - T_i/T)                    Clausius and Clapeyron (first.2)
///   y_i p = gamma_i x_i p_i                            Raoult; gamma of ethanol        (first.3)
///
/// k_i: heat of evaporation at 25 degC over R T_i (9.9 butane, 11.9 toluene, 14.5 ethanol; from
/// memory), so that the line is right where an engine is cold. gamma by one constant of Margules
/// (A 1.5): a little ethanol in petrol is more volatile than it is alone. Petrol: a summer grade,
/// shares and boiling points from memory; a winter grade evaporates more, so this is the careful
/// side. Range: 230..400 K, 5..110 kPa.
#pragma once

#include "base/units/points.h"

namespace fuelwright::advice {

/// Share of the fuel's mass that is vapour in equilibrium with air [-], 0..1.
/// air_per_fuel: kg of air per kg of fuel, above 0. ethanol_volume: 0..1 of the liquid.
double evaporated_share(Temperature t, AbsolutePressure p, double air_per_fuel,
                        double ethanol_volume);

/// The fuel over the stoichiometric amount at which the vapour alone has `vapour_phi` times the
/// stoichiometric amount; at most `most`.                                            (first.4)
double fuel_for_vapour(Temperature t, AbsolutePressure p, double stoichiometric,
                       double ethanol_volume, double vapour_phi, double most);

}  // namespace fuelwright::advice
