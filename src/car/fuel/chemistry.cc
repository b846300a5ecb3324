#include "car/fuel/chemistry.h"

#include <fmt/format.h>

#include <cmath>

namespace fuelwright::car {
namespace {

constexpr double kShareSlack = 1e-6;  // rounding of shares typed with six decimals

}  // namespace

Composition from_formula(double c, double h, double o) {
  EXPECTS(c >= 0 && h >= 0 && o >= 0 && c + h > 0);
  const double carbon = c * kCarbon_g_mol;
  const double hydrogen = h * kHydrogen_g_mol;
  const double oxygen = o * kOxygen_g_mol;
  const double all = carbon + hydrogen + oxygen;
  return {carbon / all, hydrogen / all, oxygen / all};
}

double hydrogen_per_carbon(const Composition& fuel) {
  EXPECTS(fuel.carbon > 0);
  return fuel.hydrogen / kHydrogen_g_mol / (fuel.carbon / kCarbon_g_mol);
}

double oxygen_per_carbon(const Composition& fuel) {
  EXPECTS(fuel.carbon > 0);
  return fuel.oxygen / kOxygen_g_mol / (fuel.carbon / kCarbon_g_mol);
}

Result<double> stoichiometric_afr(const Composition& fuel, const AirConvention& air) {
  EXPECTS(air.oxygen_share > 0 && air.oxygen_share <= 1 && air.molar_mass_g_mol > 0);
  const double sum = fuel.carbon + fuel.hydrogen + fuel.oxygen;
  const bool negative = fuel.carbon < 0 || fuel.hydrogen < 0 || fuel.oxygen < 0;
  if (negative || !(std::abs(sum - 1.0) <= kShareSlack)) {
    return Error{
        ErrorCode::out_of_range, "composition",
        fmt::format("came C {} H {} O {} by mass, expected shares of 0 or more that add up to 1",
                    fuel.carbon, fuel.hydrogen, fuel.oxygen)};
  }
  const double oxygen_mol_per_g = fuel.carbon / kCarbon_g_mol +
                                  fuel.hydrogen / (4 * kHydrogen_g_mol) -
                                  fuel.oxygen / (2 * kOxygen_g_mol);
  if (!(oxygen_mol_per_g > 0)) {
    return Error{ErrorCode::out_of_range, "composition",
                 fmt::format("came C {} H {} O {} by mass, which carries more oxygen than it needs",
                             fuel.carbon, fuel.hydrogen, fuel.oxygen)};
  }
  return oxygen_mol_per_g / air.oxygen_share * air.molar_mass_g_mol;  // (fuel.1)
}

}  // namespace fuelwright::car
