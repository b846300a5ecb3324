// Twelve invented cars, each short of one known thing: it must be named, at the speed that a second
// calculation beside it finds, with the smallest cure of that calculation.
//
// The second calculation (struct Truth) is written out here in plain numbers: square-root law,
// affinity laws, Ohm, Darcy-Weisbach by Swamee and Jain instead of Colebrook, found by fixed-point
// iteration and a fine scan of speeds. It shares the model's assumptions (they are the statement of
// the case) and none of its code.
#include <functional>
#include <numbers>
#include <optional>

#include "physics/supply/test_car.h"

namespace fuelwright::physics::supply::short_cars_test {
namespace {

constexpr double kSpeedWithin = 0.03;  // asked for
constexpr double kCureWithin = 0.03;   // Swamee-Jain, and the grid of 100 rpm

struct Truth {
  double litres = 5.7, lambda = 0.86, stoich = 14.6, boost = 0;
  double injectors = 8, q_lb_h = 36, rated_kpa = 300, squirts = 1, least = 1, dead_ms = 0.95;
  bool manifold = true, at_tank = false;
  double set_kpa = 300;
  double pump_lh = 150, pump_fall = 52.5, amp = 6, filter_at_lh = 150;
  double volts = 13.8, mm2 = 4, wire_m = 6, contact_v = 0.15;
  double hose_m = 4.5, hose_mm = 8, filter_kpa = 6;
  double suction_m = 0.05, suction_mm = 10, deep_pa = 350, tank_c = 30, reid = 60;
  double lift_lh = 0, surge_l = 0;
  double margin = 0;

