#include "advice/guard/rules.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "base/units/points.h"
#include "car/build/sheet_file.h"

namespace fuelwright::advice::rules_test {
namespace {

car::Sheet a_sheet() {
  const auto sheet = car::read_sheet(
      "[engine]\ndisplacement = \"2.0 l\"\ncylinders = 4\n[cam]\nintake_duration_050 = \"205 "
      "deg\"\n[injection]\ninjector_flow = \"250 cc/min at 3 bar\"\n[fuel]\nname = \"E10\"\n",
      "a.toml");
  EXPECT_TRUE(sheet.ok());
  return *sheet;
}

TEST(GuardRules, SafeDefaultsAreValidAndAreThoseOfTheTrade) {
  const Rules r = safe_rules(a_sheet());
  EXPECT_TRUE(validate(r).ok());
  EXPECT_DOUBLE_EQ(r.of(RuleKind::lean_under_load).limit, 0.92);
  EXPECT_DOUBLE_EQ(r.of(RuleKind::lean_under_load).while_above, 90e3);
  EXPECT_DOUBLE_EQ(r.of(RuleKind::coolant).limit, 383.15);
  EXPECT_DOUBLE_EQ(r.of(RuleKind::fuel_pressure).dwell.si, 0.2);
}

TEST(GuardRules, JsonReadsBackToTheLastBit) {
  Rules r = safe_rules(a_sheet());
  r.of(RuleKind::duty).limit = 0.8700000000000001;
  r.of(RuleKind::knock).on = false;
  const auto back = read_rules_json(write_rules_json(r), safe_rules(a_sheet()));
  ASSERT_TRUE(back.ok()) << back.error().line();
  EXPECT_EQ(*back, r);
}

TEST(GuardRules, OtherUnitsOfTheSameKindAreRead) {
  const auto r = read_rules_json(
      R"({"format":"fuelwright guard rules 1","rules":[
          {"rule":"coolant","limit":{"value":221,"unit":"degF"}},
          {"rule":"oil_pressure","limit":{"value":12,"unit":"psi"}}]})",
      safe_rules(a_sheet()));
  ASSERT_TRUE(r.ok()) << r.error().line();
  EXPECT_NEAR(in_celsius(kelvin(r->of(RuleKind::coolant).limit)), 105, 1e-9);
  EXPECT_NEAR(r->of(RuleKind::oil_pressure).limit, 12 * 6894.757, 1);
  EXPECT_DOUBLE_EQ(r->of(RuleKind::duty).limit, 0.90);  // what is left out stays
}

TEST(GuardRules, WhatCannotBeIsRefusedNamingTheRule) {
  const auto with = [](std::string rule) {
    return read_rules_json(R"({"format":"fuelwright guard rules 1","rules":[)" + rule + "]}",
                           safe_rules(a_sheet()));
  };
  const auto line = [&](std::string rule) {
    const auto r = with(std::move(rule));
    EXPECT_FALSE(r.ok());
    return r.ok() ? std::string() : r.error().line();
  };
  EXPECT_THAT(line(R"({"rule":"coolant","limit":{"value":300,"unit":"degC"}})"),
              testing::HasSubstr("guard rule coolant: limit"));
  EXPECT_THAT(line(R"({"rule":"coolant","limit":{"value":110,"unit":"kPa"}})"),
              testing::HasSubstr("expected one of"));
  EXPECT_THAT(line(R"({"rule":"colour"})"), testing::HasSubstr("\"colour\" is no rule"));
  EXPECT_THAT(line(R"({"rule":"duty","dwell":{"value":-1,"unit":"s"}})"),
              testing::HasSubstr("dwell"));
  EXPECT_THAT(line(R"({"rule":"duty","limit":0.9})"), testing::HasSubstr("guard rule duty.limit"));
  EXPECT_FALSE(read_rules_json("[", safe_rules(a_sheet())).ok());
  EXPECT_FALSE(read_rules_json(std::string(100000, ' '), safe_rules(a_sheet())).ok());
}

TEST(GuardRules, EveryRuleHasAnInstructionAndItsPlaceInTheList) {
  for (std::size_t i = 0; i < all_rules().size(); ++i) {
    EXPECT_EQ(static_cast<std::size_t>(all_rules()[i].kind), i);
    EXPECT_GT(std::string(all_rules()[i].instruction).size(), 15U);
  }
}

}  // namespace
}  // namespace fuelwright::advice::rules_test
