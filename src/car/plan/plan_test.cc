#include "car/plan/plan.h"

#include <gtest/gtest.h>

namespace fuelwright::car::plan_test {
namespace {

TEST(Plan, AStepIsSaidInTheDriversWords) {
  EXPECT_EQ(in_words(idle_for(20.0 * second)), "idle for 20 s");
  EXPECT_EQ(in_words(hold_at(rpm(2400), 3, 15.0 * second)), "gear 3: hold 2400 rpm for 15 s");
  EXPECT_EQ(in_words(hold_at(rpm(2400), 4, 8.0 * second, absolute(60.0 * kPa))),
            "gear 4: hold 2400 rpm at 60 kPa for 8 s, on a dyno");
  EXPECT_EQ(in_words(sweep(rpm(2000), rpm(4500), 3, absolute(60.0 * kPa))),
            "gear 3: 2000 to 4500 rpm at 60 kPa");
  EXPECT_EQ(in_words(sweep(rpm(2000), rpm(4500), 3)), "gear 3: 2000 to 4500 rpm at full throttle");
  EXPECT_EQ(in_words(coast(rpm(3000), rpm(1500), 2)),
            "gear 2: foot off from 3000 down to 1500 rpm");
}

TEST(Plan, APlanThatCanBeDrivenIsTakenAndOneThatCannotNamesItsStep) {
  const Plan good{{idle_for(5.0 * second), sweep(rpm(2000), rpm(4500), 3)}};
  EXPECT_TRUE(validate(good).ok());
  Plan falling = good;
  falling.steps[1].until = rpm(1500);
  ASSERT_FALSE(validate(falling).ok());
  EXPECT_EQ(validate(falling).error().line(),
            "plan: step 2: a sweep from 2000 to 1500 rpm does not rise");
  falling.steps[1].map = absolute(32.0 * kPa);  // easing off at a pressure below the road's
  EXPECT_TRUE(validate(falling).ok());
  EXPECT_EQ(in_words(falling.steps[1]), "gear 3: 2000 down to 1500 rpm at 32 kPa");
  falling.steps[1].until = falling.steps[1].from;
  EXPECT_FALSE(validate(falling).ok());
  EXPECT_FALSE(validate(Plan{}).ok());
  EXPECT_FALSE(validate(Plan{{hold_at(rpm(2000), 0, 5.0 * second)}}).ok());
  EXPECT_FALSE(validate(Plan{{hold_at(rpm(2000), 3, 5.0 * second, absolute(5.0 * kPa))}}).ok());
  EXPECT_FALSE(validate(Plan{{idle_for(-1.0 * second)}}).ok());
  EXPECT_FALSE(validate(Plan{{coast(rpm(1500), rpm(3000), 2)}}).ok());
  EXPECT_FALSE(validate(Plan{{sweep(rpm(1500), rpm(3000), 2, absolute(5.0 * kPa))}}).ok());
}

}  // namespace
}  // namespace fuelwright::car::plan_test
