#include "car/fuel/fuel.h"

#include <gtest/gtest.h>

namespace fuelwright::car::fuel_test {
namespace {

constexpr double kLastDigit = 6e-4;  // values computed to three decimals

// By hand, E10: 0.9 * 0.745 = 0.6705 kg petrol, 0.1 * 0.789 = 0.0789 kg ethanol, together 0.7494
// kg; (0.6705 * 14.604 + 0.0789 * 9.005) / 0.7494 = 14.0145.
TEST(Fuel, ATenPercentBlendNeedsAirByTheMassOfItsParts) {
  const Fuel e10 = fuel_named("E10").value();
  EXPECT_NEAR(e10.stoichiometric_afr, 14.014, kLastDigit);
  EXPECT_NEAR(e10.density.in(kg_per_litre), 0.7494, 1e-9);
  EXPECT_NEAR(fuel_named("E85").value().stoichiometric_afr, 9.805, kLastDigit);  // computed
}

TEST(Fuel, ABlendsStoichiometricRatioLiesBetweenItsPartsAndFallsWithAlcohol) {
  for (const char* letter : {"E", "M"}) {
    double last = petrol().stoichiometric_afr + 1e-9;
    for (int percent = 0; percent <= 100; ++percent) {
      const Fuel fuel = fuel_named(letter + std::to_string(percent)).value();
      EXPECT_LT(fuel.stoichiometric_afr, last) << fuel.name;
      last = fuel.stoichiometric_afr;
    }
  }
}

TEST(Fuel, BlendingByMassAndByVolumeAgreeWhenTheSharesDescribeTheSameTank) {
  const double mass = 0.3 * 0.745 + 0.7 * 0.789;
  const Fuel by_volume = blend_by_volume("a", {{petrol(), 0.3}, {ethanol(), 0.7}}).value();
  const Fuel by_mass =
      blend_by_mass("a", {{petrol(), 0.3 * 0.745 / mass}, {ethanol(), 0.7 * 0.789 / mass}}).value();
  EXPECT_NEAR(by_volume.stoichiometric_afr, by_mass.stoichiometric_afr, 1e-12);
  EXPECT_NEAR(by_volume.density.si, mass * 1000,
              1e-9);  // the mass of one litre of each share, in kg/m3
  EXPECT_NEAR(by_mass.density.si, by_volume.density.si, 1e-9);
}

TEST(Fuel, TheMassOfEveryElementIsKeptInABlend) {
  const Fuel m15 = fuel_named("M15").value();
  const double w = 0.15 * 0.792 / (0.15 * 0.792 + 0.85 * 0.745);
  EXPECT_NEAR(m15.composition.oxygen, w * methanol().composition.oxygen, 1e-12);
  EXPECT_NEAR(m15.composition.carbon + m15.composition.hydrogen + m15.composition.oxygen, 1, 1e-12);
}

TEST(Fuel, NamesAreReadAsPeopleWriteThem) {
  EXPECT_EQ(fuel_named("Gasoline").value(), petrol());
  EXPECT_EQ(fuel_named(" e 10 ").value().name, "E10");
  EXPECT_EQ(fuel_named("E0").value(), petrol());
  EXPECT_EQ(fuel_named("e100").value(), ethanol());
  EXPECT_EQ(fuel_named("M100").value(), methanol());
  EXPECT_EQ(fuel_named("e7.5").value().name, "E7.5");
  EXPECT_EQ(fuel_named("e10").value().name, fuel_named("E10%").value().name);
}

TEST(Fuel, ANameThatIsNoneIsRefusedWithTheNearest) {
  EXPECT_NE(fuel_named("petrl").error().message.find("did you mean \"petrol\""), std::string::npos);
  EXPECT_EQ(fuel_named("E120").error().code, ErrorCode::out_of_range);
  for (const char* bad : {"", "E", "diesel", "E-10x", "98 octane", "Enan", "E1e2", "E..", "M"}) {
    EXPECT_FALSE(fuel_named(bad).ok()) << bad;
  }
}

TEST(Fuel, PumpE85IsLessCertainThanPetrol) {
  const Fuel e85 = fuel_named("E85").value();
  // 51 and 83 % by volume bracket what is sold (from memory).
  const double winter = fuel_named("E70").value().stoichiometric_afr;
  EXPECT_GT(e85.stoichiometric_tolerance, 0.5);
  EXPECT_GT(winter, e85.stoichiometric_afr);
  EXPECT_LT(petrol().stoichiometric_tolerance, 0.2);
}

TEST(Fuel, SharesThatDoNotAddUpAreRefused) {
  EXPECT_FALSE(blend_by_mass("x", {{petrol(), 0.5}, {ethanol(), 0.6}}).ok());
  EXPECT_FALSE(blend_by_volume("x", {{petrol(), 1.5}, {ethanol(), -0.5}}).ok());
  EXPECT_FALSE(blend_by_volume("x", {}).ok());
}

}  // namespace
}  // namespace fuelwright::car::fuel_test
