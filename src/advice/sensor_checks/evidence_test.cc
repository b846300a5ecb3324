#include "advice/sensor_checks/evidence.h"

#include <gtest/gtest.h>

namespace fuelwright::advice::evidence_test {
namespace {

// Standard normal table (any handbook of statistics): 1.96 leaves 5 %, 3.29 leaves 0.1 %.
TEST(Evidence, TailsOfTheNormalCurveAreThoseOfTheHandbook) {
  EXPECT_NEAR(outside_normal(1.959964), 0.05, 1e-6);
  EXPECT_NEAR(outside_normal(3.290527), 0.001, 1e-8);
}

// Poisson mean 2: P(0) = 0.135335, P(1) = 0.270671, P(2) = 0.270671, P(3) = 0.180447 (by hand).
TEST(Evidence, TailsOfCountsAreThoseByHand) {
  EXPECT_NEAR(poisson_tail(1, 2), 1 - 0.135335, 1e-6);
  EXPECT_NEAR(poisson_tail(4, 2), 1 - 0.135335 - 2 * 0.270671 - 0.180447, 1e-6);
  EXPECT_NEAR(poisson_tail(0, 2), 1, 1e-12);
  EXPECT_LT(poisson_tail(30, 2), 1e-20);
  EXPECT_GT(poisson_tail(30, 2), 0);
}

// By hand: size 4, healthy 1, faulty 3: f = 10, ln ratio = 8 (1 - 0.1) - ln(10)/2 = 6.0487.
TEST(Evidence, TheRatioOfTwoNormalCurvesIsThatByHand) {
  const Evidence e = weigh_level(4, 1, 3);
  EXPECT_NEAR(e.ln_ratio, 6.0487, 1e-4);
  const double odds = std::exp(6.0487) * 0.05 / 0.95;
  EXPECT_NEAR(e.chance, odds / (1 + odds), 1e-4);
  EXPECT_NEAR(e.false_alarm, 6.3342e-5, 1e-8);
  EXPECT_TRUE(sure(e));
}

TEST(Evidence, NothingSeenSpeaksForHealth) {
  EXPECT_LT(weigh_level(0, 1, 3).ln_ratio, 0);
  EXPECT_LT(weigh_count(0, 1, 20).ln_ratio, 0);
  EXPECT_FALSE(sure(weigh_level(2.5, 1, 3)));
  EXPECT_FALSE(sure(weigh_count(3, 2, 20)));
  EXPECT_TRUE(sure(weigh_count(40, 2, 20)));
}

TEST(Evidence, MorePlacesLookedAtNeedMore) {
  EXPECT_GT(weigh_level(4, 1, 3, 1).chance, weigh_level(4, 1, 3, 50).chance);
  EXPECT_FALSE(sure(weigh_level(4, 1, 3, 100)));
}

TEST(Evidence, WhatCannotBeMeasuredIsNoEvidence) { EXPECT_FALSE(sure(weigh_level(NAN, 1, 3))); }

// The promise itself: healthy sizes drawn from their own spread alarm no more often than stated.
TEST(Evidence, HealthyCarsAlarmNoMoreOftenThanStated) {
  long alarms = 0;
  const long cars = 200000;
  unsigned long long state = 88172645463325252ULL;
  const auto uniform = [&] {  // xorshift, seeded
    state ^= state << 13;
    state ^= state >> 7;
    state ^= state << 17;
    return (static_cast<double>(state >> 11) + 0.5) / 9007199254740992.0;
  };
  for (long i = 0; i < cars; ++i) {
    const double z = std::sqrt(-2 * std::log(uniform())) * std::cos(6.283185307179586 * uniform());
    alarms += sure(weigh_level(z, 1, 5));
  }
  EXPECT_LE(static_cast<double>(alarms), cars * kSureFalseAlarm * 1.5);
}

TEST(Evidence, EveryCheckHasItsWords) {
  for (std::size_t i = 0; i < all_checks().size(); ++i) {
    EXPECT_EQ(static_cast<std::size_t>(all_checks()[i].check), i);
    EXPECT_GT(std::string(all_checks()[i].why).size(), 20U) << all_checks()[i].name;
    EXPECT_GT(std::string(all_checks()[i].what_to_do).size(), 20U) << all_checks()[i].name;
  }
}

}  // namespace
}  // namespace fuelwright::advice::evidence_test
