#include <gtest/gtest.h>

#include <cmath>

#include "physics/combustion/internal/example.h"

namespace fuelwright::physics::friction_test {
namespace {

// By hand, four cylinders 86 x 86, 3000 rpm, four valves a cylinder, direct, 9.5 mm, 100 kPa:
// pistons 294*8.6/86 = 29.4, rings 4.06e4*(4/3)/7396 = 7.32, big ends (47.3 and 18.92 mm)
// 3.03e-4*3000*105824*18.92*4/2.5442e6 = 2.86: together 39.58 kPa. Accessories
// 6.23 + 15.66 - 1.611 = 20.279 kPa.
TEST(Friction, TwoOfItsPartsWorkedByHand) {
  const Friction f = friction(example::pent_roof_four(), rpm(3000)).value();
  EXPECT_NEAR(f.reciprocating.in(kPa), 39.58, 0.05);
  EXPECT_NEAR(f.accessories.in(kPa), 20.279, 0.001);
}

// Four-cylinder car engines, motored at full throttle with their pumping: 0.97 + 0.15 N/1000 +
// 0.05 (N/1000)^2 bar (Heywood 1988, eq. 13.6, from memory). The square is mostly flow, which is
// not in ours: the linear part less 30 % and the whole are the range.
TEST(Friction, AFourLiesInThePublishedRangeOverItsSpeeds) {
  for (const double n : {1000.0, 1500.0, 3000.0, 4500.0, 6000.0}) {
    const double k = n / 1000;
    const double rubbing = 97 + 15 * k, whole = rubbing + 5 * k * k;
    const double ours = friction(example::pent_roof_four(), rpm(n)).value().total().in(kPa);
    EXPECT_GT(ours, 0.7 * rubbing) << n;
    EXPECT_LT(ours, whole) << n;
  }
}

TEST(Friction, ItRisesWithSpeedLoadAndCompression) {
  const EngineBuild v8 = example::wedge_v8();
  double last = friction(v8, rpm(1500)).value().total().si;
  for (double n = 2000; n <= 7000; n += 500) {
    const double now = friction(v8, rpm(n)).value().total().si;
    EXPECT_GT(now, last);
    last = now;
  }
  const auto total = [&](const EngineBuild& e, double map) {
    return friction(e, rpm(2500), absolute(map * kPa)).value().total().si;
  };
  EXPECT_LT(total(v8, 40), total(v8, 100));
  EngineBuild tight = v8;
  tight.shape.compression = 12;
  EXPECT_LT(total(v8, 100), total(tight, 100));
  EngineBuild finger = v8;
  finger.train = ValveTrain::finger_overhead;
  EXPECT_NE(total(v8, 100), total(finger, 100));
}

TEST(Friction, ABuildThatCannotBeIsRefused) {
  EngineBuild e = example::wedge_v8();
  e.cylinders = 0;
  EXPECT_EQ(friction(e, rpm(3000)).error().where, "cylinders");
  e = example::wedge_v8();
  e.valve_lift = std::nan("") * mm;
  EXPECT_EQ(friction(e, rpm(3000)).error().where, "valve_lift");
  EXPECT_EQ(friction(example::wedge_v8(), rpm(0)).error().where, "speed");
}

}  // namespace
}  // namespace fuelwright::physics::friction_test
