#include <gtest/gtest.h>

#include <cmath>

#include "physics/combustion/internal/example.h"

namespace fuelwright::physics::gas_test {
namespace {

using namespace gas;

constexpr double kTableRounding_kj = 0.6;  // JANAF editions differ by this for OH
constexpr double kLogConstant = 0.05;      // polynomial fits against printed tables

// CRC and JANAF tables, kJ/mol at 298.15 K (from memory).
TEST(Gas, EverySpeciesHasItsTabulatedHeatOfFormation) {
  const double t = 298.15;
  EXPECT_NEAR(enthalpy(kCO2, t) / 1000, -393.51, 0.05);
  EXPECT_NEAR(enthalpy(kH2O, t) / 1000, -241.83, 0.05);
  EXPECT_NEAR(enthalpy(kCO, t) / 1000, -110.53, 0.05);
  EXPECT_NEAR(enthalpy(kOH, t) / 1000, 38.99, kTableRounding_kj);
  EXPECT_NEAR(enthalpy(kO, t) / 1000, 249.18, 0.05);
  EXPECT_NEAR(enthalpy(kH, t) / 1000, 218.00, 0.05);
  EXPECT_NEAR(enthalpy(kNO, t) / 1000, 91.3, 1.1);  // 90.29 in older tables
  for (const Species s : {kN2, kO2, kH2}) EXPECT_NEAR(enthalpy(s, t), 0, 5) << s;
}

// ln K at 2000 K as printed in textbooks of thermodynamics (JANAF; from memory).
TEST(Gas, TheReactionsOfHotExhaustHaveTheirTabulatedEquilibriumConstants) {
  const auto g = [](Species s) { return gibbs_over_rt(s, 2000); };
  EXPECT_NEAR(g(kH2O) - g(kH2) - g(kO2) / 2, -8.145, kLogConstant);
  EXPECT_NEAR(g(kCO2) - g(kCO) - g(kO2) / 2, -6.635, kLogConstant);
  EXPECT_NEAR(g(kO2) - 2 * g(kO), -14.622, kLogConstant);
  EXPECT_NEAR(g(kH2) - 2 * g(kH), -12.841, kLogConstant);
  EXPECT_NEAR(g(kN2) / 2 + g(kO2) / 2 - g(kNO), -3.931, kLogConstant);
}

TEST(Gas, EnthalpyIsTheIntegralOfHeatCapacityAndHasNoStepAtOneThousandKelvin) {
  for (int i = 0; i < kSpecies; ++i) {
    const auto s = static_cast<Species>(i);
    for (const double t : {400.0, 999.0, 1500.0, 2800.0}) {
      const double slope = (enthalpy(s, t + 0.01) - enthalpy(s, t - 0.01)) / 0.02;
      EXPECT_NEAR(slope, heat_capacity(s, t), 1e-4 * slope) << i << " at " << t;
    }
    EXPECT_NEAR(enthalpy(s, 1000) - enthalpy(s, 999.99), 0.01 * heat_capacity(s, 1000), 1.0) << i;
  }
}

TEST(Gas, NoAtomIsLostInEquilibrium) {
  for (const double rich : {0.7, 1.0, 1.4}) {
    const Elements b{5.0 * rich, 9.4 * rich, 14.6, 54.0};
    Potentials start;
    Moles n{};
    for (const double t : {4000.0, 2500.0, 1700.0}) {
      ASSERT_TRUE(equilibrium(b, t, 2e6, start, n));
      for (int j = 0; j < kElements; ++j) {
        double sum = 0;
        for (int i = 0; i < kSpecies; ++i) sum += kAtoms[i][j] * n[i];
        EXPECT_NEAR(sum / b[j], 1, 1e-9);
      }
      const double k = n[kCO2] * n[kH2] / (n[kCO] * n[kH2O]);  // water-gas, free of pressure
      const double g = gibbs_over_rt(kCO, t) + gibbs_over_rt(kH2O, t) - gibbs_over_rt(kCO2, t) -
                       gibbs_over_rt(kH2, t);
      EXPECT_NEAR(std::log(k), g, 1e-9);
    }
  }
}

/// Adiabatic flame at constant pressure, charge at 298.15 K.
double flame_temperature(const WorkingGas& w, double p_pa) {
  const auto fresh = w.tables->fresh.at(298.15);
  const double h = fresh.u + w.tables->fresh.r * 298.15;
  double t = 2200;
  for (int i = 0; i < 50; ++i) {
    const auto b = w.tables->burnt.at(t, std::log(p_pa));
    t += (h - b.u - b.r * t) / (b.u_t + b.r + b.r_t * t);
  }
  return t;
}

// Petrol and isooctane in air at 1 atm: 2266 to 2290 K stoichiometric, hottest slightly rich
// (Turns; Heywood 1988, figure 3-11; from memory). The uneven charge takes 10 K off at the top.
TEST(Gas, AFlameOfPetrolInAirIsAsHotAsTheTextbooksSay) {
  EXPECT_NEAR(flame_temperature(example::petrol_at(1.0), 101325), 2278, 20);
  const double rich = flame_temperature(example::petrol_at(0.95), 101325);
  EXPECT_GT(rich, flame_temperature(example::petrol_at(1.0), 101325));
  EXPECT_GT(rich, flame_temperature(example::petrol_at(0.85), 101325));
  EXPECT_GT(flame_temperature(example::petrol_at(1.0), 40 * 101325.0),
            flame_temperature(example::petrol_at(1.0), 101325) + 50)
      << "pressure holds dissociation back";
}

TEST(Gas, TheHeatSetFreeIsTheHeatingValueWhenThereIsAirToSpare) {
  const WorkingGas lean = example::petrol_at(1.4);
  const auto& t = *lean.tables;
  const double fresh = t.fresh.at(298.15).u + t.fresh.r * 298.15;
  const double burnt = t.frozen.at(298.15).u + t.frozen.r * 298.15;
  EXPECT_NEAR((fresh - burnt) / (t.fuel_per_fresh * 43.5e6), 1, 4e-3);  // traces of OH and NO stay
}

TEST(Gas, RichMixtureKeepsTheHeatThatItsAirCannotSetFree) {
  // By hand: at lambda 0.8 a fifth of the oxygen is missing; as CO and H2 that is 0.2 * 2 mol of
  // CO or H2 per mol O2, each worth about 0.5 * heat per O2 (283 and 242 kJ for half an O2; petrol
  // 460 kJ per O2): 0.2/1 * 525/460 = 0.23 of the fuel's heat; unevenness adds a little.
  const WorkingGas gas = example::petrol_at(0.8);
  const auto& t = *gas.tables;
  EXPECT_NEAR(t.left / (t.fuel_per_fresh * t.heating_value), 0.25, 0.03);
}

TEST(Gas, TablesAreSmoothBetweenTheirNodesAndTheirSlopesAreTheirOwn) {
  const WorkingGas gas = example::petrol_at(0.9);
  const auto& t = *gas.tables;
  for (const double temperature : {450.0, 1666.0, 2333.0, 3050.0}) {
    const double lnp = std::log(23e5), h = 1e-3;
    const auto a = t.burnt.at(temperature - h, lnp), c = t.burnt.at(temperature + h, lnp);
    const auto b = t.burnt.at(temperature, lnp), d = t.burnt.at(temperature, lnp + 1e-5);
    EXPECT_NEAR((c.u - a.u) / (2 * h), b.u_t, 1e-5 * b.u_t);
    EXPECT_NEAR((c.r - a.r) / (2 * h), b.r_t, 1e-5);
    EXPECT_NEAR((d.u - b.u) / 1e-5, b.u_lnp, 1e-3 * std::abs(b.u_lnp) + 1);
  }
}

TEST(Gas, HeatingValueFollowsTheElements) {  // memory: petrol 43-44, ethanol 26.8, methanol 19.9
  EXPECT_NEAR(typical_heating_value(car::from_formula(1, 1.87, 0)).in(MJ_per_kg), 43.5, 0.9);
  EXPECT_NEAR(typical_heating_value(car::from_formula(2, 6, 1)).in(MJ_per_kg), 26.8, 0.7);
  EXPECT_NEAR(typical_heating_value(car::from_formula(1, 4, 1)).in(MJ_per_kg), 19.9, 0.5);
}

TEST(Gas, AMixtureThatCannotBurnIsRefusedByName) {
  const auto fuel = burning_fuel(car::from_formula(1, 1.87, 0)).value();
  for (const double lambda : {0.5, 2.0, 0.0, -1.0, std::nan("")}) {
    const auto w = working_gas(fuel, car::lambda(lambda));
    ASSERT_FALSE(w.ok()) << lambda;
    EXPECT_EQ(w.error().where, "lambda");
  }
  EXPECT_FALSE(working_gas({}, car::lambda(1)).ok());
  EXPECT_FALSE(burning_fuel({0.86, 0.14, 0}, std::nan("") * MJ_per_kg).ok());
}

}  // namespace
}  // namespace fuelwright::physics::gas_test
