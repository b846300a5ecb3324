#include "advice/drive_plan/seen.h"

#include <gtest/gtest.h>

#include <numbers>

#include "advice/drive_plan/internal/plan_car.h"

namespace fuelwright::advice::seen_test {
namespace {

using signals::Quantity;

const car::Sheet kSheet = plan_sheet();

// Ten rows a second: standing at 37 kPa, then 20 m/s in fifth gear at so much more than the
// computed load.
signals::Recording recording(double over_pa, bool with_speed = true) {
  const OnRoad road(kSheet, nullptr);
  const EngineSpeed n = road.engine_speed({20}, 5);
  const double p = over_pa + road.pressure_of_hold(n, 5, 0)->from_zero.si;
  signals::Recording r;
  r.row_step = 0.1 * second;
  signals::Channel speed, pressure, road_speed;
  speed.what = Quantity::rpm;
  pressure.what = Quantity::map;
  road_speed.what = Quantity::speed;
  for (int i = 0; i < 100; ++i) {
    speed.si.push_back(850), pressure.si.push_back(37e3), road_speed.si.push_back(0);
  }
  for (int i = 0; i < 400; ++i) {
    speed.si.push_back(n.rpm), pressure.si.push_back(p), road_speed.si.push_back(20);
  }
  r.rows = 500;
  r.channels = {speed, pressure};
  if (with_speed) r.channels.push_back(road_speed);
  return r;
}

// By hand, kPa: one bin at 42.5, w = 17.5/30 = 0.583; of 6 believed with 6 and seen to 2 it keeps
// (w^2 + (1-w)^2) 36/((w^2 + (1-w)^2) 36 + 4) = 0.514 36/(0.514 36 + 4) = 0.822: 4.93.
TEST(Seen, ACarThatAsksForMorePressureAtLightLoadIsSeen) {
  const signals::Recording r = recording(6e3);
  const signals::Recording* one = &r;
  const Seen seen = seen_in({&one, 1}, kSheet, nullptr);
  const OnRoad before(kSheet, nullptr), after(kSheet, nullptr, seen);
  const auto over_kpa = [&](EngineSpeed n, int gear) {
    return (after.pressure_of_hold(n, gear, 0)->from_zero -
            before.pressure_of_hold(n, gear, 0)->from_zero)
        .in(kPa);
  };
  EXPECT_NEAR(over_kpa(before.engine_speed({20}, 5), 5), 4.93, 0.4);
  EXPECT_GT(seen.low, seen.high);  // what light load shows is believed of more load only in part
  ASSERT_TRUE(seen.idle);
  EXPECT_NEAR(seen.idle->from_zero.si, 37e3, 1);
  EXPECT_GT(seen.steady.si, 30);
}

// Ten-second holds at 2400 rpm in fourth, each at another load: a dyno's, not a road's.
TEST(Seen, LoadsThatADynoHeldSayNothingAboutTheRoad) {
  const OnRoad road(kSheet, nullptr);
  signals::Recording r = recording(0);
  for (signals::Channel& c : r.channels) c.si.clear();
  r.rows = 600;
  for (int i = 0; i < 600; ++i) {
    r.channels[0].si.push_back(2400);
    r.channels[1].si.push_back(1e3 * (36 + 9 * (i / 100)));
    r.channels[2].si.push_back(road.road_speed(rpm(2400), 4).si);
  }
  const signals::Recording* one = &r;
  const Seen seen = seen_in({&one, 1}, kSheet, nullptr);
  EXPECT_EQ(seen.low.si, 0);
  EXPECT_EQ(seen.high.si, 0);
  EXPECT_EQ(seen.steady.si, 0);
}

TEST(Seen, WithoutARoadSpeedNothingIsSeen) {
  const signals::Recording r = recording(5e3, false);
  const signals::Recording* one = &r;
  const Seen seen = seen_in({&one, 1}, kSheet, nullptr);
  EXPECT_EQ(seen.low.si, 0);
  EXPECT_EQ(seen.high.si, 0);
  EXPECT_FALSE(seen.idle);
}

}  // namespace
}  // namespace fuelwright::advice::seen_test
