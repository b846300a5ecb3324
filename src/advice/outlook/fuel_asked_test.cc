#include "advice/outlook/fuel_asked.h"

#include <gtest/gtest.h>

#include "advice/outlook/internal/test_car.h"

namespace fuelwright::advice::fuel_asked_test {
namespace {

const AbsolutePressure kSea = absolute(100.0 * kPa);

FuelAsked full(const car::Sheet& s, double rpm_, double kpa = 100) {
  const auto f = fuel_asked(s, rpm(rpm_), absolute(kpa * kPa), kSea, 0.90, car::lambda(0.85));
  EXPECT_TRUE(f);
  return *f;
}

// By hand: air 0.90 1e5 0.005 6000/(120 287.053 293.15) = 2.7e6/1.00980e7 = 0.26738 kg/s;
// fuel 0.26738/(0.85 14.7) = 0.021399 kg/s = 169.83 lb/h. Eight injectors of 30 lb/h flow 240
// lb/h of 0.75 kg/l; rated with another fluid they flow by the root of the densities.
TEST(FuelAsked, AFiveLitreEngineAtSixThousandRpmByHand) {
  const car::Sheet s = test_sheet("rated_density = \"0.75 kg/l\"\n");
  const FuelAsked f = full(s, 6000);
  EXPECT_NEAR(f.flow.in(lb_per_h), 169.83, 0.02);
  EXPECT_NEAR(f.duty, 169.83 / 240 + 0.001 * 6000 / 120, 1e-4);  // 75.8 %, 5 % of it dead time
}

// Outside check: 0.50 lb of fuel an hour for a horsepower at full throttle (common practice, no
// source) and 340 hp need 170 lb/h; this engine at 6000 rpm and VE 90 % makes about that.
TEST(FuelAsked, FullThrottleTakesHalfAPoundAnHourForAHorsepower) {
  EXPECT_NEAR(full(test_sheet(), 6000).flow.in(lb_per_h) / 0.50, 340, 34);
}

TEST(FuelAsked, TwiceTheSpeedAsksTwiceTheFuelAndTheOpenTime) {
  const car::Sheet s = test_sheet();
  EXPECT_NEAR(full(s, 6000).flow / full(s, 3000).flow, 2, 1e-12);
  EXPECT_NEAR(full(s, 6000).duty / full(s, 3000).duty, 2, 1e-12);  // dead time too
}

// Against the atmosphere the step falls by the manifold's vacuum taken away: at 40 kPa it is 60 kPa
// more than at 100 kPa, 300 -> 360 kPa, and the injectors flow sqrt(1.2) more.
TEST(FuelAsked, ARegulatorAgainstTheAtmosphereFlowsMoreInVacuum) {
  const car::Sheet s =
      test_sheet("regulator_reference = \"atmosphere\"\nrated_density = \"0.75 kg/l\"\n");
  const double dp = s.injection.regulator_pressure.si();
  const double dead = 0.001 * 3000 / 120;
  const double ratio = (full(s, 3000, 40).duty - dead) / (full(s, 3000, 100).duty - dead);
  EXPECT_NEAR(ratio, 0.4 / std::sqrt((dp + 60e3) / dp), 1e-9);
}

TEST(FuelAsked, WithoutPressureAcrossTheInjectorNoFuelComes) {
  const car::Sheet s = test_sheet("regulator_reference = \"atmosphere\"\n");
  // 500 kPa of boost against a regulator of 300 kPa over the atmosphere
  EXPECT_FALSE(fuel_asked(s, rpm(3000), absolute(500.0 * kPa), kSea, 0.9, car::lambda(0.85)));
}

TEST(FuelAsked, AnEngineAtRestIsNoQuestion) {
  EXPECT_THROW((void)fuel_asked(test_sheet(), rpm(0), kSea, kSea, 0.9, car::lambda(1)), Bug);
}

}  // namespace
}  // namespace fuelwright::advice::fuel_asked_test
