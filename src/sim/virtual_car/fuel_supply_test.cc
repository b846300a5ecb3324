#include "sim/virtual_car/internal/fuel_supply.h"

#include <gtest/gtest.h>

#include <cmath>

namespace fuelwright::sim::virtual_car::fuel_supply_test {
namespace {

constexpr double kStep_s = 0.005;

// Four injectors of 4 g/s at 300 kPa, dead 1 ms at 14 V.
Fuel plain() {
  return {.injectors = 4,
          .squirts_per_cycle = 1,
          .flow = 4.0 * g_per_s,
          .flow_pressure = 300.0 * kPa,
          .dead_time = 1.0 * ms,
          .dead_time_per_volt = 0.1 * ms,
          .dead_time_curvature = 0.1,
          .regulated_to_manifold = true,
          .regulator = 300.0 * kPa,
          .droop = 0,
          .pump_flow = 100.0 * litre_per_h,
          .pump_pressure = 300.0 * kPa,
          .pump_slope = 0.5,
          .density = 750.0 * kg_per_m3};
}

double settled_kg_s(FuelSupply& supply, const FuelSupply::Moment& now, const Faults& faults) {
  double kg = 0;
  for (int i = 0; i < 400; ++i) kg = supply.step(now, faults, kStep_s);
  return kg / kStep_s;
}

TEST(FuelSupply, APulseGivesWhatFlowAndDeadTimeSay) {
  FuelSupply supply(plain(), false);
  // 4 injectors, 3000 rpm = 25 cycles/s, (6 - 1) ms * 4 g/s = 20 mg: 4 * 25 * 20 mg = 2 g/s.
  const double flow = settled_kg_s(supply, {50e3, 100e3, 14, 3000, 6e-3}, Faults({}));
  EXPECT_NEAR(flow, 2e-3, 1e-8);
}

TEST(FuelSupply, DeadTimeGrowsAsVoltageFalls) {
  const FuelSupply supply(plain(), false);
  EXPECT_NEAR(supply.dead_time_s(14, 300e3), 1.0e-3, 1e-12);
  // 12 V: 1 + 0.1 * 2 * (1 + 0.1 * 2) = 1.24 ms, by hand.
  EXPECT_NEAR(supply.dead_time_s(12, 300e3), 1.24e-3, 1e-12);
  EXPECT_GT(supply.dead_time_s(14, 400e3), supply.dead_time_s(14, 300e3));
}

TEST(FuelSupply, ARailHeldToTheAirDeliversMoreIntoAVacuumAndNoneOfThatAboveTheThrottle) {
  Fuel fuel = plain();
  fuel.regulated_to_manifold = false;
  FuelSupply port(fuel, false), above(fuel, true);
  const FuelSupply::Moment light{40e3, 100e3, 14, 3000, 8e-3};
  const double at_port = settled_kg_s(port, light, Faults({}));
  const double over_throttle = settled_kg_s(above, light, Faults({}));
  // 360 instead of 300 kPa: root 1.0954; the dead time grows by 5 %: (8 - 1.05)/(8 - 1) = 0.99286.
  EXPECT_NEAR(at_port / over_throttle, std::sqrt(1.2) * 6.95 / 7, 1e-6);
}

TEST(FuelSupply, APumpThatCannotKeepUpSetsThePressureAtWhichGivenEqualsTaken) {
  Fuel fuel = plain();
  fuel.pump_flow = 40.0 * litre_per_h;  // 8.33 g/s
  FuelSupply supply(fuel, false);
  const FuelSupply::Moment flat_out{100e3, 100e3, 13.5, 6000, 19e-3};
  const double flow = settled_kg_s(supply, flat_out, Faults({}));
  EXPECT_LT(supply.rail_gauge_pa(), 295e3);
  const double pump = 8.3333e-3 * (1 - 0.5 * (supply.rail_gauge_pa() / 300e3 - 1));
  EXPECT_NEAR(flow / pump, 1, 1e-3);
  const double weak = settled_kg_s(
      supply, flat_out, Faults(std::vector<car::Fault>{{car::FaultKind::weak_pump, {}, 0.5}}));
  EXPECT_LT(weak, 0.8 * flow);
}

TEST(FuelSupply, APulseShorterThanTheDeadTimeGivesNothing) {
  FuelSupply supply(plain(), false);
  EXPECT_EQ(supply.step({50e3, 100e3, 14, 3000, 0.9e-3}, Faults({}), kStep_s), 0);
  EXPECT_EQ(supply.step({50e3, 100e3, 14, 3000, 0}, Faults({}), kStep_s), 0);
}

}  // namespace
}  // namespace fuelwright::sim::virtual_car::fuel_supply_test