  double rho(double c) const { return 745 * (1 - 0.95e-3 * (c - 17.5)); }
  double mu() const {
    return 0.55e-3 * std::exp(std::log(0.55 / 0.44) * (1 / (tank_c + 273.15) - 1 / 293.15) /
                              (1 / 293.15 - 1 / 313.15));
  }
  double loss(double q, double length, double mm) const {  // Pa
    const double d = mm * 1e-3, v = q * 4 / (std::numbers::pi * d * d), r = rho(tank_c);
    const double re = std::max(1.0, r * v * d / mu());
    double f = 0.25 / std::pow(std::log10(0.005 / mm / 3.7 + 5.74 / std::pow(re, 0.9)), 2);
    if (re < 2000) f = 64 / re;
    return (f * length / d + 3) * r * v * v / 2;
  }
  double manifold_gauge() const { return (boost - 1.3) * 1e3; }
  double set() const { return set_kpa * 1e3 + (manifold ? manifold_gauge() : 0); }
  double pump() const {  // kg/s
    double q = 1e-5;
    for (int i = 0; i < 400; ++i) {
      const double p = set() + filter_kpa * 1e3 * q / (filter_at_lh * 1e-3 / 3600) +
                       (at_tank ? 0 : loss(q, hose_m, hose_mm));
      const double current = amp * (0.45 + 0.55 * p / 300e3);
      const double ohm = wire_m / 58 / mm2 * (1 + 0.00393 * 20) + contact_v / amp;
      const double s = (volts - current * ohm) / 13.5;
      const double curve = s * (pump_lh + pump_fall * (1 - p / s / s / 300e3)) * 1e-3 / 3600;
      q += 0.3 * (std::max(0.0, curve) - q);
    }
    const double vapour = reid * 1e3 * std::exp(3300 * (1 / 310.93 - 1 / (tank_c + 273.15)));
    const double spare = 101.3e3 + deep_pa - 4e3 - vapour;
    double inlet = 0;
    while (inlet < q && loss(inlet + 1e-8, suction_m, suction_mm) < spare) inlet += 1e-8;
    return rho(tank_c) * std::min(q, inlet);
  }
  double inject(double n) const {  // kg/s
    double m = 0.02;
    for (int i = 0; i < 60; ++i) {
      const double across =
          set() - manifold_gauge() - (at_tank ? loss(m / rho(tank_c), hose_m, hose_mm) : 0);
      const double q = q_lb_h * 0.45359237 / 3600 *
                       std::sqrt(std::max(0.0, across) / rated_kpa / 1e3 * rho(tank_c + 8) / 745);
      const auto g = [](double v) { return -std::log(1 - 5.5 / v); };
      const double dead =
          dead_ms * 1e-3 * g(volts) / g(13.5) * (1 + 0.15 * (across / rated_kpa / 1e3 - 1));
      m = injectors * q * least * std::max(0.0, 0.85 - squirts * dead * n / 120);
    }
    return m;
  }
  double lift() const {
    return lift_lh > 0 ? rho(tank_c) * (lift_lh / 3.6e6 + surge_l * 1e-3 / 15) : 1e9;
  }
  double need(double n) const {
    return (1 + margin) * invented_air(litres, n) * air_factor() / lambda / stoich;
  }
  double air_factor() const {
    if (boost == 0) return 1;
    const double r = (100 + boost) / 100;
    return r / (1 + (std::pow(r, 0.4 / 1.4) - 1) / 0.60) * 1.02;
  }
  std::optional<double> runs_out() const {
    const double pump_now = pump();
    for (double n = 1000; n <= 6200; n += 5)
      if (std::min({pump_now, inject(n), lift()}) < need(n)) return n;
    return std::nullopt;
  }
  double at_worst() const {  // least margin
    double out = 1e9;
    const double pump_now = pump();
    for (double n = 1000; n <= 6200; n += 20)
      out = std::min(out, std::min({pump_now, inject(n), lift()}) / need(n) - 1);
    return out;
  }
};

// The smallest x in [low, high] (a larger one better) with 10 % left.
double smallest(Truth t, double low, double high, const std::function<void(Truth&, double)>& put) {
  t.margin = 0.10;
  for (int i = 0; i < 30; ++i) {
    const double x = (low + high) / 2;
    Truth now = t;
    put(now, x);
    (now.at_worst() >= 0 ? high : low) = x;
  }
  return high;
}

struct Short {
  Lines lines = sound_v8();
  Truth truth;
  double boost = 0;
  SupplyAnswer answer() const {
    SupplySettings set;
    if (boost > 0) set.boost = Boost{boost * kPa, false, true, celsius(25)};
    set.samples = 64;
    return answer_of(lines, invented_demand(5.7), set);
  }
};

void expect_named(const Short& car, Weak part, Change change, double to_si,
                  bool just_enough = true) {
  const SupplyAnswer a = car.answer();
  const auto at = car.truth.runs_out();
  ASSERT_TRUE(at) << "the case is no shortage";
  ASSERT_TRUE(a.first);
  EXPECT_EQ(a.first->part, part) << name_of(a.first->part);
  EXPECT_NEAR(a.first->at.rpm / *at, 1, kSpeedWithin);
  EXPECT_NEAR(a.first->margin, car.truth.at_worst(), 0.01);
  EXPECT_GT(a.short_chance, 0.9);
  ASSERT_FALSE(a.cures.empty());
  EXPECT_EQ(a.cures[0].what, change) << name_of(a.cures[0].what);
  EXPECT_TRUE(a.cures[0].restores);
  EXPECT_NEAR(a.cures[0].to_si / to_si, 1, kCureWithin);
  if (just_enough) {
    EXPECT_NEAR(a.cures[0].margin, 0.10, 0.003);
  }
}

TEST(ShortCars, TheSoundOneFeedsItsEngineToTheRevLimit) {
  const Short car;
  EXPECT_FALSE(car.truth.runs_out());
  const SupplyAnswer a = car.answer();
  EXPECT_FALSE(a.first);
  EXPECT_LT(a.short_chance, 0.05);
  EXPECT_NEAR(a.margin, car.truth.at_worst(), 0.01);
}

TEST(ShortCars, ASmallPumpRunsOut) {
  Short car;
  car.lines["injection"]["pump_flow"] = "\"120 l/h\"";
  car.lines["supply"]["pump_curve_flow"] =
      "{ values = [162, 120, 78], unit = \"l/h\", tolerance = \"1 %\" }";
  car.truth.pump_lh = car.truth.filter_at_lh = 120;
  car.truth.pump_fall = 42;
  // The same pump, so much stronger at every pressure.
  const double k = smallest(car.truth, 1, 4, [](Truth& t, double x) {
    t.pump_lh *= x;
    t.pump_fall *= x;
  });
  expect_named(car, Weak::pump, Change::pump_flow, k * 120e-3 / 3600);
}

TEST(ShortCars, SmallInjectorsRunOut) {
  Short car;
  car.lines["injection"]["injector_flow"] = "\"26 lb/h +- 0.2 lb/h\"";
  car.truth.q_lb_h = 26;
  const double q = smallest(car.truth, 26, 80, [](Truth& t, double x) { t.q_lb_h = x; });
  expect_named(car, Weak::injectors, Change::injector_flow, q * 0.45359237 / 3600);
}

// Fired in pairs, the dead time is lost twice.
TEST(ShortCars, InjectorsFiredInPairsRunOutEarlier) {
  Short car;
  car.lines["injection"]["injector_flow"] = "\"30 lb/h +- 0.2 lb/h\"";
  car.lines["injection"]["squirts_per_cycle"] = "2";
  car.truth.q_lb_h = 30;
  car.truth.squirts = 2;
  const double q = smallest(car.truth, 30, 80, [](Truth& t, double x) { t.q_lb_h = x; });
  expect_named(car, Weak::injectors, Change::injector_flow, q * 0.45359237 / 3600);
}

TEST(ShortCars, OneInjectorOfAnotherSizeIsNamed) {
  Short car;
  car.lines["injection"]["injector_flow"] = "\"42 lb/h +- 0.2 lb/h\"";
  car.lines["supply"]["injector_match"] =
      "{ values = [1, 1, 0.62, 1, 1, 1, 1, 1], tolerance = \"0.5 %\" }";
  car.truth.q_lb_h = 42;
  car.truth.least = 0.62;
  expect_named(car, Weak::one_injector, Change::odd_injectors, 42 * 0.45359237 / 3600, false);
}

// Set to 180 kPa where the injectors are rated at 300.
TEST(ShortCars, ARegulatorSetTooLowIsNamed) {
  Short car;
  car.lines["injection"]["regulator_pressure"] = "\"180 kPa +- 1 kPa\"";
  car.truth.set_kpa = 180;
  const double p = smallest(car.truth, 180, 400, [](Truth& t, double x) { t.set_kpa = x; });
  expect_named(car, Weak::regulator, Change::regulator_pressure, p * 1e3);
}

// Against the open air, 60 kPa of boost are missing across the nozzle.
TEST(ShortCars, ARegulatorThatDoesNotFollowTheBoostIsNamed) {
  Short car;
  car.boost = 60;
  car.truth.boost = 60;
  car.lines["injection"]["injector_flow"] = "\"45 lb/h +- 0.2 lb/h\"";
  car.lines["injection"]["regulator_reference"] = "\"atmosphere\"";
  car.lines["injection"]["pump_flow"] = "\"400 l/h\"";
  car.lines["supply"]["pump_curve_flow"] =
      "{ values = [540, 400, 260], unit = \"l/h\", tolerance = \"1 %\" }";
  car.lines["supply"]["hose_diameter"] = "\"12 mm +- 0.1 mm\"";
  car.truth.q_lb_h = 45;
  car.truth.manifold = false;
  car.truth.pump_lh = car.truth.filter_at_lh = 400;
  car.truth.pump_fall = 140;
  car.truth.hose_mm = 12;
  car.truth.lambda = 0.80;
  const SupplyAnswer a = car.answer();
  const auto at = car.truth.runs_out();
  ASSERT_TRUE(at);
  ASSERT_TRUE(a.first);
  EXPECT_EQ(a.first->part, Weak::regulator) << name_of(a.first->part);
  EXPECT_NEAR(a.first->at.rpm / *at, 1, kSpeedWithin);
  Truth cured = car.truth;
  cured.manifold = true;
  EXPECT_FALSE(cured.runs_out());
  ASSERT_FALSE(a.cures.empty());
  bool found = false;
  for (const Cure& c : a.cures) found = found || c.what == Change::regulator_reference;
  EXPECT_TRUE(found);
}

TEST(ShortCars, ThinWiresToThePumpAreNamed) {
  Short car;
  car.lines["supply"]["wire_area"] = "\"0.5 mm2 +- 0.01 mm2\"";
  car.lines["supply"]["pump_current"] = "\"9 A +- 0.1 A\"";
  car.truth.mm2 = 0.5;
  car.truth.amp = 9;
  const double area = smallest(car.truth, 0.5, 20, [](Truth& t, double x) { t.mm2 = x; });
  expect_named(car, Weak::wiring, Change::wire_area, area * 1e-6);
}

// Nothing is known of the wires, but a meter was held to the pump.
TEST(ShortCars, VoltsFoundAtThePumpNameTheWiring) {
  Short car;
  for (const char* key : {"wire_area", "wire_length", "ground_length", "contact_drop"})
    car.lines["supply"].erase(key);
  car.lines["supply"]["pump_volts"] = "{ value = \"10.3 V\", source = \"measured\" }";
  const SupplyAnswer a = car.answer();
  ASSERT_TRUE(a.first);
  EXPECT_EQ(a.first->part, Weak::wiring) << name_of(a.first->part);
  EXPECT_TRUE(a.measured_volts);
  // The same by hand: 3.5 V lost at the pump's current, all of it in contacts.
  Truth t;
  t.contact_v = 3.5 - 6.0 * 6 / 58 / 4 * (1 + 0.00393 * 20);
  ASSERT_TRUE(t.runs_out());
  EXPECT_NEAR(a.first->at.rpm / *t.runs_out(), 1, kSpeedWithin);
  ASSERT_FALSE(a.cures.empty());
  EXPECT_EQ(a.cures[0].what, Change::new_feed) << name_of(a.cures[0].what);
}

TEST(ShortCars, ANarrowHoseIsNamed) {
  Short car;
  car.lines["supply"]["hose_diameter"] = "\"3.3 mm +- 0.02 mm\"";
  car.truth.hose_mm = 3.3;
  const double d = smallest(car.truth, 3.3, 16, [](Truth& t, double x) { t.hose_mm = x; });
  expect_named(car, Weak::hose, Change::hose_diameter, d * 1e-3);
}

TEST(ShortCars, ACloggedFilterIsNamed) {
  Short car;
  car.lines["supply"]["filter_loss"] = "\"300 kPa +- 2 kPa\"";
  car.truth.filter_kpa = 300;
  Truth t = car.truth;
  t.margin = 0.10;
  double loss = 300;
  while (loss > 0 && t.at_worst() < 0) t.filter_kpa = loss -= 0.5;
  expect_named(car, Weak::filter, Change::filter, loss * 1e3);
}

TEST(ShortCars, HotFuelBeforeAPumpOutsideTheTankIsNamed) {
  Short car;
  car.lines["supply"]["fuel_temperature"] = "\"50 degC +- 0.1 K\"";
  car.lines["supply"]["vapour_pressure"] = "\"60 kPa +- 0.1 kPa\"";
  car.lines["supply"]["pump_place"] = "\"outside\"";
  car.lines["supply"]["suction_length"] = "\"1.5 m +- 0.01 m\"";
  car.lines["supply"]["suction_diameter"] = "\"5.2 mm +- 0.01 mm\"";
  car.truth.tank_c = 50;
  car.truth.suction_m = 1.5;
  car.truth.suction_mm = 5.2;
  car.truth.deep_pa = 0;
  // Outside the tank the pump stands no deeper than the fuel.
  const double d = smallest(car.truth, 5.2, 20, [](Truth& t, double x) { t.suction_mm = x; });
  expect_named(car, Weak::inlet, Change::suction_diameter, d * 1e-3);
}

TEST(ShortCars, ALiftPumpThatCannotKeepTheSurgeTankFullIsNamed) {
  Short car;
  car.lines["supply"]["lift_flow"] = "\"95 l/h +- 1 l/h\"";
  car.lines["supply"]["surge_volume"] = "\"0.05 l +- 0.001 l\"";
  car.truth.lift_lh = 95;
  car.truth.surge_l = 0.05;
  const double q = smallest(car.truth, 95, 300, [](Truth& t, double x) { t.lift_lh = x; });
  expect_named(car, Weak::lift_pump, Change::lift_flow, q * 1e-3 / 3600);
  EXPECT_TRUE(car.answer().lift.fitted);
}

// Without a return line the narrow hose takes pressure from the injectors.
TEST(ShortCars, ANarrowHoseWithoutAReturnStarvesTheInjectors) {
  Short car;
  car.lines["supply"]["regulator_place"] = "\"tank\"";
  car.lines["supply"]["hose_diameter"] = "\"3.6 mm +- 0.02 mm\"";
  car.truth.at_tank = true;
  car.truth.hose_mm = 3.6;
  const double d = smallest(car.truth, 3.6, 16, [](Truth& t, double x) { t.hose_mm = x; });
  expect_named(car, Weak::hose, Change::hose_diameter, d * 1e-3);
}

TEST(ShortCars, AnAlternatorThatDoesNotHoldItsVoltageIsNamed) {
  Short car;
  car.lines["supply"]["charging_voltage"] = "\"11.3 V +- 0.05 V\"";
  car.truth.volts = 11.3;
  const double v = smallest(car.truth, 11.3, 14.4, [](Truth& t, double x) { t.volts = x; });
  expect_named(car, Weak::charging, Change::charging_voltage, v);
}

}  // namespace
}  // namespace fuelwright::physics::supply::short_cars_test
