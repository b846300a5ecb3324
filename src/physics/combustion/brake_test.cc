#include <gtest/gtest.h>

#include <cmath>
#include <cstdint>
#include <numbers>
#include <string>
#include <vector>

#include "physics/combustion/internal/example.h"

namespace fuelwright::physics::brake_test {
namespace {

constexpr double kExact = 1e-12;

BrakePoint point(double n, double map, double lambda, SparkSettings settings = {.ron = 98}) {
  const WorkingGas gas = example::petrol_at(lambda);
  const ClosedCharge c =
      example::charge_of(gas, example::wedge_v8(), n, map, 0.85, map < 60 ? 0.13 : 0.06);
  return brake(gas, c, example::wedge_v8(), (map < 60 ? 60 : 20) * kPa, settings).value();
}

TEST(Brake, WhatLeavesTheCrankIsWhatTheGasGivesLessFrictionAndPumping) {
  const BrakePoint p = point(4000, 98, 0.88);
  EXPECT_NEAR(p.bmep.value.si, (p.gross_imep - p.friction - p.pumping).si, 1e-6);
  // By hand: torque = bmep * 5.7335 l / (4 pi).
  EXPECT_NEAR(p.torque.value.si, p.bmep.value.si * 8 * 716.69e-6 / (4 * std::numbers::pi), 0.05);
  EXPECT_NEAR(p.power.value.si / (p.torque.value.si * 4000 * std::numbers::pi / 30), 1, kExact);
  EXPECT_NEAR(p.bsfc.value.si * p.power.value.si / p.fuel_flow.value.si, 1, kExact);
}

TEST(Brake, EveryNumberThatDependsOnTheUnknownHasAHalfWidth) {
  const BrakePoint p = point(4000, 98, 0.88);
  EXPECT_GT(p.torque.half_width.si / p.torque.value.si, 0.02);
  EXPECT_LT(p.torque.half_width.si / p.torque.value.si, 0.15);
  EXPECT_NEAR(p.torque.half_width.si / p.torque.value.si, p.power.half_width / p.power.value, 1e-9);
  EXPECT_GT(p.exhaust.half_width.si, 30);
  EXPECT_GT(p.spark_half_width.degrees(), 3);
  SparkSettings quick{.ron = 98, .intervals = false};
  EXPECT_EQ(point(4000, 98, 0.88, quick).torque.half_width.si, 0);
  EXPECT_NEAR(point(4000, 98, 0.88, quick).torque.value.si, p.torque.value.si, 1e-6);
}

TEST(Brake, TheHalfWidthOfFrictionAloneIsItsOwnShare) {
  const WorkingGas gas = example::petrol_at(0.88);
  const ClosedCharge c = example::full_throttle(gas, 5000);
  CombustionUnstated rough;
  rough.friction = 1.2;
  const EngineBuild e = example::wedge_v8();
  const BrakePoint base = brake(gas, c, e, 20 * kPa).value();
  const BrakePoint worse = brake(gas, c, e, 20 * kPa, {}, rough).value();
  const double lost = (base.bmep.value - worse.bmep.value).si;
  EXPECT_NEAR(lost, 0.2 * base.friction.si, 1e-6);
  EXPECT_GT(base.bmep.half_width.si, lost);
}

TEST(Brake, ARichMixtureGivesMostTorqueAndALeanOneMostWorkPerFuel) {
  const WorkingGas base = example::petrol_at(1.0);
  const EngineBuild e = example::wedge_v8();
  const ClosedCharge cruise = example::charge_of(base, e, 2000, 45, 0.75, 0.13);
  double most = -1, best_torque = 0, least = 1, best_fuel = 0;
  for (double l = 0.76; l < 1.30; l += 0.02) {
    const auto m = mixture_cost(base, example::petrol_at(l), cruise, e, 60 * kPa,
                                {.ron = 130, .intervals = false})
                       .value();
    if (m.torque > most) {
      most = m.torque;
      best_torque = l;
    }
    if (m.bsfc < least) {
      least = m.bsfc;
      best_fuel = l;
    }
  }
  // Common practice, no source: torque 0.86-0.92, fuel about 1.05. Nothing is fitted to these.
  EXPECT_GE(best_torque, 0.86 - 1e-9);
  EXPECT_LE(best_torque, 0.92 + 1e-9);
  EXPECT_GE(best_fuel, 1.01);
  EXPECT_LE(best_fuel, 1.12);
}

TEST(Brake, AMixtureComparedWithItselfCostsNothing) {
  const WorkingGas gas = example::petrol_at(0.95);
  const EngineBuild e = example::wedge_v8();
  const ClosedCharge c = example::charge_of(gas, e, 2500, 60, 0.8, 0.1);
  const MixtureCost m = mixture_cost(gas, gas, c, e, 40 * kPa).value();
  EXPECT_EQ(m.torque, 0);
  EXPECT_EQ(m.bsfc, 0);
  EXPECT_EQ(m.indicated_half_width, 0);
}

TEST(Brake, TwelveAndAHalfCostsFuelAgainstThirteenAndAHalfAndHardlyAnyTorque) {
  const auto on_scale = [](double afr) { return example::petrol_at(afr / 14.7); };
  const WorkingGas a = on_scale(13.5), b = on_scale(12.5);
  const EngineBuild e = example::wedge_v8();
  const ClosedCharge c = example::charge_of(a, e, 4500, 98, 0.85, 0.06);
  const MixtureCost m = mixture_cost(a, b, c, e, 20 * kPa, {.ron = 98}).value();
  EXPECT_NEAR(m.fuel, 13.5 / 12.5 - 1, 1e-9) << "the same air";
  EXPECT_LT(std::abs(m.torque), 0.03);
  EXPECT_NEAR(m.bsfc, (1 + m.fuel) / (1 + m.torque) - 1, kExact);
  EXPECT_LT(m.exhaust.si, -20) << "rich runs cooler";
  EXPECT_GT(m.indicated_half_width, 0);
}

TEST(Brake, ALittleLeanerAtCruiseSavesFuelAtTheSameTorque) {
  const WorkingGas a = example::petrol_at(14.0 / 14.7), b = example::petrol_at(14.1 / 14.7);
  const EngineBuild e = example::wedge_v8();
  const ClosedCharge c = example::charge_of(a, e, 2200, 45, 0.75, 0.13);
  const MixtureCost m = mixture_cost(a, b, c, e, 60 * kPa).value();
  EXPECT_LT(m.bsfc, -0.002);
  EXPECT_GT(m.bsfc, -0.0071) << "no more than the fuel taken away";
  EXPECT_LT(m.torque, 0);
  EXPECT_GT(m.torque, -0.005);
}

TEST(Brake, AMotoredEngineTakesTorque) {
  const WorkingGas gas = example::petrol_at(1.0);
  const EngineBuild e = example::wedge_v8();
  const ClosedCharge c = example::charge_of(gas, e, 3000, 25, 0.4, 0.6);
  const BrakePoint p = brake(gas, c, e, 75 * kPa).value();
  EXPECT_EQ(p.choice.cycle.burn.verdict, BurnVerdict::misfire);
  EXPECT_LT(p.torque.value.si, 0);
  EXPECT_EQ(p.bsfc.value.si, 0);
  EXPECT_FALSE(mixture_cost(gas, gas, c, e, 75 * kPa).ok());
}

TEST(Brake, AChargeOfAnotherCylinderIsRefused) {
  const WorkingGas gas = example::petrol_at(0.9);
  const ClosedCharge c = example::full_throttle(gas, 3000);
  EXPECT_EQ(brake(gas, c, example::pent_roof_four(), 20 * kPa).error().where, "engine.shape");
  EXPECT_EQ(brake(gas, c, example::wedge_v8(), std::nan("") * kPa).error().where, "pumping");
}

class Seeded {  // splitmix64
 public:
  double between(double low, double high) {
    state_ += 0x9e3779b97f4a7c15ull;
    std::uint64_t z = state_;
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9ull;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebull;
    z ^= z >> 31;
    return low + (high - low) * static_cast<double>(z >> 11) * 0x1p-53;
  }

