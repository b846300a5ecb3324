#include <gtest/gtest.h>

#include <cmath>
#include <cstddef>
#include <limits>
#include <random>
#include <vector>

#include "signals/channels/channel.h"
#include "signals/channels/gears.h"
#include "signals/channels/quantity.h"
#include "signals/channels/steadiness.h"

namespace fuelwright::signals::channels_test {
namespace {

constexpr double kGap = std::numeric_limits<double>::quiet_NaN();

Channel channel(Quantity what, std::vector<double> values) {
  Channel c;
  c.what = what;
  c.header = info(what).name;
  c.si = std::move(values);
  return c;
}

Recording recording(std::vector<Channel> channels) {
  Recording r;
  r.rows = channels.at(0).si.size();
  r.channels = std::move(channels);
  r.segments = {{0, r.rows, "1"}};
  r.pace = Pace::timed;
  return r;
}

// A noisy signal that a logger reads anew every `period` rows, first in row `phase`, and holds in
// between.
std::vector<double> held(std::size_t rows, std::size_t period, std::size_t phase, unsigned seed) {
  std::mt19937 random(seed);
  std::normal_distribution<double> noise(0, 10);
  std::vector<double> out(rows);
  double now = 100;
  for (std::size_t i = 0; i < rows; ++i) {
    if (i % period == phase) now = 100 + noise(random);
    out[i] = now;
  }
  return out;
}

TEST(Quantities, HaveARowEachInTheOrderOfTheList) {
  for (std::size_t i = 0; i < quantities().size(); ++i) {
    const auto what = static_cast<Quantity>(i);
    EXPECT_EQ(info(what).what, what);
    EXPECT_LT(info(what).lowest, info(what).highest);
    EXPECT_EQ(find_quantity(info(what).name), what);
  }
  EXPECT_EQ(static_cast<std::size_t>(Quantity::other) + 1, quantities().size());
  EXPECT_EQ(find_quantity("Intake-Air"), Quantity::intake_air);
  EXPECT_FALSE(find_quantity("manifold"));
}

TEST(Quantities, UsualUnitsAreUnitsOfTheirKind) {
  for (const QuantityInfo& q : quantities()) {
    if (*q.unit != '\0') {
      EXPECT_TRUE(find_unit(q.unit, q.kind)) << q.name;
    }
  }
}

TEST(Refresh, OfAValueHeldThreeRowsIsThreeRows) {
  const auto values = held(900, 3, 1, 1);
  const std::vector<Segment> all{{0, values.size(), "1"}};
  const Refresh r = find_refresh(values, all);
  ASSERT_TRUE(r.rows);
  EXPECT_NEAR(*r.rows, 3, 1e-9);
  EXPECT_NEAR(r.change_share, 1.0 / 3, 0.01);
}

TEST(Refresh, OfAWarmingCoolantInWholeDegreesIsNotTold) {
  std::vector<double> coolant(1000);
  for (std::size_t i = 0; i < coolant.size(); ++i)
    coolant[i] = 293 + std::floor(static_cast<double>(i) / 11.0);
  const std::vector<Segment> all{{0, coolant.size(), "1"}};
  EXPECT_FALSE(find_refresh(coolant, all).rows) << "it is slow, not held";
}

TEST(Refresh, OfCellsLeftBlankIsTheDistanceOfTheFilledOnes) {
  std::vector<double> sparse(500, kGap);
  for (std::size_t i = 0; i < sparse.size(); i += 5) sparse[i] = static_cast<double>(i % 7);
  const std::vector<Segment> all{{0, sparse.size(), "1"}};
  const Refresh r = find_refresh(sparse, all);
  ASSERT_TRUE(r.rows);
  EXPECT_NEAR(*r.rows, 5, 1e-9);
}

TEST(Simultaneity, OfChannelsThatMoveInEveryRowIsBelieved) {
  Recording r = recording(
      {channel(Quantity::rpm, held(500, 1, 0, 1)), channel(Quantity::map, held(500, 1, 0, 2))});
  judge_simultaneity(r);
  EXPECT_EQ(r.simultaneity, Simultaneity::simultaneous);
}

TEST(Simultaneity, IsDeniedWhenOneChannelIsRenewedLessOften) {
  Recording r = recording(
      {channel(Quantity::rpm, held(500, 1, 0, 1)), channel(Quantity::map, held(500, 3, 0, 2))});
  judge_simultaneity(r);
  EXPECT_EQ(r.simultaneity, Simultaneity::polled_in_turn);
  EXPECT_NEAR(r.round_rows, 3, 1e-9);
  EXPECT_NE(r.simultaneity_reason.find("map"), std::string::npos);
}

TEST(Simultaneity, IsDeniedWhenChannelsTakeTurns) {
  Recording r = recording(
      {channel(Quantity::rpm, held(600, 4, 0, 1)), channel(Quantity::map, held(600, 4, 2, 2))});
  judge_simultaneity(r);
  EXPECT_EQ(r.simultaneity, Simultaneity::polled_in_turn);
  Recording together = recording(
      {channel(Quantity::rpm, held(600, 4, 2, 1)), channel(Quantity::map, held(600, 4, 2, 2))});
  judge_simultaneity(together);
  EXPECT_EQ(together.simultaneity, Simultaneity::simultaneous);
}

TEST(Simultaneity, IsUnknownWhenNothingMoves) {
  Recording r = recording({channel(Quantity::rpm, std::vector<double>(100, 900.0)),
                           channel(Quantity::map, std::vector<double>(100, 4e4))});
  judge_simultaneity(r);
  EXPECT_EQ(r.simultaneity, Simultaneity::unknown);
}

TEST(ChangeAround, IsTheSpreadOfTheNeighboursInsideTheSegment) {
  Recording r = recording({channel(Quantity::map, {10, 13, 11, 50, 52, kGap, 53})});
  r.segments = {{0, 3, "1"}, {3, 7, "2"}};
  const Channel& c = r.channels[0];
  EXPECT_DOUBLE_EQ(change_around(r, c, 1), 3) << "10, 13, 11: a peak between equal ends counts";
  EXPECT_DOUBLE_EQ(change_around(r, c, 0), 3) << "one side only";
  EXPECT_DOUBLE_EQ(change_around(r, c, 2), 2) << "50 belongs to the next segment";
  EXPECT_DOUBLE_EQ(change_around(r, c, 4), 3) << "past the gap to 53";
  EXPECT_TRUE(std::isnan(change_around(r, c, 5)));
  r.pace = Pace::unordered;
  EXPECT_TRUE(std::isnan(change_around(r, c, 1)));
}

TEST(ChangeAround, LooksPastValuesThatAreOnlyHeld) {
  Recording r = recording({channel(Quantity::map, held(400, 4, 0, 3))});
  r.channels[0].refresh = find_refresh(r.channels[0].si, r.segments);
  std::size_t moving = 0;
  for (std::size_t i = 8; i < 392; ++i) moving += change_around(r, r.channels[0], i) > 0 ? 1 : 0;
  EXPECT_EQ(moving, 384U) << "a held value is no steady value";
}

// A car whose gears are given [rpm per km/h], with the given relative noise of the ratio.
struct Drive {
  std::vector<double> rpm, speed;
};
Drive drive(const std::vector<double>& ratios, double noise, std::size_t rows_each) {
  std::mt19937 random(7);
  std::normal_distribution<double> normal(0, noise);
  std::uniform_real_distribution<double> kmh(25, 60);
  Drive d;
  for (const double ratio : ratios) {
    for (std::size_t i = 0; i < rows_each; ++i) {
      const double v = kmh(random);
      d.speed.push_back(v / 3.6);
      d.rpm.push_back(ratio * v * (1 + normal(random)));
    }
  }
  return d;
}

TEST(Gears, OfACarAreFoundWhereTheyWerePut) {
  const std::vector<double> put{27, 34, 46, 70, 120};
  const Drive d = drive(put, 0.015, 400);
  const Gears found = find_gears(d.rpm, d.speed);
  ASSERT_EQ(found.gears.size(), put.size()) << found.reason;
  constexpr double kHistogramStep = 0.01;
  for (std::size_t i = 0; i < put.size(); ++i) {
    EXPECT_NEAR(found.gears[i].rpm_per_kmh / put[i], 1, kHistogramStep);
    EXPECT_NEAR(found.gears[i].spread, 0.015, 0.004);
    EXPECT_NEAR(found.gears[i].share, 0.2, 0.02);
  }
}

TEST(Gears, OfACarThatStandsAreNone) {
  const Gears found = find_gears(std::vector<double>(500, 850.0), std::vector<double>(500, 0.0));
  EXPECT_TRUE(found.gears.empty());
  EXPECT_NE(found.reason.find("stands still"), std::string::npos);
}

TEST(Gears, AreNotSeenInARatioWithoutPeaks) {
  std::mt19937 random(3);
  std::uniform_real_distribution<double> ln(std::log(12.0), std::log(200.0));
  Drive d;
  for (int i = 0; i < 20000; ++i) {
    d.speed.push_back(100 / 3.6);
    d.rpm.push_back(100 * std::exp(ln(random)));
  }
  EXPECT_LE(find_gears(d.rpm, d.speed).gears.size(), 1U);
}

TEST(Gears, IgnoreRollingWithTheClutchOpen) {
  Drive d = drive({40}, 0.01, 500);
  for (int i = 0; i < 300; ++i) {  // standing, then rolling at idle at one speed
    d.speed.push_back(i < 150 ? 0 : 12);
    d.rpm.push_back(850);
  }
  const Gears found = find_gears(d.rpm, d.speed);
  ASSERT_EQ(found.gears.size(), 1U);
  EXPECT_NEAR(found.gears[0].rpm_per_kmh, 40, 0.4);
}

TEST(Recordings, KnowTheSegmentOfARow) {
  Recording r = recording({channel(Quantity::rpm, std::vector<double>(10, 1.0))});
  r.segments = {{0, 4, "6"}, {4, 10, "7"}};
  EXPECT_EQ(r.segment_of(3).label, "6");
  EXPECT_EQ(r.segment_of(4).label, "7");
  EXPECT_THROW(static_cast<void>(r.segment_of(10)), Bug);
  EXPECT_NE(r.find(Quantity::rpm), nullptr);
  EXPECT_EQ(r.find(Quantity::map), nullptr);
}

}  // namespace
}  // namespace fuelwright::signals::channels_test
