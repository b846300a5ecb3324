#include "advice/prediction/prediction.h"

#include <gtest/gtest.h>

#include <cmath>

#include "car/build/sheet_file.h"
#include "car/fuel/fuel.h"

namespace fuelwright::advice::prediction_test {
namespace {

using namespace physics;

car::Sheet sheet_with(const std::string& cam_deg, const std::string& more = "") {
  auto sheet = car::read_sheet(
      "[engine]\ndisplacement = \"6.3 l\"\ncylinders = 8\ncompression = 9.2\n[cam]\n"
      "intake_duration_050 = \"" +
          cam_deg +
          " deg\"\n[injection]\n"
          "injector_flow = \"42 lb/h at 43.5 psi\"\n[fuel]\nname = \"E10\"\n" +
          more,
      "test");
  EXPECT_TRUE(sheet.ok()) << (sheet.ok() ? "" : sheet.error().line());
  return *sheet;
}

// A small ensemble: the tests are about the rules, not about its size.
Drawn drawn_of(const car::Sheet& sheet, int members) {
  MapPlaces places;
  for (const double n : {700.0, 900.0, 1500.0, 2500.0, 3500.0, 4500.0, 5500.0, 6300.0})
    places.speeds.push_back(rpm(n));
  for (const double p : {25.0, 35.0, 45.0, 55.0, 68.0, 82.0, 100.0})
    places.pressures.push_back(absolute(p * kPa));
  places.surroundings = surroundings_of(sheet);
  DrawSettings settings;
  settings.members = members;
  settings.steps = false;
  settings.maps.grid = 45 * mm;
  settings.maps.most_cycles = 12;
  auto drawn = draw_engines(sheet, places, settings);
  EXPECT_TRUE(drawn.ok()) << (drawn.ok() ? "" : drawn.error().line());
  return *drawn;
}

struct Predicted {
  car::Sheet sheet;
  Prediction p;
};
const Predicted& mild() {
  static const Predicted kMild = [] {
    const car::Sheet sheet = sheet_with("204");
    return Predicted{sheet, *predict_engine(sheet, Ensemble(drawn_of(sheet, 16)))};
  }();
  return kMild;
}
const Predicted& big() {
  static const Predicted kBig = [] {
    const car::Sheet sheet = sheet_with("242");
    const auto p = predict_engine(sheet, Ensemble(drawn_of(sheet, 16)));
    EXPECT_TRUE(p.ok()) << (p.ok() ? "" : p.error().line());
    return Predicted{sheet, *p};
  }();
  return kBig;
}

// Common practice, no source: stock V8s of this size give 0.75 to 1.15 hp per cubic inch at 4200 to
// 5800 rpm.
TEST(Prediction, AStreetV8MakesItsPowerWhereSuchEnginesDo) {
  const FullThrottle& f = mild().p.full;
  const double per_litre = f.peak_power_w.middle / 1e3 / 6.3;
  EXPECT_GT(per_litre, 30);
  EXPECT_LT(per_litre, 55);
  EXPECT_GT(f.peak_power_rpm.middle, 3800);
  EXPECT_LT(f.peak_power_rpm.middle, 6000);
  EXPECT_LT(f.peak_torque_rpm.middle, f.peak_power_rpm.middle);
}

TEST(Prediction, ABigCamMovesThePowerUpAndIdlesWithLessVacuum) {
  EXPECT_GT(big().p.full.peak_power_rpm.middle, mild().p.full.peak_power_rpm.middle);
  EXPECT_GT(big().p.full.peak_power_w.middle, mild().p.full.peak_power_w.middle);
  ASSERT_TRUE(mild().p.idle.map_pa.has_value());
  if (big().p.idle.map_pa) {
    EXPECT_GT(big().p.idle.map_pa->middle, mild().p.idle.map_pa->middle + 4e3);
  } else {
    EXPECT_LT(big().p.idle.runs, 0.8);  // the honest answer: it cannot be told
  }
}

// Common practice, no source: a stock cam idles at 30 to 40 kPa; the pressures asked for begin
// at 25.
TEST(Prediction, AStockCamIdlesAtStrongVacuum) {
  const Idle& idle = mild().p.idle;
  EXPECT_GT(idle.runs, 0.9);
  ASSERT_TRUE(idle.map_pa.has_value());
  EXPECT_GT(idle.map_pa->middle, 25e3);
  EXPECT_LT(idle.map_pa->middle, 45e3);
  EXPECT_LT(idle.map_pa->low, idle.map_pa->middle);
}

// Power is torque times speed, by definition.
TEST(Prediction, PowerIsTorqueTimesSpeed) {
  const FullThrottle& f = mild().p.full;
  for (std::size_t i = 0; i < f.speeds.size(); ++i) {
    const double omega = f.speeds[i].rpm * 2 * 3.14159265358979 / 60;
    EXPECT_NEAR(f.power_w[i].middle, f.torque_nm[i].middle * omega, 1e-6 * f.power_w[i].middle);
    EXPECT_LT(f.torque_nm[i].low, f.torque_nm[i].middle);
    EXPECT_LT(f.torque_nm[i].middle, f.torque_nm[i].high);
  }
}

TEST(Prediction, AllEnginesAlikeLeaveOnlyTheSpreadOfBurnAndFriction) {
  const car::Sheet sheet = sheet_with("204");
  const Drawn drawn = drawn_of(sheet, 8);
  const std::vector<AirMap> alike(16, drawn.centre);
  const auto f = full_throttle(sheet, alike, 3);
  ASSERT_TRUE(f.ok());
  EXPECT_LT(f->air_half_width, 1e-7);  // the root of what rounding leaves
  const double spread = (f->peak_torque_nm.high - f->peak_torque_nm.low) / f->peak_torque_nm.middle;
  EXPECT_GT(spread, 0.005);
  EXPECT_LT(spread, 0.25);
}

// Thermodynamics: less air for the same engine at altitude; 1000 m costs 11 +- 1.5 % of
// full-throttle air (common practice, partly the density of the standard atmosphere).
TEST(Prediction, AThousandMetresUpCostATenthOfThePower) {
  const car::Sheet high = sheet_with("204", "[place]\naltitude = \"1000 m\"\n");
  const auto p = predict_engine(high, Ensemble(drawn_of(high, 16)));
  ASSERT_TRUE(p.ok());
  const double ratio = p->full.peak_power_w.middle / mild().p.full.peak_power_w.middle;
  EXPECT_GT(ratio, 0.83);
  EXPECT_LT(ratio, 0.93);
}

TEST(Prediction, ARicherFullThrottleCostsFuelAndHardlyGivesTorque) {
  ASSERT_GE(mild().p.mixtures.size(), 2u);
  for (const MixtureChoice& m : mild().p.mixtures) {
    if (m.to.value < m.from.value) {
      EXPECT_GT(m.fuel, 0.02) << m.where;
    } else {
      EXPECT_LT(m.fuel, -0.01) << m.where;
    }
    EXPECT_LT(std::abs(m.torque), 0.04) << m.where;
  }
}

TEST(Prediction, TheFirstCalibrationOfItIsComplete) {
  const auto first = first_calibration(mild().sheet, mild().p.air);
  ASSERT_TRUE(first.ok()) << first.error().line();
  EXPECT_TRUE(car::validate(first->calibration).ok());
  EXPECT_NE(first->calibration.find(car::TableWhat::ve), nullptr);
  EXPECT_NE(first->calibration.find(car::TableWhat::spark), nullptr);
  EXPECT_NE(first->calibration.find(car::TableWhat::lambda_target), nullptr);
  EXPECT_EQ(first->calibration.settings.size(), static_cast<std::size_t>(car::kSettings));
  for (const car::SettingWhat s : car::all_settings()) {
    ASSERT_NE(first->calibration.origin(s), nullptr) << car::name_of(s);
    EXPECT_FALSE(first->calibration.origin(s)->reason.empty()) << car::name_of(s);
  }
}

// Heywood 1988, section 6.2 (from memory): air goes with about the root of intake temperature.
TEST(Prediction, WarmerIntakeAirCostsLessThanTheGasLawSays) {
  EXPECT_GE(mild().p.air.charge_exponent, 0.4);
  EXPECT_LE(mild().p.air.charge_exponent, 0.9);
}

TEST(Prediction, ANodeBetweenNodesIsBetweenThem) {
  const car::Sheet sheet = sheet_with("204");
  const AirMap map = drawn_of(sheet, 8).centre;
  const AirNode a = map.node(3, 4), b = map.node(4, 4);
  const AirNode mid = node_between(map, rpm((a.speed.rpm + b.speed.rpm) / 2), a.map);
  EXPECT_NEAR(mid.ve, (a.ve + b.ve) / 2, 1e-12);
  EXPECT_NEAR(mid.trapped.si, (a.trapped.si + b.trapped.si) / 2, 1e-15);
  EXPECT_EQ(node_between(map, rpm(100), absolute(1 * kPa)).ve, map.node(0, 0).ve);  // edges hold
}

// Alcohol is an eighth of the charge by mass: its share of heat and mass must not be mistaken for a
// charge that cannot be.
TEST(Prediction, AnEngineOnMethanolIsPredicted) {
  car::Sheet sheet = sheet_with("204");
  const auto methanol = car::fuel_named("methanol");
  ASSERT_TRUE(methanol.ok());
  sheet.fuel.name.value = "methanol";
  sheet.fuel.stoichiometric.value = methanol->stoichiometric_afr;
  const Drawn drawn = drawn_of(sheet, 8);
  const auto f = full_throttle(sheet, std::vector<AirMap>(16, drawn.centre), 3);
  ASSERT_TRUE(f.ok()) << f.error().line();
  EXPECT_GT(f->peak_power_w.middle, 50e3);
  EXPECT_TRUE(idle_of(sheet, std::vector<AirMap>(16, drawn.centre), 3).ok());
}

// One engine of the sample that does not burn somewhere does not spoil the answer of the others.
TEST(Prediction, AnEngineThatDoesNotBurnAtASpeedGivesNoTorqueThere) {
  const car::Sheet sheet = sheet_with("204");
  std::vector<AirMap> members(16, drawn_of(sheet, 8).centre);
  for (AirNode& n : members[0].nodes) {
    n.reachable = false;
    n.trapped_air = 0 * kg;
  }
  const auto f = full_throttle(sheet, members, 3);
  ASSERT_TRUE(f.ok()) << f.error().line();
  EXPECT_LT(f->torque_nm[5].low, 0.9 * f->torque_nm[5].middle);
  EXPECT_LT(f->air_half_width, 1e-7);
  for (AirMap& m : members) m.nodes = members[0].nodes;
  EXPECT_FALSE(full_throttle(sheet, members, 3).ok());
}

TEST(Prediction, AFuelThatNobodyKnowsIsRefusedInOneLine) {
  car::Sheet sheet = sheet_with("204");
  sheet.fuel.name.value = "moonshine";
  const auto burner = burner_of(sheet);
  ASSERT_FALSE(burner.ok());
  EXPECT_EQ(burner.error().line().find('\n'), std::string::npos);
}

}  // namespace
}  // namespace fuelwright::advice::prediction_test