 private:
  std::uint64_t state_ = 7;
};

TEST(Brake, NoChargeWithinOrOutsideTheLimitsGivesANumberThatIsNone) {
  constexpr int kCharges = 2000;
  Seeded seeded;
  int answered = 0;
  std::vector<WorkingGas> gases;
  for (const double l : {0.6, 0.8, 1.0, 1.3, 1.8}) gases.push_back(example::petrol_at(l));
  for (int i = 0; i < kCharges; ++i) {
    const WorkingGas& gas = gases[static_cast<std::size_t>(seeded.between(0, 4.999))];
    EngineBuild e = example::wedge_v8();
    e.shape.bore = seeded.between(25, 260) * mm;
    e.shape.stroke = seeded.between(25, 300) * mm;
    e.shape.rod = seeded.between(1.0, 3) * e.shape.stroke;
    e.shape.compression = seeded.between(3.5, 21);
    ClosedCharge c = example::charge_of(gas, e, seeded.between(150, 15000), seeded.between(10, 350),
                                        seeded.between(0.05, 1.4), seeded.between(0, 0.6));
    c.chamber = i % 2 == 0 ? Chamber::two_valve : Chamber::pent_roof;
    c.exhaust_opening = crank_degrees(seeded.between(50, 190));
    const auto p = brake(gas, c, e, seeded.between(-100, 200) * kPa,
                         {.ron = seeded.between(80, 110), .intervals = i % 8 == 0});
    if (!p.ok()) {
      EXPECT_FALSE(p.error().where.empty());
      continue;
    }
    ++answered;
    for (const double x :
         {p->torque.value.si, p->torque.half_width.si, p->fuel_flow.value.si, p->bsfc.value.si,
          p->exhaust.value.from_zero.si, p->spark.rad, p->choice.knock_chance}) {
      EXPECT_TRUE(std::isfinite(x)) << i;
    }
    const auto& l = p->choice.cycle.ledger;
    EXPECT_NEAR((l.start - l.work - l.walls - l.end) / l.fuel, 0, 1e-6) << i;
  }
  EXPECT_GT(answered, kCharges / 4);
}

}  // namespace
}  // namespace fuelwright::physics::brake_test
