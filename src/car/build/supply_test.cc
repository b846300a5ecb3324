// Section supply of the sheet: what is filled, what is asked, what contradicts.
#include <gtest/gtest.h>

#include "car/build/derived.h"
#include "car/build/sheet_file.h"

namespace fuelwright::car::supply_test {
namespace {

std::string sheet_with(const std::string& injection, const std::string& supply) {
  return "[engine]\ndisplacement = \"5.7 l\"\ncylinders = 8\n[cam]\nintake_duration_050 = "
         "\"214 deg\"\n[fuel]\nname = \"E10\"\n[injection]\ninjector_flow = \"36 lb/h at 43.5 "
         "psi\"\n" +
         injection + "[supply]\n" + supply;
}
Sheet read(const std::string& injection, const std::string& supply) {
  auto sheet = read_sheet(sheet_with(injection, supply), "sheet.toml");
  EXPECT_TRUE(sheet.ok()) << (sheet.ok() ? "" : sheet.error().line());
  return sheet.ok() ? *sheet : Sheet{};
}
Error error_of(const std::string& injection, const std::string& supply) {
  auto sheet = read_sheet(sheet_with(injection, supply), "sheet.toml");
  EXPECT_FALSE(sheet.ok());
  return sheet.ok() ? Error{} : sheet.error();
}

TEST(SupplySection, IsFilledWhereNothingIsSaid) {
  const Sheet s = read("", "");
  EXPECT_EQ(s.supply.pump_curve_flow.values.size(), 5u);
  EXPECT_EQ(s.supply.injector_match.values.size(), 8u);
  EXPECT_EQ(s.supply.lift_flow.value.si, 0);
  EXPECT_EQ(s.supply.pump_volts.source, Source::computed);
  EXPECT_NEAR(s.supply.delivery_flow.value.si, s.injection.pump_flow.value.si, 1e-12);
}

// ASTM B258 (from memory): 10 AWG 5.261 mm2, 12 AWG 3.309, 18 AWG 0.823.
TEST(SupplySection, AWireMayBeGivenByItsGauge) {
  EXPECT_NEAR(gauge_area(10).in(mm2), 5.261, 0.001);
  EXPECT_NEAR(gauge_area(18).in(mm2), 0.823, 0.001);
  EXPECT_NEAR(read("", "wire_area = \"12 AWG\"\n").supply.wire_area.value.in(mm2), 3.309, 0.001);
  EXPECT_EQ(error_of("", "wire_area = \"x AWG\"\n").code, ErrorCode::bad_input);
}

// IEC 60028 (from memory): 1/58 = 0.017241 ohm mm2/m at 20 degC, 0.00393 per kelvin.
TEST(SupplySection, CopperLosesAsItsStandardSays) {
  EXPECT_NEAR(copper_resistance(1.0 * metre, 1.0 * mm2, celsius(20)).si, 0.017241, 1e-6);
  EXPECT_NEAR(copper_resistance(10.0 * metre, 2.5 * mm2, celsius(70)).si,
              0.017241 * 4 * (1 + 0.00393 * 50), 1e-5);
}

// By hand: 8 A, 6.5 m of 1 mm2 at 40 degC: 8 x 6.5 x 0.017241 x 1.0786 = 0.967 V; contacts 0.2 V.
TEST(SupplySection, TheDropFollowsFromTheWiresThatWereGiven) {
  const Sheet s = read("",
                       "pump_current = \"8 A\"\nwire_area = \"1 mm2\"\nwire_length = \"5 m\"\n"
                       "ground_length = \"1.5 m\"\ncontact_drop = \"0.2 V\"\n");
  EXPECT_NEAR(s.injection.pump_wiring_drop.value.si, 1.167, 0.001);
  EXPECT_EQ(s.injection.pump_wiring_drop.source, Source::computed);
  EXPECT_NEAR(s.supply.pump_volts.value.si, 13.8 - 1.167, 0.001);
}

TEST(SupplySection, VoltsAtThePumpSayWhatTheWiringLoses) {
  const Sheet s = read("", "pump_volts = \"11.9 V\"\ncharging_voltage = \"13.9 V\"\n");
  EXPECT_NEAR(s.injection.pump_wiring_drop.value.si, 2.0, 1e-9);
}

TEST(SupplySection, ACurveSaysTheRatingThatWasNotGiven) {
  const Sheet s = read("pump_pressure = \"300 kPa\"\n",
                       "pump_curve_pressure = [\"200 kPa\", \"400 kPa\"]\n"
                       "pump_curve_flow = [\"240 l/h\", \"180 l/h\"]\n");
  EXPECT_NEAR(s.injection.pump_flow.value.in(litre_per_h), 210, 1e-9);
}

TEST(SupplySection, WhatContradictsOrIsHalfSaidIsRefused) {
  const std::string p = "pump_curve_pressure = [\"200 kPa\", \"400 kPa\"]\n";
  const std::string q = "pump_curve_flow = [\"240 l/h\", \"180 l/h\"]\n";
  EXPECT_EQ(error_of("", p).code, ErrorCode::needs_answer);
  EXPECT_EQ(error_of("", q).code, ErrorCode::needs_answer);
  EXPECT_NE(error_of("", p + "pump_curve_flow = [\"180 l/h\", \"240 l/h\"]\n")
                .message.find("does not rise"),
            std::string::npos);
  EXPECT_NE(error_of("", p + "pump_curve_flow = [\"180 l/h\"]\n").message.find("1 flows for 2"),
            std::string::npos);
  EXPECT_NE(error_of("pump_flow = \"300 l/h\"\npump_pressure = \"300 kPa\"\n", p + q)
                .message.find("the curve says 210"),
            std::string::npos);
  EXPECT_EQ(error_of("", "delivery_flow = \"150 l/h\"\n").code, ErrorCode::needs_answer);
  EXPECT_EQ(error_of("pump_wiring_drop = \"1 V\"\n", "pump_volts = \"11.5 V\"\n").code,
            ErrorCode::conflict);
  EXPECT_NE(error_of("", "injector_match = [1, 1, 0.8]\n").message.find("3 values for 8"),
            std::string::npos);
  EXPECT_EQ(error_of("", "filter_loss = \"900 kPa\"\n").code, ErrorCode::out_of_range);
}

}  // namespace
}  // namespace fuelwright::car::supply_test
