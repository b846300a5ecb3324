// Compression and octane against the knock model, on an engine whose charge is made by hand.
#include "advice/prediction/fuel_demand.h"

#include <gtest/gtest.h>

#include "car/build/derived.h"
#include "car/build/sheet_file.h"

namespace fuelwright::advice::fuel_demand_test {
namespace {

car::Sheet sheet_with(double compression, double octane) {
  auto s = car::read_sheet(
      "[engine]\ndisplacement = \"5.7 l\"\ncylinders = 8\ncompression = " +
          std::to_string(compression) +
          "\n[cam]\nintake_duration_050 = \"214 deg\"\n[injection]\n"
          "injector_flow = \"36 lb/h at 43.5 psi\"\n[fuel]\nname = \"petrol\"\noctane = " +
          std::to_string(octane) + "\n[wishes]\nrev_limit = \"5800 rpm\"\n",
      "test");
  EXPECT_TRUE(s.ok()) << (s ? "" : s.error().line());
  return *s;
}

// VE 0.85 of air at 25 degC everywhere, 5 % burnt gas, shut in 120 deg before top dead centre at
// 360 K.
physics::AirMap by_hand(const car::Sheet& sheet) {
  physics::AirMap map;
  for (double n = 500; n <= 6000; n += 500) map.speeds.push_back(rpm(n));
  for (const double p : {50.0, 100.0}) map.pressures.push_back(absolute(p * kPa));
  for (const AbsolutePressure p : map.pressures) {
    for (const EngineSpeed n : map.speeds) {
      physics::AirNode node;
      node.speed = n;
      node.map = p;
      node.ve = 0.85;
      node.residual = 0.05;
      node.trapped_air =
          Mass{0.85 * p.from_zero.si * car::cylinder_volume(sheet).si / (287.05 * 298.15)};
      node.trapped = node.trapped_air / 0.95;
      node.charge_pressure = p;
      node.charge_temperature = kelvin(360);
      node.closing = crank_degrees(600);
      map.nodes.push_back(node);
    }
  }
  return map;
}
KnockRoom room(double compression, double octane) {
  const car::Sheet sheet = sheet_with(compression, octane);
  const auto r = knock_room(sheet, by_hand(sheet));
  EXPECT_TRUE(r.ok()) << (r ? "" : r.error().line());
  return r ? *r : KnockRoom{};
}

TEST(KnockRoom, MoreOctaneOrLessCompressionMovesKnockAway) {
  const KnockRoom usual = room(9.5, 91), better = room(9.5, 98), squeezed = room(11.5, 91);
  EXPECT_GT(better.limit_deg, usual.limit_deg);
  EXPECT_LT(squeezed.limit_deg, usual.limit_deg);
  EXPECT_GE(squeezed.torque_lost, usual.torque_lost);
  EXPECT_GE(usual.speed.rpm, 2000);
  EXPECT_LE(usual.speed.rpm, 5800);
}

// What is said to be enough is enough, and a little less is not.
TEST(KnockRoom, TheOctaneThatIsNeededIsTheLeastThatFreesTheSpark) {
  const KnockRoom r = room(10.5, 90);
  ASSERT_LT(r.limit_deg, r.mbt_deg);
  ASSERT_TRUE(r.octane_needed);
  EXPECT_GT(*r.octane_needed, 90);
  const KnockRoom enough = room(10.5, *r.octane_needed + 0.3);
  EXPECT_GE(enough.limit_deg, enough.mbt_deg - 0.6);
  const KnockRoom less = room(10.5, *r.octane_needed - 2);
  EXPECT_LT(less.limit_deg, less.mbt_deg);
  ASSERT_TRUE(r.compression_free);
  EXPECT_LT(*r.compression_free, 10.5);
}

TEST(KnockRoom, TooMuchCompressionForTheFuelIsSaid) {
  EXPECT_TRUE(room(15, 84).too_much_compression());
  EXPECT_FALSE(room(8.5, 95).too_much_compression());
}

TEST(KnockRoom, AnEngineThatBurnsNowhereIsAnError) {
  const car::Sheet sheet = sheet_with(9.5, 95);
  physics::AirMap map = by_hand(sheet);
  for (auto& node : map.nodes) node.reachable = false;
  EXPECT_EQ(knock_room(sheet, map).error().code, ErrorCode::out_of_range);
}

}  // namespace
}  // namespace fuelwright::advice::fuel_demand_test
