#include "sim/virtual_car/cycle.h"

#include <gtest/gtest.h>

#include <cstdlib>
#include <fstream>
#include <sstream>

namespace fuelwright::sim::virtual_car::cycle_test {
namespace {

TEST(Cycle, IsReadInTheUnitItsHeaderNamesAndLinearBetweenPoints) {
  const auto mps = read_cycle("cycSecs,cycMps,cycGrade\n0,0,0\n2,4,0\n", "a.csv");
  ASSERT_TRUE(mps.ok());
  EXPECT_DOUBLE_EQ(mps->speed_at(0.5 * second).si, 1);
  EXPECT_DOUBLE_EQ(mps->speed_at(9.0 * second).si, 4);
  EXPECT_DOUBLE_EQ(mps->length().si, 2);
  const auto kmh = read_cycle("# a\r\n\r\ntime_s,Speed (km/h)\r\n10,0\r\n11,36\r\n", "a.csv");
  ASSERT_TRUE(kmh.ok());
  EXPECT_DOUBLE_EQ(kmh->speed_at(1.0 * second).si, 10);  // begins at its first time
  const auto mph = read_cycle("t,mph\n0,0\n1,60\n", "a.csv");
  ASSERT_TRUE(mph.ok());
  EXPECT_NEAR(mph->speed_mps[1], 26.8224, 1e-9);
}

TEST(Cycle, WhatCannotBeDrivenIsRefusedWithItsLine) {
  const auto line = [](const char* text) {
    const auto r = read_cycle(text, "a.csv");
    return r.ok() ? std::string("read") : r.error().line();
  };
  EXPECT_EQ(line("time_s,speed_mps\n0,0\n1,fast\n").substr(0, 8), "a.csv:3:");
  EXPECT_NE(line("time,speed\n0,0\n1,1\n").find("no unit"), std::string::npos);
  EXPECT_NE(line("0,0\n1,1\n").find("no unit"), std::string::npos);
  EXPECT_NE(line("t,mps\n1,0\n1,2\n").find("does not come after"), std::string::npos);
  EXPECT_NE(line("t,mps\n0,0\n1,-2\n").find("expected 0 to"), std::string::npos);
  EXPECT_NE(line("t,mps\n0,0\n").find("fewer than two"), std::string::npos);
  EXPECT_NE(line("").find("fewer than two"), std::string::npos);
}

TEST(Cycle, TheInventedOnesCanBeRead) {
  for (const char* name : {"town", "country", "motorway", "brisk", "ring"}) {
    std::ifstream in(std::string(FUELWRIGHT_SOURCE_DIR) + "/examples/cycles/" + name + ".csv");
    std::ostringstream text;
    text << in.rdbuf();
    const auto cycle = read_cycle(text.str(), name);
    ASSERT_TRUE(cycle.ok()) << cycle.error().line();
    EXPECT_GT(cycle->length().si, 200) << name;
    EXPECT_EQ(cycle->speed_mps.back(), 0) << name;
  }
}

TEST(Cycle, OutsideCyclesCanBeRead) {
  const char* folder = std::getenv("FUELWRIGHT_OUTSIDE_DATA");
  if (folder == nullptr) GTEST_SKIP() << "FUELWRIGHT_OUTSIDE_DATA is not set";
  // Lengths: 40 CFR part 86 appendix I and part 600 appendix I (from memory).
  for (const auto& [name, seconds] :
       {std::pair{"udds", 1369.0}, std::pair{"hwfet", 765.0}, std::pair{"us06", 600.0}}) {
    std::ifstream in(std::string(folder) + "/cycles/" + name + ".csv");
    std::ostringstream text;
    text << in.rdbuf();
    const auto cycle = read_cycle(text.str(), name);
    ASSERT_TRUE(cycle.ok()) << cycle.error().line();
    EXPECT_NEAR(cycle->length().si, seconds, 5) << name;
  }
}

}  // namespace
}  // namespace fuelwright::sim::virtual_car::cycle_test
