#include "car/fuel/mixture.h"

#include <gtest/gtest.h>

#include "car/fuel/fuel.h"

namespace fuelwright::car::mixture_test {
namespace {

TEST(Mixture, AGaugeOnFourteenSevenThatReadsTwelveFiveSaysLambda085WithE10InTheTank) {
  const Fuel tank = fuel_named("E10").value();
  const MixtureScale gauge = MixtureScale::in_afr(14.7).value();
  EXPECT_NEAR(gauge.to_lambda(12.5).value().value, 0.8503, 5e-5);  // 12.5 / 14.7
  // The slip that must not happen: dividing by the fuel's own ratio reads 4.9 % lean.
  EXPECT_NEAR(12.5 / tank.stoichiometric_afr, 0.892, 5e-4);
}

TEST(Mixture, EveryScaleComesBackToItsReading) {
  for (const char* text : {"lambda", "equivalence", "afr 14.7", "afr 9.8"}) {
    const MixtureScale scale = MixtureScale::parse(text).value();
    EXPECT_EQ(scale.text(), text);
    for (double l = 0.6; l < 1.5; l += 0.05) {
      EXPECT_NEAR(scale.to_lambda(scale.to_reading(lambda(l))).value().value, l, 1e-15 * 4);
    }
  }
}

TEST(Mixture, ARicherMixtureReadsLowerInAfrAndHigherInEquivalence) {
  const MixtureScale afr = MixtureScale::in_afr(14.7).value();
  EXPECT_LT(afr.to_reading(lambda(0.85)), afr.to_reading(lambda(1)));
  const MixtureScale phi = MixtureScale::in_equivalence();
  EXPECT_GT(phi.to_reading(lambda(0.85)), 1);
  EXPECT_NEAR(phi.to_lambda(1.25).value().value, 0.8, 1e-15);
}

TEST(Mixture, TheConstantOfAnAfrScaleIsAskedForAndNeverAssumed) {
  const auto scale = MixtureScale::parse("AFR");
  ASSERT_FALSE(scale.ok());
  EXPECT_EQ(scale.error().code, ErrorCode::needs_answer);
  EXPECT_NE(scale.error().message.find("14.7"), std::string::npos);
}

TEST(Mixture, ScalesThatCannotBeAreRefused) {
  for (const char* bad : {"afr 147", "afr -1", "afr nan", "lamda", "", "afr 14.7 9"}) {
    EXPECT_FALSE(MixtureScale::parse(bad).ok()) << bad;
  }
  for (const double bad : {0.0, -1.0, 0.0 / 0.0, 1e308 * 10}) {
    EXPECT_FALSE(MixtureScale::in_lambda().to_lambda(bad).ok()) << bad;
  }
}

TEST(Mixture, AMixtureIsShownAsLambdaThenOnItsOwnNamedScale) {
  EXPECT_EQ(format(lambda(12.5 / 14.7), MixtureScale::in_afr(14.7).value()),
            "lambda 0.850 (12.5 AFR on the 14.7 scale)");
  EXPECT_EQ(format(lambda(1), MixtureScale::in_lambda()), "lambda 1.000");
}

}  // namespace
}  // namespace fuelwright::car::mixture_test
