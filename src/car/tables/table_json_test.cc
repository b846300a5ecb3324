// JSON tables: exact both ways, and as docs/tables.schema.json says.
#include "car/tables/table_json.h"

#include <gtest/gtest.h>

#include <fstream>
#include <nlohmann/json.hpp>
#include <random>
#include <set>

namespace fuelwright::car::table_json_test {
namespace {

using Json = nlohmann::json;

Revision revision_with(AxisKind load, std::vector<double> points, unsigned seed) {
  std::mt19937_64 random(seed);
  std::uniform_real_distribution<double> value(0.5, 1.9);
  Revision out;
  out.number = 3;
  out.reason = "richer at idle; \"=1+1\" \xC3\xA9";
  out.author = "A. Technician";
  out.when = "2026-05-04T09:30:00Z";
  for (const TableWhat what : {TableWhat::ve, TableWhat::lambda_target, TableWhat::correction}) {
    Surface s = Surface::flat(
        {Axis::even(AxisKind::engine_speed, 612.7, 6498.3, 11), *Axis::make(load, points)}, 0);
    for (double& v : s.values) v = value(random);
    out.calibration.tables.emplace(what, std::move(s));
  }
  return out;
}

TEST(TableJson, EveryRevisionReadsBackToTheSameDoubles) {
  for (unsigned seed = 0; seed < 20; ++seed) {
    std::mt19937_64 random(seed);
    std::uniform_real_distribution<double> place(0, 1);
    std::set<double> shares;
    while (shares.size() < 9) shares.insert(place(random));
    for (const auto& [load, low, high] :
         {std::tuple{AxisKind::map_absolute, 5e3, 450e3},
          std::tuple{AxisKind::vacuum, -390e3, 104e3}, std::tuple{AxisKind::throttle, 0.0, 1.0}}) {
      std::vector<double> points;
      for (const double s : shares) points.push_back(low + s * (high - low));
      const Revision r = revision_with(load, points, seed);
      const auto back = read_tables_json(write_tables_json(r));
      ASSERT_TRUE(back) << back.error().line();
      EXPECT_EQ(*back, r.calibration);
    }
  }
}

TEST(TableJson, OtherUnitsOfTheSameKindAreRead) {
  const auto c = read_tables_json(R"({"format": "fuelwright tables 1", "tables": [
    {"name": "ve", "unit": "%",
     "x": {"name": "engine_speed", "unit": "rpm", "values": [800, 1600]},
     "y": {"name": "map_absolute", "unit": "kPa", "values": [60.1, 100]},
     "values": [55.1, 60, 70, 75]}]})");
  ASSERT_TRUE(c) << c.error().line();
  const Surface* ve = c->find(TableWhat::ve);
  ASSERT_NE(ve, nullptr);
  EXPECT_EQ(ve->grid.y[0], 60100);
  EXPECT_EQ(ve->node(0, 0), 0.551);
}

TEST(TableJson, WhatIsWrongIsOneLineThatNamesTheTable) {
  const Json good =
      Json::parse(write_tables_json(revision_with(AxisKind::throttle, {0.1, 0.5}, 1)));
  const auto broken = [&](const char* pointer, const Json& value) {
    Json j = good;
    j[Json::json_pointer(pointer)] = value;
    const auto r = read_tables_json(j.dump());
    return r ? std::string("no error") : r.error().line();
  };
  EXPECT_EQ(broken("/format", "tables 9"),
            "tables: format \"tables 9\" came; expected \"fuelwright tables 1\"");
  EXPECT_EQ(broken("/tables/0/name", "ignition"),
            "table 1: \"ignition\" is no table; expected ve, lambda_target, correction or spark");
  EXPECT_EQ(broken("/tables/0/values/3", "x"), "table ve: \"values\", entry 4, is not a number");
  EXPECT_EQ(broken("/tables/0/values", Json::array({1})),
            "table ve: 1 values came; expected 22 (2 by 11)");
  EXPECT_EQ(broken("/tables/2/name", "ve"), "table ve: came twice");
  EXPECT_NE(broken("/tables/0/y/unit", "furlong").find("table ve, y: \"furlong\""),
            std::string::npos);
  EXPECT_NE(broken("/tables/0/x/name", "throttle").find("belongs on"), std::string::npos);
  EXPECT_NE(broken("/tables/0/values/0", 7).find("outside 0.02 to 2.5"), std::string::npos);
  EXPECT_NE(broken("/tables", Json::array()), "no error");
  EXPECT_FALSE(read_tables_json("{"));
  EXPECT_FALSE(read_tables_json("[1, 2]"));
  EXPECT_FALSE(read_tables_json(std::string(100000, '[')));
  EXPECT_FALSE(read_tables_json(std::string(std::size_t{5} << 20U, ' ')));
}

