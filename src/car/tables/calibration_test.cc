// Curves, settings and how values came about: limits, and exact both ways in every form of file.
#include "car/tables/calibration.h"

#include <gtest/gtest.h>

#include <cmath>
#include <nlohmann/json.hpp>
#include <random>

#include "car/tables/cdf.h"
#include "car/tables/difference.h"
#include "car/tables/table_json.h"

namespace fuelwright::car::calibration_test {
namespace {

using Json = nlohmann::json;

Axis any_axis(AxisKind kind, std::mt19937_64& random) {
  const auto [low, high] = kind == AxisKind::battery_voltage ? std::pair{6.0, 17.0}
                           : kind == AxisKind::map_rate      ? std::pair{0.0, 2e6}
                                                             : std::pair{233.0, 390.0};
  std::uniform_real_distribution<double> step(0.5, 1.5);
  std::vector<double> points{low};
  for (int i = 1; i < 7; ++i) points.push_back(points.back() + step(random) * (high - low) / 10);
  return *Axis::make(kind, points);
}

double any_between(const Limits& limits, std::mt19937_64& random) {
  return std::uniform_real_distribution<double>(limits.lowest, limits.highest)(random);
}

// Every curve, every setting and a spark table, with stories; numbers as bad as they come.
Calibration any_calibration(unsigned seed) {
  std::mt19937_64 random(seed);
  Calibration c;
  Surface spark = Surface::flat({Axis::even(AxisKind::engine_speed, 600, 6500, 5),
                                 Axis::even(AxisKind::map_absolute, 20e3, 100e3, 4)},
                                0);
  for (double& v : spark.values) v = any_between(limits_of(TableWhat::spark), random);
  c.tables.emplace(TableWhat::spark, spark);
  c.origins[TableWhat::spark] = {"from the burn",
                                 std::vector<double>(spark.values.size(), 1.0 / 3)};
  for (const CurveWhat what : all_curves()) {
    Curve curve{any_axis(axis_of(what), random), {}};
    for (std::size_t i = 0; i < curve.axis.size(); ++i) {
      curve.values.push_back(any_between(limits_of(what), random));
    }
    c.origins[what] = {"curve \"" + std::string(name_of(what)) + "\""};
    c.curves.emplace(what, std::move(curve));
  }
  for (const SettingWhat what : all_settings()) {
    c.settings[what] = any_between(limits_of(what), random);
    c.origins[what] = {"setting"};
  }
  const auto order = [&](SettingWhat low, SettingWhat high) {
    if (c.settings[low] > c.settings[high]) std::swap(c.settings[low], c.settings[high]);
  };
  order(SettingWhat::soft_rev_limit, SettingWhat::hard_rev_limit);
  order(SettingWhat::overrun_resume, SettingWhat::overrun_entry);
  order(SettingWhat::closed_loop_richest, SettingWhat::closed_loop_leanest);
  return c;
}

TEST(Calibration, EveryPartHasANameThatReadsBack) {
  for (const TableWhat w : all_tables()) EXPECT_EQ(*part_named(name_of(w)), What(w));
  for (const CurveWhat w : all_curves()) EXPECT_EQ(*part_named(name_of(w)), What(w));
  for (const SettingWhat w : all_settings()) EXPECT_EQ(*part_named(name_of(w)), What(w));
  const auto no = part_named("warm_up_feul");
  ASSERT_FALSE(no);
  EXPECT_NE(no.error().message.find("did you mean \"warm_up_fuel\"?"), std::string::npos);
}

TEST(Calibration, ACurveIsLinearBetweenItsPointsAndHoldsItsEdges) {
  const Curve c{*Axis::make(AxisKind::coolant_temperature, {253.15, 293.15}), {0.8, 0.2}};
  EXPECT_NEAR(c.at(273.15), 0.5, 1e-12);  // halfway
  EXPECT_EQ(c.at(200), 0.8);
  EXPECT_EQ(c.at(400), 0.2);
  OperatingPoint at;
  at.coolant = celsius(10);  // a quarter of the way from 20 degC down to -20 degC
  EXPECT_NEAR(c.at(at), 0.35, 1e-12);
}

TEST(Calibration, JsonCarriesEveryPartAndItsStoryToTheSameDoubles) {
  for (unsigned seed = 0; seed < 30; ++seed) {
    Revision r;
    r.calibration = any_calibration(seed);
    ASSERT_TRUE(validate(r.calibration)) << validate(r.calibration).error().line();
    const auto back = read_tables_json(write_tables_json(r));
    ASSERT_TRUE(back) << back.error().line();
    EXPECT_EQ(*back, r.calibration);
  }
}

TEST(Calibration, CdfCarriesEveryNumberToTheSameDoubles) {
  for (unsigned seed = 0; seed < 30; ++seed) {
    const Calibration c = any_calibration(seed);
    const auto all = read_cdf(write_cdf(c));
    ASSERT_TRUE(all) << all.error().line();
    ASSERT_EQ(all->size(), 1U + kCurves + kSettings);
    Calibration back;
    for (const CdfInstance& i : *all) {
      const What what = *part_named(i.name);
      if (const auto* curve = std::get_if<CurveWhat>(&what)) {
        const auto read = curve_of(i, *curve);
        ASSERT_TRUE(read) << read.error().line();
        back.curves.emplace(*curve, *read);
      } else if (const auto* setting = std::get_if<SettingWhat>(&what)) {
        const auto read = setting_of(i, *setting);
        ASSERT_TRUE(read) << read.error().line();
        back.settings.emplace(*setting, *read);
      } else {
        TextReading reading;
        reading.what = std::get<TableWhat>(what);
        const auto read = table_of(i, reading);
        ASSERT_TRUE(read) << read.error().line();
        back.tables.emplace(reading.what, read->surface);
      }
    }
    EXPECT_TRUE(same_numbers(back, c));
  }
  EXPECT_EQ(read_cdf(write_cdf(any_calibration(1), CurveWhat::dead_time))->size(), 1U);
}

TEST(Calibration, CdfUnitsOfOthersAreConverted) {
  CdfInstance i;
  i.name = "dead_time";
  i.kind = CdfKind::curve;
  i.unit = "us";
  i.axes = {{"mV", "", {"14000", "12000"}}};  // falling: turned round
  i.values = {{"900", "1200"}};
  const auto c = curve_of(i, CurveWhat::dead_time);
  ASSERT_TRUE(c) << c.error().line();
  EXPECT_EQ(c->axis[0], 12.0);
  EXPECT_NEAR(c->values[0], 1.2e-3, 1e-15);
  i.unit = "bar";
  EXPECT_EQ(curve_of(i, CurveWhat::dead_time).error().code, ErrorCode::unknown_unit);
  i.unit = "us";
  i.values = {{"900"}};
  EXPECT_FALSE(curve_of(i, CurveWhat::dead_time));
  i.kind = CdfKind::value;
  i.values = {{"6400"}};
  i.unit = "rpm";
  EXPECT_EQ(*setting_of(i, SettingWhat::hard_rev_limit), 6400);
  i.values = {{"64000"}};
  EXPECT_FALSE(setting_of(i, SettingWhat::hard_rev_limit));
}

TEST(Calibration, WhatCannotBeIsRefusedAndThePlaceNamed) {
  const Calibration good = any_calibration(4);
  const auto wrong = [&](const auto& change) {
    Calibration c = good;
    change(c);
    const auto r = validate(c);
    return r ? std::string("no error") : r.error().line();
  };
  EXPECT_NE(wrong([](Calibration& c) {
              c.tables.at(TableWhat::spark).values[0] = 71;
            }).find("table spark at 600 rpm, 20.00 kPa"),
            std::string::npos);
  EXPECT_NE(wrong([](Calibration& c) {
              c.curves.at(CurveWhat::dead_time).values[0] = NAN;
            }).find("curve dead_time at 6.000 V"),
            std::string::npos);
  EXPECT_NE(wrong([](Calibration& c) {
              c.curves.at(CurveWhat::warm_up_fuel).axis =
                  Axis::even(AxisKind::intake_temperature, 250, 300, 7);
            }).find("expected coolant temperature"),
            std::string::npos);
  EXPECT_NE(wrong([](Calibration& c) {
              c.settings[SettingWhat::soft_rev_limit] = 6500;
              c.settings[SettingWhat::hard_rev_limit] = 6400;
            }).find("soft_rev_limit: 6500 must not exceed"),
            std::string::npos);
  EXPECT_NE(wrong([](Calibration& c) {
              c.settings[SettingWhat::overrun_resume] = c.settings[SettingWhat::overrun_entry];
            }).find("must lie below"),
            std::string::npos);
  EXPECT_NE(wrong([](Calibration& c) {
              c.origins[TableWhat::ve] = {"nothing there"};
            }).find("no such value"),
            std::string::npos);
  EXPECT_NE(wrong([](Calibration& c) {
              c.origins[TableWhat::spark].half_width.pop_back();
            }).find("half-widths came"),
            std::string::npos);
  EXPECT_NE(wrong([](Calibration& c) {
              c.origins[TableWhat::spark].half_width[3] = -1;
            }).find("not 0 or more"),
            std::string::npos);
}

TEST(Calibration, DamagedJsonOfCurvesAndSettingsIsOneLineThatNamesThem) {
  Revision r;
  r.calibration = any_calibration(2);
  const Json good = Json::parse(write_tables_json(r));
  const auto broken = [&](const char* pointer, const Json& value) {
    Json j = good;
    j[Json::json_pointer(pointer)] = value;
    const auto read = read_tables_json(j.dump());
    return read ? std::string("no error") : read.error().line();
  };
  EXPECT_NE(broken("/curves/0/name", "x").find("curve 1: no curve"), std::string::npos);
  EXPECT_NE(broken("/curves/0/values", Json::array({1})).find("curve cranking_fuel: 1 values"),
            std::string::npos);
  EXPECT_NE(broken("/curves/0/unit", "deg").find("curve cranking_fuel: \"deg\""),
            std::string::npos);
  EXPECT_NE(broken("/curves/0/x/name", "battery_voltage").find("expected coolant_temperature"),
            std::string::npos);
  EXPECT_NE(broken("/curves/1/name", "cranking_fuel"), "no error");
  EXPECT_NE(broken("/settings/0/value", "1").find("setting injector_flow"), std::string::npos);
  EXPECT_NE(broken("/settings/0/unit", "furlong").find("setting injector_flow"), std::string::npos);
  EXPECT_NE(broken("/settings/1/name", "injector_flow"), "no error");
  EXPECT_NE(broken("/settings", 3).find("\"settings\" is no list"), std::string::npos);
  EXPECT_NE(broken("/tables/0/half_width", "wide"), "no error");
  EXPECT_NE(broken("/tables/0/reason", 3), "no error");
  EXPECT_NE(broken("/tables/0/reason", std::string(3000, 'a')), "no error");
  EXPECT_EQ(broken("/settings/0/reason", "another"), "no error");
}

TEST(Calibration, DifferencesOfCurvesSettingsAndSparkAreFound) {
  const Calibration a = any_calibration(7);
  EXPECT_TRUE(curve_differences(a, a).empty());
  EXPECT_TRUE(setting_differences(a, a).empty());
  Calibration b = a;
  b.curves.at(CurveWhat::warm_up_fuel).values[2] += 0.01;
  b.curves.at(CurveWhat::warm_up_fuel).values[5] -= 0.02;
  b.curves.erase(CurveWhat::idle_air);
  b.settings[SettingWhat::idle_spark] += 2;
  b.settings.erase(SettingWhat::fuel_density);
  b.tables.at(TableWhat::spark).values[1] = a.tables.at(TableWhat::spark).values[1] - 3;
  const auto curves = curve_differences(a, b);
  ASSERT_EQ(curves.size(), 2U);
  EXPECT_EQ(curves[0].what, CurveWhat::warm_up_fuel);
  EXPECT_EQ(curves[0].changed, 2U);
  EXPECT_EQ(curves[0].largest->i, 5U);
  EXPECT_FALSE(curves[1].after);
  const auto settings = setting_differences(a, b);
  ASSERT_EQ(settings.size(), 2U);
  EXPECT_FALSE(settings[0].after);  // fuel_density stands first
  EXPECT_NEAR(*settings[1].after - *settings[1].before, 2, 1e-12);
  const auto tables = differences(a, b);
  ASSERT_EQ(tables.size(), 1U);
  EXPECT_NEAR(tables[0].largest_fall->change(), -3, 1e-9);
  // Stories are not numbers.
  Calibration c = a;
  c.origins.clear();
  EXPECT_TRUE(same_numbers(a, c));
  EXPECT_FALSE(a == c);
}

TEST(Setting, FuelPressureIsReadInPsiInUsUnits) {
  const ValueUnit unit = unit_of(SettingWhat::injector_pressure);
  EXPECT_EQ(format_value(300e3, unit, UnitSystem::us, 4), "43.51 psi");  // 300/6.894757
  EXPECT_EQ(format_value(300e3, unit, UnitSystem::metric, 4), "300.0 kPa");
}

}  // namespace
}  // namespace fuelwright::car::calibration_test
