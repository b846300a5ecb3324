// The parts of a fuel system, each against a law, a handbook or a value worked by hand.
#include <gtest/gtest.h>

#include <cmath>
#include <numbers>

#include "car/build/derived.h"
#include "car/fuel/fuel.h"
#include "physics/supply/demand.h"
#include "physics/supply/injector.h"
#include "physics/supply/line.h"
#include "physics/supply/liquid.h"
#include "physics/supply/pump.h"
#include "physics/supply/wiring.h"

namespace fuelwright::physics::supply::parts_test {
namespace {

Injectors some_injectors() {
  Injectors in;
  in.rated = 36.0 * lb_per_h;
  in.rated_pressure = 300.0 * kPa;
  in.rated_density = 0.745 * kg_per_litre;
  in.match = std::vector<double>(8, 1.0);
  in.dead_time = 0.95 * ms;
  in.dead_time_voltage = 13.5 * volt;
  return in;
}
Pump some_pump() {
  Pump p;
  p.pressure = {0.0 * kPa, 300.0 * kPa};
  p.flow = {1.35 * 255.0 * litre_per_h, 255.0 * litre_per_h};
  p.rated = 13.5 * volt;
  p.current = 7.0 * ampere;
  p.current_pressure = 300.0 * kPa;
  return p;
}
Liquid petrol_liquid() { return {0.745 * kg_per_litre, 0, false, absolute(60.0 * kPa)}; }

// Bernoulli: sqrt(4/3) = 1.154701 (exact).
TEST(Injector, FlowGoesWithTheSquareRootOfThePressureAcrossIt) {
  const Injectors in = some_injectors();
  const MassFlow three = injector_flow(in, 300.0 * kPa, in.rated_density);
  EXPECT_NEAR(injector_flow(in, 400.0 * kPa, in.rated_density) / three, 1.154701, 1e-6);
  EXPECT_NEAR(three.in(lb_per_h), 36, 1e-9);
  EXPECT_EQ(injector_flow(in, -10.0 * kPa, in.rated_density).si, 0);
}

// Mass flow of an orifice goes with sqrt(rho): sqrt(0.789/0.745) = 1.02911 (by hand).
TEST(Injector, ADenserFuelFlowsMoreByMass) {
  const Injectors in = some_injectors();
  EXPECT_NEAR(injector_flow(in, 300.0 * kPa, 0.789 * kg_per_litre) / in.rated, 1.02911, 1e-5);
}

// By hand: 25 g/s through 8 x 36 lb/h (4.5359 g/s each, 36.287 in all) is 0.68895 of the time; at
// 6000 rpm two turns take 20 ms: 13.779 ms, with 0.95 ms dead time 14.729 ms, duty 73.6 %.
TEST(Injector, PulseAndDutyAreAsWorkedByHand) {
  const Injectors in = some_injectors();
  const Arrangement one{true, 8, 8, 1}, two{true, 8, 8, 2};
  const Pulse p =
      pulse_for(in, one, rpm(6000), 25.0 * g_per_s, 300.0 * kPa, in.rated_density, 13.5 * volt);
  EXPECT_NEAR(p.effective.in(ms), 13.779, 0.002);
  EXPECT_NEAR(p.total.in(ms), 14.729, 0.002);
  EXPECT_NEAR(p.duty, 0.7365, 1e-4);
  EXPECT_NEAR(p.left.in(ms), 20 - 14.729, 0.002);
  // Fired in pairs they open twice: half the pulse, the dead time twice.
  const Pulse q =
      pulse_for(in, two, rpm(6000), 25.0 * g_per_s, 300.0 * kPa, in.rated_density, 13.5 * volt);
  EXPECT_NEAR(q.effective.in(ms), 13.779 / 2, 0.002);
  EXPECT_NEAR(q.duty, (6.8895 + 0.95) / 10, 1e-4);
}

// Two or four injectors above the throttle feed eight cylinders: the same fuel, fewer of them.
TEST(Injector, TwoFourOrEightInjectorsShareTheFuel) {
  const Injectors in = some_injectors();
  for (const int n : {2, 4, 8}) {
    const double squirts = 8.0 / n;
    const Arrangement a{n == 8, 8, n, squirts};
    const Pulse p =
        pulse_for(in, a, rpm(3000), 5.0 * g_per_s, 300.0 * kPa, in.rated_density, 13.5 * volt);
    const double open = 5.0 / (n * 4.53592);
    EXPECT_NEAR(p.effective.si * squirts / (120.0 / 3000), open, 1e-5) << n;
    EXPECT_NEAR(tip_pressure(a, absolute(40.0 * kPa), absolute(100.0 * kPa)).from_zero.in(kPa),
                n == 8 ? 40 : 100, 1e-12);
  }
}

TEST(Injector, DeadTimeGrowsAsTheVoltageFallsAndIsTheStatedOneWhereStated) {
  const Injectors in = some_injectors();
  EXPECT_NEAR(dead_time(in, 13.5 * volt, 300.0 * kPa).in(ms), 0.95, 1e-12);
  double before = 0;
  for (double v = 16; v >= 6; v -= 0.5) {
    const double d = dead_time(in, v * volt, 300.0 * kPa).si;
    EXPECT_GT(d, before) << v;
    before = d;
  }
  // 1.3 to 1.8 times at 10 V (common practice, no source).
  EXPECT_NEAR(dead_time(in, 10.0 * volt, 300.0 * kPa).in(ms), 1.45, 0.25);
  EXPECT_GT(dead_time(in, 13.5 * volt, 400.0 * kPa), dead_time(in, 13.5 * volt, 300.0 * kPa));
  EXPECT_EQ(dead_time(in, 5.0 * volt, 300.0 * kPa).si, 1);  // it does not open
}

// Common practice: at most 80 to 85 % duty; the smallest injector has a cylinder to feed too.
TEST(Injector, TheMostThatCanBeFedIsAtTheDutyLimitOfTheSmallest) {
  Injectors in = some_injectors();
  const Arrangement a{true, 8, 8, 1};
  const MassFlow all = most_fuel(in, a, rpm(6000), 300.0 * kPa, in.rated_density, 13.5 * volt);
  const Pulse p = pulse_for(in, a, rpm(6000), all, 300.0 * kPa, in.rated_density, 13.5 * volt);
  EXPECT_NEAR(p.duty, 0.85, 1e-12);
  in.match[2] = 0.8;
  EXPECT_NEAR(most_fuel(in, a, rpm(6000), 300.0 * kPa, in.rated_density, 13.5 * volt) / all, 0.8,
              1e-12);
}

// Poiseuille: dp = 128 mu L Q/(pi D^4), without fittings.
TEST(Line, ASlowFlowLosesAsPoiseuilleSays) {
  const Pipe pipe{2.0 * metre, 6.0 * mm, 0.005 * mm, 0};
  const VolumeFlow q = 10.0 * litre_per_h;
  const double mu = 1e-3;
  const double by_law = 128 * mu * 2 * q.si / (std::numbers::pi * std::pow(6e-3, 4));
  EXPECT_NEAR(pipe_loss(pipe, q, 0.745 * kg_per_litre, mu).si / by_law, 1, 1e-12);
}

// Colebrook (1939), values of the diagram as handbooks print it (from memory): Re 1e5 e/D 1e-4
// 0.0185, Re 1e6 e/D 1e-3 0.0199, smooth at 1e5 0.0180.
TEST(Line, FrictionIsColebrooksAndTheEquationIsMet) {
  EXPECT_NEAR(friction_factor(1e5, 1e-4), 0.018514, 1e-6);
  EXPECT_NEAR(friction_factor(1e6, 1e-3), 0.0199, 5e-5);
  EXPECT_NEAR(friction_factor(1e5, 0), 0.0180, 5e-5);
  for (const double re : {4e3, 1e4, 1e5, 1e7}) {
    for (const double e : {0.0, 1e-5, 1e-3, 0.05}) {
      const double f = friction_factor(re, e);
      EXPECT_NEAR(1 / std::sqrt(f), -2 * std::log10(e / 3.7 + 2.51 / (re * std::sqrt(f))), 1e-9);
    }
  }
  EXPECT_NEAR(friction_factor(1000, 1e-3), 0.064, 1e-12);
  EXPECT_NEAR(friction_factor(2000 + 1e-9, 1e-3), friction_factor(2000, 1e-3), 1e-9);
  EXPECT_NEAR(friction_factor(4000 - 1e-6, 1e-3), friction_factor(4000, 1e-3), 1e-8);
}

// By hand: 200 l/h through 8 mm: 1.1052 m/s, Re 1.1052 x 0.008 x 745/0.00049 = 13,443; f from
// Colebrook near 0.0295 (e/D 6.25e-4); (0.0295 x 562.5 + 3) x 745 x 1.1052^2/2 = 8.92 kPa.
TEST(Line, AHoseLosesAsWorkedByHand) {
  const Pipe pipe{4.5 * metre, 8.0 * mm, 0.005 * mm, 3};
  EXPECT_NEAR(pipe_loss(pipe, 200.0 * litre_per_h, 745.0 * kg_per_m3, 0.49e-3).in(kPa), 8.9, 0.15);
  PressureStep before{0};
  for (double q = 5; q < 500; q += 5) {
    const PressureStep now = pipe_loss(pipe, q * litre_per_h, 745.0 * kg_per_m3, 0.49e-3);
    EXPECT_GT(now, before) << q;
    before = now;
  }
}

// Affinity laws: at a share s of the speed the curve is (s Q, s^2 p).
TEST(Pump, FollowsTheAffinityLaws) {
  const Pump p = some_pump();
  const double s = 12.0 / 13.5;
  EXPECT_NEAR(pump_flow(p, s * s * 300.0 * kPa, 12.0 * volt).in(litre_per_h), s * 255, 1e-9);
}

// A pump at 12.0 V delivers 15 to 20 % less than at 13.5 V (common practice, no source); pumps of
// other slopes than the typical one lie around it.
TEST(Pump, At12VoltsItDeliversAFifthLess) {
  const Pump p = some_pump();
  const double less = 1 - pump_flow(p, 300.0 * kPa, 12.0 * volt) / (255.0 * litre_per_h);
  EXPECT_GT(less, 0.15);
  EXPECT_LT(less, 0.20);
}

TEST(Pump, FlowFallsWithPressureAndIsNeverNegative) {
  const Pump p = some_pump();
  VolumeFlow before{1};
  for (double kpa = 0; kpa < 2000; kpa += 50) {
    const VolumeFlow now = pump_flow(p, kpa * kPa, 13.5 * volt);
    EXPECT_LE(now, before);
    EXPECT_GE(now.si, 0);
    before = now;
  }
  EXPECT_EQ(pump_flow(p, 0.0 * kPa, 0.0 * volt).si, 0);
}

// IEC 60028 (from memory): 0.017241 ohm mm2/m at 20 degC. By hand: 6 m of 2.5 mm2 at 40 degC
// 44.63 mohm, with 30 mohm of contacts and 7 A: 13.8 - 0.522 = 13.278 V.
TEST(Wiring, LosesWhatOhmAndTheCopperStandardSay) {
  const Wiring w{13.8 * volt, 2.5 * mm2, 6.0 * metre, 30.0 * milliohm};
  EXPECT_NEAR(wire_resistance(w).in(milliohm), 44.63, 0.02);
  EXPECT_NEAR(volts_at_pump(w, 7.0 * ampere).si, 13.278, 0.001);
  EXPECT_EQ(volts_at_pump(w, 1000.0 * ampere).si, 0);
}

// Handbook boiling points: ethanol 78.3, methanol 64.7 degC at 101.325 kPa; petrol begins to boil
// warm, near 55 degC at a Reid pressure of 60 kPa (from memory).
TEST(Liquid, BoilsWhereHandbooksSay) {
  const AbsolutePressure one = absolute(101.325 * kPa);
  EXPECT_NEAR(in_celsius(boils_at({0.789 * kg_per_litre, 1, false, absolute(16.0 * kPa)}, one)),
              78.3, 2);
  EXPECT_NEAR(in_celsius(boils_at({0.792 * kg_per_litre, 1, true, absolute(32.0 * kPa)}, one)),
              64.7, 2);
  EXPECT_NEAR(in_celsius(boils_at(petrol_liquid(), one)), 55, 4);
  for (const double c : {-10.0, 20.0, 60.0, 90.0}) {
    const AbsolutePressure p = vapour_pressure(petrol_liquid(), celsius(c));
    EXPECT_NEAR(in_celsius(boils_at(petrol_liquid(), p)), c, 1e-9);
  }
}

// Petrol grows by about 0.1 % a kelvin (common practice); 20 K: 2 % lighter.
TEST(Liquid, GetsLighterAndThinnerAsItWarms) {
  const Liquid f = petrol_liquid();
  EXPECT_NEAR(density_at(f, celsius(37.5)) / density_at(f, celsius(17.5)), 0.981, 0.002);
  EXPECT_NEAR(viscosity_pa_s(f, celsius(20)), 0.55e-3, 1e-9);
  EXPECT_NEAR(viscosity_pa_s(f, celsius(40)), 0.44e-3, 1e-9);
}

// Stoichiometry (car/fuel): 25 g/s of petrol at lambda 0.86 need 25 x 0.86 x 14.604 g/s of air.
TEST(Demand, FuelIsAirOverLambdaAndStoichiometry) {
  const MassFlow air = 25 * 0.86 * 14.604 * g_per_s;
  EXPECT_NEAR(fuel_for(air, car::lambda(0.86), 14.604).in(g_per_s), 25, 1e-9);
  // E85 takes 14.604/9.805 = 1.489 times as much (checked blends of car/fuel).
  const double e85 = car::fuel_named("E85").value().stoichiometric_afr;
  EXPECT_NEAR(fuel_for(air, car::lambda(0.86), e85).in(g_per_s), 25 * 1.489, 0.02);
}

// 400 hp at 0.45 to 0.50 lb/(hp h): 180 to 200 lb/h; boosted 0.55 to 0.65: 220 to 260 (practice).
TEST(Demand, TheRuleOfThumbIsTheTrades) {
  const RuleOfThumb plain = rule_of_thumb(400.0 * horsepower, 14.6, false);
  EXPECT_NEAR(plain.low.in(lb_per_h), 180, 1e-6);
  EXPECT_NEAR(plain.high.in(lb_per_h), 200, 1e-6);
  const RuleOfThumb more = rule_of_thumb(400.0 * horsepower, 14.6, true);
  EXPECT_NEAR(more.low.in(lb_per_h), 220, 1e-6);
  EXPECT_NEAR(more.high.in(lb_per_h), 260, 1e-6);
}

}  // namespace
}  // namespace fuelwright::physics::supply::parts_test