// ---- the published schema, by the few words of JSON Schema that it uses

std::string breach(const Json& schema, const Json& value, const std::string& at);

std::string type_breach(const Json& schema, const Json& value, const std::string& at) {
  const std::string type = schema.value("type", "");
  const bool fits =
      type.empty() || (type == "object" && value.is_object()) ||
      (type == "array" && value.is_array()) || (type == "string" && value.is_string()) ||
      (type == "integer" && value.is_number_integer()) || (type == "number" && value.is_number());
  return fits ? "" : at + " is no " + type;
}

std::string object_breach(const Json& schema, const Json& value, const std::string& at) {
  const Json required = schema.value("required", Json::array());
  for (const Json& key : required) {
    if (!value.contains(key.get<std::string>())) return at + " has no " + key.get<std::string>();
  }
  const Json rules = schema.value("properties", Json::object());
  for (const auto& [key, rule] : rules.items()) {
    if (!value.contains(key)) continue;
    if (auto b = breach(rule, value[key], at + "/" + key); !b.empty()) return b;
  }
  return "";
}

std::string array_breach(const Json& schema, const Json& value, const std::string& at) {
  if (value.size() < schema.value("minItems", 0U)) return at + " is too short";
  if (value.size() > schema.value("maxItems", 1000000U)) return at + " is too long";
  for (std::size_t i = 0; i < value.size() && schema.contains("items"); ++i) {
    if (auto b = breach(schema["items"], value[i], at + "/" + std::to_string(i)); !b.empty())
      return b;
  }
  return "";
}

const Json& whole_schema() {
  static const Json schema =
      Json::parse(std::ifstream(FUELWRIGHT_SOURCE_DIR "/docs/tables.schema.json"));
  return schema;
}

std::string breach(const Json& schema, const Json& value, const std::string& at) {
  if (schema.contains("$ref")) {
    const std::string ref = schema["$ref"];
    return breach(whole_schema()[Json::json_pointer(ref.substr(1))], value, at);
  }
  if (auto b = type_breach(schema, value, at); !b.empty()) return b;
  if (schema.contains("const") && schema["const"] != value) return at + " is another constant";
  if (schema.contains("enum")) {
    const Json& all = schema["enum"];
    if (std::find(all.begin(), all.end(), value) == all.end()) return at + " is none of the list";
  }
  if (value.is_object()) return object_breach(schema, value, at);
  if (value.is_array()) return array_breach(schema, value, at);
  return "";
}

TEST(TableJson, WhatIsWrittenFollowsThePublishedSchemaAndAChangedFileDoesNot) {
  for (const AxisKind load : {AxisKind::map_absolute, AxisKind::vacuum, AxisKind::throttle}) {
    const bool share = load == AxisKind::throttle;
    const Json j = Json::parse(
        write_tables_json(revision_with(load, {share ? 0.1 : 10e3, share ? 0.9 : 90e3}, 5)));
    EXPECT_EQ(breach(whole_schema(), j, ""), "");
    for (const char* gone :
         {"/format", "/tables", "/tables/0/x", "/tables/0/y/unit", "/tables/1/values"}) {
      Json less = j;
      const Json::json_pointer p(gone);
      less[p.parent_pointer()].erase(p.back());
      EXPECT_NE(breach(whole_schema(), less, ""), "") << gone;
    }
    Json other = j;
    other["tables"][0]["name"] = "ignition";
    EXPECT_NE(breach(whole_schema(), other, ""), "");
  }
}

}  // namespace
}  // namespace fuelwright::car::table_json_test
