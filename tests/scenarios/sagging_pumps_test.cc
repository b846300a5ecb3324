// Virtual cars whose pump sags: what the computed fuel supply expects of rail and mixture is what
// is driven. The cars' pump, regulator and dead time follow laws of their own.
#include <gtest/gtest.h>

#include "bench/sagging_pumps/sagging.h"

namespace fuelwright::bench {
namespace {

std::vector<SagCar> cars(int count, Pumps pumps) {
  std::vector<SagCar> out;
  for (int seed = 1; seed <= count; ++seed) {
    auto car = sag_car(seed, pumps);
    EXPECT_TRUE(car.ok()) << (car ? "" : car.error().line());
    if (car) out.push_back(std::move(*car));
  }
  return out;
}

// 95 of 100 are claimed; six points of one car are not independent, so 16 cars are as 16 to 30
// looks: 80 % is two standard deviations below.
TEST(SaggingPumps, PumpsAsRatedStayWithinWhatTheSheetAllows) {
  const auto driven = cars(16, Pumps::honest);
  const SagScore s = score(driven, false, Which::all);
  EXPECT_EQ(s.cars, 16);
  EXPECT_GT(s.sagging, 8) << "too few of these cars sag to say anything";
  EXPECT_GE(s.rail_held, 0.80);
  EXPECT_GE(s.missing_held, 0.80);
  // What stood here before, 3 % at most, was too little for most of them.
  EXPECT_GT(s.beyond_three_percent, 0.5);
}

// The box says 7 %; the pump lacks 25 to 40 %. Where the recorded part of a pull shows it, the rest
// is known before it is driven: the rail within 4 % of its 300 kPa, the mixture within 3 % where
// 10 to 30 % of the fuel is missing.
TEST(SaggingPumps, ARecordedPullForetellsRailAndMixtureBeyondIt) {
  const auto driven = cars(14, Pumps::worn);
  const SagScore rating = score(driven, false, Which::sag_seen);
  const SagScore pull = score(driven, true, Which::sag_seen);
  ASSERT_GE(pull.cars, 6);
  EXPECT_GT(rating.rail_rms_kpa, 50);
  EXPECT_LT(pull.rail_rms_kpa, 12) << table(driven);
  EXPECT_LT(pull.missing_rms, 0.03) << table(driven);
  EXPECT_LT(pull.leaner_rms, 0.03) << table(driven);
  EXPECT_GE(pull.rail_held, 0.85);
  EXPECT_GE(pull.missing_held, 0.80);
}

}  // namespace
}  // namespace fuelwright::bench
