#include "advice/first_start/numbers.h"

#include <gtest/gtest.h>

#include <cmath>

#include "advice/first_calibration/orifice.h"
#include "advice/first_start/test_cars.h"

namespace fuelwright::advice::numbers_test {
namespace {

constexpr double kSeaLevel_pa = 101'325;

// By hand: bore 4.030, stroke 3.622, rod 5.75 in; the intake valve shuts at 108 + 274/2 = 245 deg
// after top dead centre, 115 deg before firing top dead centre. Piston below its top: r (1 - cos a)
// + l - sqrt(l^2 - r^2 sin^2 a), r 1.811, l 5.75, cos 115 -0.42262, sin 0.90631: 2.5764 + 5.75
// - 5.5112 = 2.8152 in of 3.622: 0.7772.
TEST(FirstStartNumbers, TheStrokeLeftWhenTheIntakeValveShutsIsThatOfTheSliderCrank) {
  EXPECT_NEAR(stroke_left_at_intake_closing(test_cars::flat_v8()), 0.7772, 5e-4);
}

// Common practice, no source: a street V8 of 9.5 to 1 with such a cam shows 150 to 190 psi.
TEST(FirstStartNumbers, AStreetV8CompressesToWhatGaugesShow) {
  const auto p = cranking_compression_pa(test_cars::flat_v8(), absolute(kSeaLevel_pa * pascal));
  EXPECT_GT(p.low / 6894.76, 145);
  EXPECT_LT(p.high / 6894.76, 200);
  // By hand: 1 + 8.6 * 0.7772 = 7.684; 7.684^1.25 = 12.794; 101.325 (12.794 - 1) = 1195 kPa.
  EXPECT_NEAR(p.middle, 1195e3, 3e3);
}

TEST(FirstStartNumbers, CompressionGoesWithThePressureOfThePlace) {
  const auto low = cranking_compression_pa(test_cars::flat_v8(), absolute(kSeaLevel_pa * pascal));
  const auto high = cranking_compression_pa(test_cars::flat_v8(), absolute(84'556.0 * pascal));
  EXPECT_NEAR(high.middle / low.middle, 84'556 / kSeaLevel_pa, 1e-9);
}

TEST(FirstStartNumbers, AnEngineWithMoreCamShutsLaterAndCompressesLess) {
  car::Sheet big = test_cars::flat_v8();
  big.cam.intake_advertised.value = crank_degrees(300);
  EXPECT_LT(cranking_compression_pa(big, absolute(kSeaLevel_pa * pascal)).middle,
            cranking_compression_pa(test_cars::flat_v8(), absolute(kSeaLevel_pa * pascal)).middle);
}

// The same balance from the other end: at r 0.8 (above critical) the flow of an orifice is
// 0.194187 g/s per mm2 at 101,325 Pa and 298.15 K (computed value of the formula in checks of
// compressible flow). What a 6 l engine draws at 200 rpm and 0.8 of 101,325 Pa, by the gas law:
// 0.75 * 81,060 * 0.006 * 200/120/(287.05 * 298.15) = 7.104 g/s, which needs 36.58 mm2.
TEST(FirstStartNumbers, CrankingDrawsTheManifoldDownUntilFlowInIsFlowOut) {
  const AbsolutePressure p = drawn_down_to(36.58 * mm2, 6.0 * litre, rpm(200),
                                           absolute(kSeaLevel_pa * pascal), kelvin(298.15));
  EXPECT_NEAR(p.from_zero.si, 0.8 * kSeaLevel_pa, 100);
}

TEST(FirstStartNumbers, AWiderPassageOrASlowerStarterLeavesMorePressure) {
  const auto at = [](double area_mm2, double speed) {
    return drawn_down_to(area_mm2 * mm2, 6.0 * litre, rpm(speed), absolute(kSeaLevel_pa * pascal),
                         celsius(20))
        .from_zero.si;
  };
  EXPECT_GT(at(60, 200), at(36, 200));
  EXPECT_GT(at(36, 150), at(36, 250));
  EXPECT_LT(at(400, 200), kSeaLevel_pa);
}

car::Calibration with_cranking_fuel(double kg_a_cycle) {
  car::Calibration c;
  const auto coolant = car::Axis::make(car::AxisKind::coolant_temperature, {253.15, 293.15});
  c.curves.insert_or_assign(car::CurveWhat::cranking_fuel,
                            car::Curve{*coolant, {2 * kg_a_cycle, kg_a_cycle}});
  c.settings[car::SettingWhat::injector_flow] = 4.5e-3;
  c.settings[car::SettingWhat::injector_pressure] = 300e3;
  const auto volts = car::Axis::make(car::AxisKind::battery_voltage, {8, 10, 14});
  c.curves.insert_or_assign(car::CurveWhat::dead_time,
                            car::Curve{*volts, {2.2e-3, 1.5e-3, 0.9e-3}});
  return c;
}

// By hand: 120 mg a cylinder and cycle, 8 cylinders on 8 injectors with 2 squirts: 60 mg a squirt;
// 4.5 g/s at 300 kPa, which the regulator keeps: 13.333 ms; 1.5 ms dead time at 10 V: 14.833 ms.
TEST(FirstStartNumbers, TheCrankingPulseIsFuelOverFlowAndDeadTime) {
  const car::Sheet sheet = test_cars::flat_v8();
  const auto p = cranking_pulse(sheet, with_cranking_fuel(120e-6), celsius(20),
                                absolute(85.0 * kPa), absolute(100.0 * kPa));
  ASSERT_TRUE(p.has_value());
  EXPECT_NEAR(p->pulse_s.middle, 14.833e-3, 2e-6);
  EXPECT_LT(p->pulse_s.low, p->pulse_s.middle);
  EXPECT_GT(p->pulse_s.high, p->pulse_s.middle);
  const auto cold = cranking_pulse(sheet, with_cranking_fuel(120e-6), celsius(-20),
                                   absolute(85.0 * kPa), absolute(100.0 * kPa));
  EXPECT_NEAR(cold->pulse_s.middle - 1.5e-3, 2 * 13.333e-3, 4e-6);
}

// Exact: injector flow goes with the square root of the pressure across it. Against the atmosphere
// the nozzle of a port sees station less manifold pressure more: 315 kPa, flow times 1.024695.
TEST(FirstStartNumbers, ARegulatorAgainstTheAtmosphereGivesAPortInjectorMore) {
  car::Sheet sheet = test_cars::flat_v8();
  sheet.injection.regulator_reference.value = car::RegulatorReference::atmosphere;
  const auto p = cranking_pulse(sheet, with_cranking_fuel(120e-6), celsius(20),
                                absolute(85.0 * kPa), absolute(100.0 * kPa));
  ASSERT_TRUE(p.has_value());
  EXPECT_NEAR(p->pulse_s.middle, 13.333e-3 / 1.024695 + 1.5e-3, 3e-6);
  const RailPressure rail = rail_at(sheet, absolute(40.0 * kPa), absolute(100.0 * kPa));
  EXPECT_NEAR(rail.on_gauge.si, 300e3, 1e-6);
  EXPECT_NEAR(rail.across.si, 360e3, 1e-6);
}

TEST(FirstStartNumbers, ARailThatFollowsTheManifoldReadsLowerAtIdleAndFeedsTheSame) {
  const RailPressure rail =
      rail_at(test_cars::flat_v8(), absolute(40.0 * kPa), absolute(100.0 * kPa));
  EXPECT_NEAR(rail.on_gauge.si, 240e3, 1e-6);
  EXPECT_NEAR(rail.across.si, 300e3, 1e-6);
  const RailPressure body =
      rail_at(test_cars::throttle_body_v8(), absolute(40.0 * kPa), absolute(100.0 * kPa));
  EXPECT_NEAR(body.across.si, body.on_gauge.si, 1e-6);  // its nozzles stand in open air
}

TEST(FirstStartNumbers, WithoutACalibrationThereIsNoPulseAndNoCrankingPressure) {
  EXPECT_FALSE(cranking_pulse(test_cars::flat_v8(), {}, celsius(20), absolute(85.0 * kPa),
                              absolute(100.0 * kPa)));
  EXPECT_FALSE(cranking_map_pa(test_cars::flat_v8(), {}, absolute(100.0 * kPa), celsius(20)));
}

// Common practice, no source: 8 to 20 minutes idling from a mild day to 80 degC.
TEST(FirstStartNumbers, AV8WarmsUpAtIdleInTheUsualTime) {
  const auto t =
      warm_up_s(test_cars::flat_v8(), 8.0 * g_per_s, car::lambda(0.93), celsius(15), celsius(80));
  EXPECT_GT(t.high, 8 * 60);
  EXPECT_LT(t.low, 20 * 60);
  EXPECT_LT(t.low, t.middle);
  EXPECT_LT(t.middle, t.high);
  EXPECT_GT(
      warm_up_s(test_cars::flat_v8(), 8.0 * g_per_s, car::lambda(0.93), celsius(-15), celsius(80))
          .middle,
      t.middle);
}

// Common practice, no source.
TEST(FirstStartNumbers, TheStarterTurnsSlowerInTheFrost) {
  EXPECT_EQ(cranking_speed_rpm(celsius(20)).low, 150);
  EXPECT_EQ(cranking_speed_rpm(celsius(20)).high, 250);
  EXPECT_LT(cranking_speed_rpm(celsius(-10)).high, 250);
}

}  // namespace
}  // namespace fuelwright::advice::numbers_test
