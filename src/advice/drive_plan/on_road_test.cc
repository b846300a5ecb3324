#include "advice/drive_plan/on_road.h"

#include <gtest/gtest.h>

#include <algorithm>

#include "advice/drive_plan/internal/plan_car.h"

namespace fuelwright::advice::on_road_test {
namespace {

const car::Sheet kSheet = plan_sheet();

// By hand: third gear 1.25, axle 4.0, rolling radius 0.30 m: 3000 rpm is 314.159 rad/s, over
// 1.25 4.0/0.30 = 16.6667 rad/m: 18.850 m/s, 67.9 km/h.
TEST(OnRoad, RoadSpeedInAGearByHand) {
  const OnRoad road(kSheet, nullptr);
  EXPECT_NEAR(road.road_speed(rpm(3000), 3).si, 18.8496, 1e-3);
  EXPECT_NEAR(road.engine_speed({18.8496}, 3).rpm, 3000, 0.1);
}

// By hand, at 18.85 m/s: density 100000/(287.05 293.15) = 1.18838; drag 0.5 1.18838 0.32 2.0
// 355.31 = 135.1 N; rolling 0.012 1200 9.80665 = 141.2 N; sum 276.3 N; torque
// 276.3/(16.6667 0.92) = 18.02 N m.
TEST(OnRoad, TorqueThatALevelRoadAsksForByHand) {
  const OnRoad road(kSheet, nullptr);
  EXPECT_NEAR(road.asked(rpm(3000), 3, 0, 0).si, 18.02, 0.02);
  // A climb of 3 in 100 adds 1200 9.80665 0.03 = 352.9 N less a thousandth: 23.0 N m.
  EXPECT_NEAR(road.asked(rpm(3000), 3, 0, 0.03).si - road.asked(rpm(3000), 3, 0, 0).si, 23.0, 0.1);
}

// Friction by the correlation, by hand at 3000 rpm: 97 + 45 + 45 = 187 kPa. Without any charge
// burning (VE as small as a table may be) at ambient pressure nothing else is left:
// 187e3 2e-3/(4 pi) = 29.8 N m.
TEST(OnRoad, FrictionAloneByHand) {
  const car::Surface nothing = car::Surface::flat(plan_grid(), 1e-9);
  const OnRoad road(kSheet, &nothing);
  EXPECT_NEAR(road.torque(rpm(3000), absolute(100.0 * kPa)).si, -29.76, 0.02);
}

// Heywood 1988, section 2.7 (from memory): unboosted spark-ignition engines reach a mean effective
// pressure of 850 to 1050 kPa at best; 2.0 l: 135 to 167 N m.
TEST(OnRoad, FullThrottleIsThatOfSuchEngines) {
  const OnRoad road(kSheet, nullptr);
  const double torque = road.torque(rpm(3000), absolute(100.0 * kPa)).si;
  EXPECT_GT(torque, 120);
  EXPECT_LT(torque, 167);
}

TEST(OnRoad, MoreIsAskedAtMoreSpeedClimbAndGainOfSpeed) {
  const OnRoad road(kSheet, nullptr);
  double last = 0;
  for (double n = 1600; n <= 4800; n += 400) {
    const auto p = road.pressure_of_hold(rpm(n), 4, 0);
    ASSERT_TRUE(p) << n;
    EXPECT_GT(p->from_zero.si, last) << n;
    last = p->from_zero.si;
    EXPECT_LT(*p, *road.pressure_of_hold(rpm(n), 4, 0.01));
    EXPECT_LT(*p, *road.pressure_for(rpm(n), road.asked(rpm(n), 4, 0.2, 0)));
  }
}

TEST(OnRoad, ThePressureOfAHoldNeitherGainsNorLosesSpeed) {
  const OnRoad road(kSheet, nullptr);
  const auto p = road.pressure_of_hold(rpm(2500), 4, 0);
  ASSERT_TRUE(p);
  EXPECT_NEAR(road.acceleration(rpm(2500), 4, *p, 0), 0, 1e-6);
  EXPECT_GT(road.acceleration(rpm(2500), 4, absolute(80.0 * kPa), 0), 0.2);
}

TEST(OnRoad, WhatTheEngineCannotGiveIsNotPromised) {
  const OnRoad road(kSheet, nullptr);
  EXPECT_FALSE(road.pressure_for(rpm(3000), Torque{500}));
  EXPECT_FALSE(road.pressure_for(rpm(3000), Torque{-500}));
}

TEST(OnRoad, WhatWasSeenOnTheRoadMovesTheLoads) {
  const OnRoad plain(kSheet, nullptr);
  const OnRoad seen(kSheet, nullptr,
                    {.idle = absolute(34.0 * kPa), .low = 6.0 * kPa, .high = 2.0 * kPa});
  for (const double n : {2000.0, 3000.0, 4500.0}) {
    const double computed = plain.pressure_of_hold(rpm(n), 4, 0)->from_zero.in(kPa);
    const double w = std::clamp((60 - computed) / 30, 0.0, 1.0);
    EXPECT_NEAR(seen.pressure_of_hold(rpm(n), 4, 0)->from_zero.in(kPa),
                computed + 6 * w + 2 * (1 - w), 0.8)
        << n;  // VE stands at the pressure itself
  }
  ASSERT_EQ(seen.idle_pressures().size(), 1U);
  EXPECT_NEAR(seen.idle_pressures()[0].from_zero.si, 34e3, 1e-6);
  const auto maybe = plain.idle_pressures();  // in neutral or in gear
  EXPECT_NEAR(maybe.front().from_zero.si, 33e3, 12e3);
  EXPECT_NEAR(maybe.back().from_zero.si, 1.5 * maybe.front().from_zero.si, 1);
}

}  // namespace
}  // namespace fuelwright::advice::on_road_test
