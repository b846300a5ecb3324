// Builds the tables of fresh charge and burnt gas for one fuel and lambda (theory, section 1).
#include "physics/combustion/internal/gas.h"

#include <fmt/format.h>

#include <cmath>

#include "physics/combustion/combustion.h"

namespace fuelwright::physics {
namespace {

using namespace gas;

// Exhaust composition stops following equilibrium near here in the expansion (water-gas reaction;
// Heywood 1988, section 4.9, from memory).
constexpr double kFreezing_k = 1700;
constexpr double kFreezing_pa = 3e5;  // pressure at which exhaust left in the cylinder has frozen
constexpr double kZero_k = 298.15;
constexpr double kSmallest = 1e-9;  // mol/kg, so that a fuel without an element has a logarithm

// Petrol vapour, C8.26 H15.5, 114.8 g/mol (Heywood 1988, table 4.11, from memory): heat capacity
// in cal/(mol K) over t = T/1000. Used per mass for every fuel.
constexpr double kFuelMolar_kg = 0.1148, kCalorie_j = 4.184;
constexpr std::array<double, 5> kFuelCp{-24.078, 256.63, -201.68, 64.750, 0.5808};

double fuel_cp(double t_k) {
  const double t = t_k / 1000;
  return kCalorie_j / kFuelMolar_kg *
         (kFuelCp[0] + t * (kFuelCp[1] + t * (kFuelCp[2] + t * kFuelCp[3])) + kFuelCp[4] / (t * t));
}
double fuel_heat(double t_k) {  // from 298.15 K [J/kg]
  const auto whole = [](double t) {
    return kFuelCp[0] * t + kFuelCp[1] * t * t / 2 + kFuelCp[2] * t * t * t / 3 +
           kFuelCp[3] * t * t * t * t / 4 - kFuelCp[4] / t;
  };
  return kCalorie_j / kFuelMolar_kg * 1000 * (whole(t_k / 1000) - whole(kZero_k / 1000));
}

/// Atoms per kilogram of fuel [mol/kg].
Elements fuel_elements(const car::Composition& c) {
  return {c.carbon * 1000 / car::kCarbon_g_mol, c.hydrogen * 1000 / car::kHydrogen_g_mol,
          c.oxygen * 1000 / car::kOxygen_g_mol, 0};
}

double energy(const Moles& n, double t_k) {
  double u = 0;
  for (int i = 0; i < kSpecies; ++i) {
    u += n[i] * (enthalpy(static_cast<Species>(i), t_k) - kGasConstant * t_k);
  }
  return u;
}
double heat_capacity_v(const Moles& n, double t_k) {
  double cv = 0;
  for (int i = 0; i < kSpecies; ++i) {
    cv += n[i] * (heat_capacity(static_cast<Species>(i), t_k) - kGasConstant);
  }
  return cv;
}
double total(const Moles& n) {
  double sum = 0;
  for (const double x : n) sum += x;
  return sum;
}

FrozenTable frozen_table(const Moles& n) {
  FrozenTable table;
  for (int i = 0; i < FrozenTable::kNodes; ++i) {
    const double t = FrozenTable::kFirst_k + i * FrozenTable::kStep_k;
    table.u[i] = energy(n, t);
    table.cv[i] = heat_capacity_v(n, t);
  }
  table.r = total(n) * kGasConstant;
  return table;
}

/// Fuel vapour's enthalpy of formation so that it releases its heating value exactly [J/kg].
double formation(const BurningFuel& fuel, const Elements& per_kg) {
  return fuel.heating_value.si + per_kg[kCarbon] * enthalpy(kCO2, kZero_k) +
         per_kg[kHydrogen] / 2 * enthalpy(kH2O, kZero_k);
}

void add_fuel(FrozenTable& table, double share, double formation_j) {
  const double r = kGasConstant / kFuelMolar_kg;
  for (int i = 0; i < FrozenTable::kNodes; ++i) {
    const double t = FrozenTable::kFirst_k + i * FrozenTable::kStep_k;
    table.u[i] += share * (formation_j + fuel_heat(t) - r * t);
    table.cv[i] += share * (fuel_cp(t) - r);
  }
  table.r += share * r;
}

// The charge is not well mixed: the fuel share of its parcels varies by 5 % (one sd), which is what
// carbon monoxide of 0.6 % at lambda 1 tells (Heywood 1988, figure 11-20, from memory).
constexpr double kUnevenness = 0.05;
struct Parcel {
  double offset, weight;  // in standard deviations: a normal law at seven even places
};
constexpr std::array<Parcel, 7> kParcels{{{-2.718758754, 0.00938945639712451},
                                          {-1.812505836, 0.0711355633744455},
                                          {-0.9062529181, 0.239747767003067},
                                          {0, 0.359454426450726},
                                          {0.9062529181, 0.239747767003067},
                                          {1.812505836, 0.0711355633744455},
                                          {2.718758754, 0.00938945639712451}}};

/// Elements of a mixture with this share of fuel [mol/kg].
Elements mixture_elements(double fuel_share, const Elements& fuel, const Moles& air) {
  Elements b{};
  for (int j = 0; j < kElements; ++j) b[j] = fuel_share * fuel[j];
  b[kOxygen] += (1 - fuel_share) * 2 * air[kO2];
  b[kNitrogen] += (1 - fuel_share) * 2 * air[kN2];
  for (double& x : b) x = std::max(x, kSmallest);
  return b;
}

Error no_equilibrium(double t, double p) {
  return {ErrorCode::out_of_range, "mixture",
          fmt::format("no equilibrium found at {} K and {} Pa", t, p)};
}

/// Adds one parcel's burnt gas to every node.
Status add_parcel(BurntTable& table, const Elements& b, double weight) {
  for (int k = 0; k < BurntTable::kPressures; ++k) {
    const double p = BurntTable::kFirst_pa * std::exp(k * BurntTable::kStep_lnp);
    Potentials last;
    Moles n{};
    for (int i = BurntTable::kTemperatures - 1; i >= 0; --i) {
      const double t = BurntTable::kFirst_k + i * BurntTable::kStep_k;
      if (t >= kFreezing_k && !equilibrium(b, t, p, last, n)) return no_equilibrium(t, p);
      table.node(i, k).u += weight * energy(n, t);
      table.node(i, k).r += weight * total(n) * kGasConstant;
    }
  }
  return Done{};
}

/// Slopes in temperature by central differences.
void fill_slopes(BurntTable& table) {
  for (int k = 0; k < BurntTable::kPressures; ++k) {
    for (int i = 0; i < BurntTable::kTemperatures; ++i) {
      const int a = std::max(i - 1, 0), c = std::min(i + 1, BurntTable::kTemperatures - 1);
      const double width = (c - a) * BurntTable::kStep_k;
      table.node(i, k).u_t = (table.node(c, k).u - table.node(a, k).u) / width;
      table.node(i, k).r_t = (table.node(c, k).r - table.node(a, k).r) / width;
    }
  }
}

}  // namespace

SpecificEnergy typical_heating_value(const car::Composition& c) {
  return (33.91 * c.carbon + 125.6 * c.hydrogen - 10.89 * c.oxygen - 2.51 * 9 * c.hydrogen) *
         MJ_per_kg;  // (combustion.1)
}

Result<BurningFuel> burning_fuel(const car::Composition& elements) {
  return burning_fuel(elements, typical_heating_value(elements));
}

Result<BurningFuel> burning_fuel(const car::Composition& elements, SpecificEnergy heating_value) {
  FW_TRY(const double afr, car::stoichiometric_afr(elements));
  const double mj = heating_value.in(MJ_per_kg);
  if (!(mj >= 10 && mj <= 60)) {
    return Error{ErrorCode::out_of_range, "fuel.heating_value",
                 fmt::format("came {} MJ/kg, expected 10 to 60", mj)};
  }
  return BurningFuel{elements, heating_value, afr};
}

Result<WorkingGas> working_gas(const BurningFuel& fuel, car::Lambda lambda) {
  if (!(lambda.value >= 0.6 && lambda.value <= 1.8)) {
    return Error{ErrorCode::out_of_range, "lambda",
                 fmt::format("came {}, expected 0.6 to 1.8", lambda.value)};
  }
  if (!(fuel.stoichiometric_afr >= 4 && fuel.stoichiometric_afr <= 35)) {
    return Error{ErrorCode::out_of_range, "fuel.stoichiometric_afr",
                 fmt::format("came {}, expected 4 to 35 (make it with burning_fuel())",
                             fuel.stoichiometric_afr)};
  }
  auto tables = std::make_shared<GasTables>();
  const double share = 1 / (1 + lambda.value * fuel.stoichiometric_afr);
  const Elements per_kg = fuel_elements(fuel.elements);
  Moles air{};
  const double air_moles = 1000 / car::kAir.molar_mass_g_mol;
  air[kO2] = air_moles * car::kAir.oxygen_share;
  air[kN2] = air_moles * (1 - car::kAir.oxygen_share);
  Moles frozen{};
  for (const Parcel& parcel : kParcels) {
    const Elements b = mixture_elements(share * (1 + kUnevenness * parcel.offset), per_kg, air);
    FW_CHECK(add_parcel(tables->burnt, b, parcel.weight));
    Potentials start;
    Moles n{};
    if (!equilibrium(b, kFreezing_k, kFreezing_pa, start, n)) {
      return no_equilibrium(kFreezing_k, kFreezing_pa);
    }
    for (int i = 0; i < kSpecies; ++i) frozen[i] += parcel.weight * n[i];
  }
  fill_slopes(tables->burnt);
  tables->frozen = frozen_table(frozen);
  for (double& n : air) n *= 1 - share;
  tables->fresh = frozen_table(air);
  add_fuel(tables->fresh, share, formation(fuel, per_kg));
  tables->fuel_per_fresh = share;
  tables->heating_value = fuel.heating_value.si;
  tables->left = frozen[kCO] * (enthalpy(kCO, kZero_k) - enthalpy(kCO2, kZero_k)) +
                 frozen[kH2] * -enthalpy(kH2O, kZero_k);
  return WorkingGas{std::move(tables), fuel, lambda};
}

}  // namespace fuelwright::physics
