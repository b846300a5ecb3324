#include "service/job/calibration_json.h"

#include <gtest/gtest.h>

#include <bit>
#include <cmath>
#include <limits>
#include <nlohmann/json.hpp>
#include <random>

namespace fuelwright::service::calibration_json_test {
namespace {

using nlohmann::json;

car::Calibration with_values(std::vector<double> values) {
  car::Calibration out;
  out.tables.emplace(
      car::TableWhat::ve,
      car::Surface{{car::Axis::even(car::AxisKind::engine_speed, 600, 7000, values.size()),
                    *car::Axis::make(car::AxisKind::vacuum, {std::nextafter(40e3, 0)})},
                   std::move(values)});
  return out;
}

TEST(CalibrationJson, EveryDoubleReadsBackToTheSameDouble) {
  std::mt19937_64 random(20260504);
  for (int round = 0; round < 500; ++round) {
    std::vector<double> values(64);
    for (double& v : values) {
      do {
        // Any bit pattern of a positive double that a VE may have: exponent 2^-5 .. 2^0.
        v = std::bit_cast<double>((random() & 0x000FFFFFFFFFFFFFULL) |
                                  ((1018 + random() % 6) << 52U));
      } while (v < 0.02 || v > 2.5);
    }
    const auto before = with_values(values);
    const auto after = read_calibration(json_of(before).dump());
    ASSERT_TRUE(after) << after.error().line();
    ASSERT_EQ(*after, before);  // operator== on doubles: exact
  }
}

TEST(CalibrationJson, EvidenceReadsBackExactlyWithTheSmallestNumbersThereAre) {
  const double tiny = std::numeric_limits<double>::denorm_min();
  const car::Evidence before{
      .what = car::TableWhat::correction,
      .grid = {car::Axis::even(car::AxisKind::engine_speed, 1000, 2000, 3),
               car::Axis::even(car::AxisKind::throttle, 0.1, 0.1, 1)},
      .estimate = {0.1 + 0.2, 1.0, 1.145},
      .sd_log = {tiny, 0, 1e300},
      .seconds = {1.0 / 3.0, 0, 5e5},
      .mark = {car::NodeMark::measured, car::NodeMark::inferred, car::NodeMark::prior_only}};
  const auto after = read_evidence(json_of(before).dump());
  ASSERT_TRUE(after) << after.error().line();
  EXPECT_EQ(after->what, before.what);
  EXPECT_EQ(after->grid, before.grid);
  EXPECT_EQ(after->estimate, before.estimate);
  EXPECT_EQ(after->sd_log, before.sd_log);
  EXPECT_EQ(after->seconds, before.seconds);
  EXPECT_EQ(after->mark, before.mark);
}

car::Calibration with_parts() {
  car::Calibration c = with_values({0.5, 1.0 / 3});
  c.curves.emplace(car::CurveWhat::warm_up_fuel,
                   car::Curve{*car::Axis::make(car::AxisKind::coolant_temperature, {253.15, 343.1}),
                              {2.0 / 3, 0}});
  c.settings[car::SettingWhat::idle_spark] = 18.1;
  c.origins[car::TableWhat::ve] = {"computed from the parts", {0.05, 0.07}};
  c.origins[car::SettingWhat::idle_spark] = {"by the cam"};
  return c;
}

TEST(CalibrationJson, CurvesSettingsAndStoriesReadBackExactly) {
  const auto back = read_calibration(json_of(with_parts()).dump());
  ASSERT_TRUE(back) << back.error().line();
  EXPECT_EQ(*back, with_parts());
}

TEST(CalibrationJson, ACalibrationOfTablesAloneIsWrittenAndReadAsItAlwaysWas) {
  const json j = json_of(with_values({0.5, 0.75}));
  EXPECT_EQ(j.size(), 1U);  // "tables", nothing else
  const auto old = read_calibration(
      R"({"tables":{"ve":{"values":[0.5,0.75],"x":{"kind":"engine_speed","points":[600.0,7000.0]},)"
      R"("y":{"kind":"vacuum","points":[39999.99]}}}})");
  ASSERT_TRUE(old) << old.error().line();
  EXPECT_TRUE(old->curves.empty());
  EXPECT_EQ(old->find(car::TableWhat::ve)->node(1, 0), 0.75);
}

TEST(CalibrationJson, DamagedCurvesSettingsAndStoriesAreRefused) {
  const json good = json_of(with_parts());
  const auto broken = [&](const char* pointer, const json& value) {
    json j = good;
    j[json::json_pointer(pointer)] = value;
    const auto r = calibration_from(j);
    return r ? std::string("no error") : r.error().line();
  };
  EXPECT_EQ(broken("/curves/warm_up_fuel/values", json{1}),
            "curve warm_up_fuel: 1 values came, expected 2");
  EXPECT_EQ(broken("/curves", 3), "calibration: \"curves\" is not a JSON object");
  EXPECT_NE(broken("/curves/x", json::object()), "no error");
  EXPECT_EQ(broken("/settings/idle_spark", "1"), "setting idle_spark: is not a number");
  EXPECT_NE(broken("/settings/idle_spark", 90).find("outside"), std::string::npos);
  EXPECT_NE(broken("/origins/hard_rev_limit", json{{"reason", "x"}}).find("no such value"),
            std::string::npos);
  EXPECT_NE(broken("/origins/ve/half_width", json{0.1}), "no error");
  EXPECT_NE(broken("/origins/ve/reason", 3), "no error");
}

TEST(CalibrationJson, TheFormStandsAsDocumented) {
  const json j = json_of(with_values({0.5, 0.75}));
  EXPECT_EQ(j["tables"]["ve"]["x"]["kind"], "engine_speed");
  EXPECT_EQ(j["tables"]["ve"]["x"]["points"], (json{600.0, 7000.0}));
  EXPECT_EQ(j["tables"]["ve"]["y"]["kind"], "vacuum");
  EXPECT_EQ(j["tables"]["ve"]["values"], (json{0.5, 0.75}));
}

std::string complaint(const json& j) {
  const auto r = calibration_from(j);
  return r ? "" : r.error().line();
}

TEST(CalibrationJson, AnythingThatIsNoCalibrationIsRefusedAndThePlaceNamed) {
  const json good = json_of(with_values({0.5, 0.75}));
  ASSERT_EQ(complaint(good), "");
  const auto changed = [&](const char* pointer, const json& value) {
    json j = good;
    j[json::json_pointer(pointer)] = value;
    return complaint(j);
  };
  EXPECT_EQ(complaint(json::object()), "calibration: \"tables\" is missing");
  EXPECT_EQ(complaint(json(3)), "calibration: is not a JSON object");
  EXPECT_EQ(changed("/tables", 3), "calibration: \"tables\" is not a JSON object");
  EXPECT_EQ(changed("/tables/ve/values", json{0.5}), "table ve: 1 values came, expected 2");
  EXPECT_EQ(changed("/tables/ve/values/1", "x"), "table ve: \"values\", entry 2, is not a number");
  EXPECT_EQ(changed("/tables/ve/values/1", nullptr),
            "table ve: \"values\", entry 2, is not a number");
  EXPECT_NE(changed("/tables/ve/values/1", 9.0).find("outside"), std::string::npos);
  EXPECT_NE(changed("/tables/ve/x/kind", "boost").find("table ve, axis x"), std::string::npos);
  EXPECT_NE(changed("/tables/ve/x/points/0", 9000.0).find("increase"), std::string::npos);
  EXPECT_EQ(changed("/tables/ve/x", json::array()), "table ve, axis x: is not a JSON object");
  EXPECT_NE(changed("/tables/sparks", json::object()).find("sparks"), std::string::npos);
  EXPECT_FALSE(read_calibration("{"));
}

TEST(CalibrationJson, EvidenceThatCannotBeIsRefused) {
  const car::Evidence good{.what = car::TableWhat::ve,
                           .grid = {car::Axis::even(car::AxisKind::engine_speed, 1000, 2000, 2),
                                    car::Axis::even(car::AxisKind::throttle, 0.1, 0.1, 1)},
                           .estimate = {0.8, 0.9},
                           .sd_log = {0.1, 0.1},
                           .seconds = {0, 3},
                           .mark = {car::NodeMark::measured, car::NodeMark::inferred}};
  ASSERT_TRUE(validate(good));
  car::Evidence e = good;
  e.mark.pop_back();
  EXPECT_FALSE(validate(e));
  e = good;
  e.sd_log[1] = NAN;
  EXPECT_FALSE(validate(e));
  e = good;
  e.estimate[0] = 0;
  EXPECT_FALSE(validate(e));
  e = good;
  e.seconds[0] = -1;
  EXPECT_FALSE(validate(e));
  json j = json_of(good);
  j["mark"][0] = "sure";
  EXPECT_FALSE(evidence_from(j));
}

}  // namespace
}  // namespace fuelwright::service::calibration_json_test
