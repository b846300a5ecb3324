// What the unit does with the limits and the idle settings of its calibration.
#include "sim/virtual_car/internal/computer.h"

#include <cmath>

#include "car/build/derived.h"
#include "sim/virtual_car/test_car.h"

namespace fuelwright::sim::virtual_car::computer_test {
namespace {

struct Unit {
  car::Sheet sheet = test_sheet();
  Truth truth = test_truth(sheet);
  car::Calibration calibration;

  Unit() {
    calibration.tables.emplace(car::TableWhat::ve, car::Surface::flat(car::table_grid(sheet), 0.8));
    calibration.tables.emplace(car::TableWhat::spark,
                               car::Surface::flat(car::table_grid(sheet), 30));
  }
  Command at(const Sensed& sensed) const {
    ComputerAtWork computer(truth, told(sheet, calibration, truth), calibration);
    return computer.update(sensed, 0.01);
  }
  double spark_at(double rpm) const {
    return at({.seconds = 100,
               .rpm = rpm,
               .map_pa = 95e3,
               .throttle = 1,
               .coolant_k = 360,
               .intake_k = 300})
        .spark_deg;
  }
  double idle_opening(double coolant_k) const {
    const double rpm = told(sheet, calibration, truth).idle_rpm;
    return at({.seconds = 1,
               .rpm = rpm,
               .map_pa = 40e3,
               .throttle = 0,
               .coolant_k = coolant_k,
               .intake_k = 300})
        .idle_valve;
  }
};

TEST(EngineComputer, AboveTheSoftRevLimitItTakesSparkAwayUntilTheHardOneCutsFuel) {
  Unit unit;
  unit.calibration.settings[car::SettingWhat::hard_rev_limit] = 6000;
  EXPECT_DOUBLE_EQ(unit.spark_at(5950), 30);  // no soft limit: all of it until the cut
  unit.calibration.settings[car::SettingWhat::soft_rev_limit] = 5800;
  EXPECT_DOUBLE_EQ(unit.spark_at(5790), 30);
  // Half-way between the two half of the 45 degrees are gone.
  EXPECT_NEAR(unit.spark_at(5900), 30 - 22.5, 1e-9);
  EXPECT_NEAR(unit.spark_at(6000), -15, 1e-9);
  EXPECT_TRUE(unit.at({.seconds = 100,
                       .rpm = 6010,
                       .map_pa = 95e3,
                       .throttle = 1,
                       .coolant_k = 360,
                       .intake_k = 300})
                  .cut);
}

TEST(EngineComputer, ItsIdleValveBeginsWhereTheCalibrationsIdleAirNeedsIt) {
  Unit unit;
  const double without = unit.idle_opening(360);
  const Told told_of = told(unit.sheet, unit.calibration, unit.truth);
  // Choked air through an opening: m = 0.6847 A p/sqrt(R T) (Heywood, appendix C, gamma 1.4, from
  // memory). Five times the stop's leak cold, three times warm.
  const double a_stop = 0.6847 * told_of.stop_m2 * told_of.baro_pa / std::sqrt(287.05 * 298.15);
  const auto axis = car::Axis::make(car::AxisKind::coolant_temperature, {273.15, 353.15});
  ASSERT_TRUE(axis.ok());
  unit.calibration.curves.emplace(car::CurveWhat::idle_air,
                                  car::Curve{*axis, {5 * a_stop, 3 * a_stop}});
  unit.calibration.curves.emplace(car::CurveWhat::idle_speed,
                                  car::Curve{*axis, {told_of.idle_rpm, told_of.idle_rpm}});
  const double rounding = 0.002;  // the unit's own constant has three digits
  EXPECT_NEAR(unit.idle_opening(353.15), 2 * told_of.stop_m2 / told_of.idle_valve_m2, rounding);
  EXPECT_NEAR(unit.idle_opening(273.15), 4 * told_of.stop_m2 / told_of.idle_valve_m2, rounding);
  EXPECT_NE(unit.idle_opening(353.15), without);
}

}  // namespace
}  // namespace fuelwright::sim::virtual_car::computer_test
