#include "advice/sensor_checks/masks.h"

#include <gtest/gtest.h>

namespace fuelwright::advice::masks_test {
namespace {

using Q = signals::Quantity;

TEST(Masks, ARowIsUsableUntilSomethingSpeaksAgainstIt) {
  Masks m(10);
  m.set(Q::map, 1, 3, 5, "stuck");
  EXPECT_TRUE(m.usable(2, {Q::rpm, Q::map}));
  EXPECT_STREQ(m.against(3, {Q::rpm, Q::map}), "stuck");
  EXPECT_TRUE(m.usable(3, {Q::rpm, Q::lambda}));  // for those who need no pressure
  EXPECT_TRUE(m.usable(5, {Q::map}));
}

TEST(Masks, AWholeRowIsLostForEveryUseAndTheFirstReasonStays) {
  Masks m(10);
  m.set(Q::time, 1, 0, 4, "engine not warm");
  m.set(Q::time, 1, 2, 6, "just after a gap");
  EXPECT_STREQ(m.against(3, {Q::rpm}), "engine not warm");
  EXPECT_STREQ(m.against(5, {Q::rpm}), "just after a gap");
  const auto spans = m.spans(Q::time);
  ASSERT_EQ(spans.size(), 2U);
  EXPECT_EQ(spans[0].last, 4U);
  EXPECT_EQ(spans[1].first, 4U);
}

TEST(Masks, BanksAreToldApart) {
  Masks m(4);
  m.set(Q::lambda, 2, 0, 4, "not warm");
  EXPECT_TRUE(m.usable(1, {Q::lambda}, 1));
  EXPECT_FALSE(m.usable(1, {Q::lambda}, 2));
}

TEST(Masks, ARefusedSensorIsRefusedEverywhereAndSaysWhy) {
  Masks m(4);
  m.refuse(Q::map, 1, "reads 5 kPa off");
  EXPECT_EQ(*m.refused(Q::map), "reads 5 kPa off");
  EXPECT_STREQ(m.against(0, {Q::map}), "reads 5 kPa off");
  EXPECT_EQ(m.spans(Q::map).size(), 1U);
  EXPECT_FALSE(m.refused(Q::rpm).has_value());
}

TEST(Masks, SharesAddUpToWhatWasSet) {
  Masks m(100);
  m.set(Q::map, 1, 0, 30, "a");
  m.set(Q::map, 1, 20, 50, "b");
  m.set(Q::map, 1, 90, 1000, "a");
  long rows = 0;
  double seconds = 0;
  for (const MaskedShare& s : m.shares(0.05 * second)) {
    rows += s.rows;
    seconds += s.seconds.si;
  }
  EXPECT_EQ(rows, 60);
  EXPECT_NEAR(seconds, 3.0, 1e-12);
}

TEST(Masks, MoreReasonsThanAnybodyReadsDoNoHarm) {
  Masks m(400);
  for (std::size_t i = 0; i < 400; ++i) m.set(Q::map, 1, i, i + 1, "reason " + std::to_string(i));
  for (std::size_t i = 0; i < 400; ++i) EXPECT_FALSE(m.usable(i, {Q::map}));
}

}  // namespace
}  // namespace fuelwright::advice::masks_test
