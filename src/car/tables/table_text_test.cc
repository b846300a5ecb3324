#include "car/tables/table_text.h"

#include <gtest/gtest.h>

#include <random>

namespace fuelwright::car::table_text_test {
namespace {

constexpr const char* kPasted =
    "kPa \\ rpm\t800\t1200\t1600\n"
    "30\t55.0\t58.5\t61.0\n"
    "60\t68.0\t72.5\t75.0\n";

TEST(TableText, ATablePastedFromASpreadsheetIsReadWithItsAxes) {
  const auto t = read_table(kPasted, {});
  ASSERT_TRUE(t) << t.error().line();
  EXPECT_EQ(t->surface.grid.y.kind(), AxisKind::map_absolute);
  EXPECT_EQ(t->surface.grid.x[2], 1600);
  EXPECT_EQ(t->surface.grid.y[1], 60000);
  EXPECT_EQ(t->surface.node(1, 0), 0.585);
  EXPECT_EQ(t->note, "values read as %");
}

TEST(TableText, DecimalCommasSemicolonsAndHighLoadOnTopAreRead) {
  const auto t = read_table("kPa \\ rpm;800;1200\r\n60;68,0;72,5\r\n30;55,0;58,5\r\n", {});
  ASSERT_TRUE(t) << t.error().line();
  EXPECT_EQ(t->surface.grid.y[0], 30000);
  EXPECT_EQ(t->surface.node(1, 0), 0.585);
  EXPECT_EQ(t->surface.node(0, 1), 0.68);
}

TEST(TableText, FractionsAreToldFromPercent) {
  const auto t = read_table("kPa \\ rpm\t800\t1200\n30\t0.55\t0.58\n60\t0.68\t0.72\n", {});
  ASSERT_TRUE(t);
  EXPECT_EQ(t->surface.node(1, 1), 0.72);
}

TEST(TableText, ABlockWithoutAxesIsTakenOnlyIfItFits) {
  TextReading reading;
  reading.axes = Grid{Axis::even(AxisKind::engine_speed, 1000, 2000, 2),
                      Axis::even(AxisKind::map_absolute, 40e3, 80e3, 2)};
  const auto t = read_table("55\t60\n70\t75\n", reading);
  ASSERT_TRUE(t) << t.error().line();
  EXPECT_FALSE(t->had_axes);
  EXPECT_EQ(t->surface.node(0, 1), 0.70);
}

TEST(TableText, WhatTheLeftSideMeansIsAskedNotGuessed) {
  const auto t = read_table("\t800\t1200\n30\t55\t58\n60\t68\t72\n", {});
  ASSERT_FALSE(t);
  EXPECT_EQ(t.error().code, ErrorCode::needs_answer);
  TextReading reading;
  reading.load = AxisKind::map_absolute;
  const auto unit = read_table("\t800\t1200\n30\t55\t58\n60\t68\t72\n", reading);
  ASSERT_FALSE(unit);
  EXPECT_EQ(unit.error().code, ErrorCode::needs_answer);
  reading.y_unit = "kPa";
  EXPECT_TRUE(read_table("\t800\t1200\n30\t55\t58\n60\t68\t72\n", reading));
}

TEST(TableText, BadCellsAreNamedByRowAndColumn) {
  const auto t = read_table("kPa \\ rpm\t800\t1200\n30\t55\tabc\n", {});
  ASSERT_FALSE(t);
  EXPECT_EQ(t.error().line(), "row 2, column 3: \"abc\" is not a number");
  EXPECT_FALSE(read_table("", {}));
  EXPECT_FALSE(read_table("kPa \\ rpm\t800\t1200\n30\t55\n", {}));
  EXPECT_FALSE(read_table("kPa \\ rpm\t800\t700\n30\t55\t58\n", {}));
  EXPECT_FALSE(read_table("kPa \\ rpm\t800\t1200\n30\t55\t-4\n", {}));
  EXPECT_FALSE(read_table("furlong \\ rpm\t800\t1200\n30\t55\t58\n", {}));
}

TEST(TableText, WhatWasWrittenReadsBackToTheSameDoubles) {
  std::mt19937_64 random(7);
  std::uniform_real_distribution<double> ve(0.3, 1.1);
  for (const AxisKind load : {AxisKind::map_absolute, AxisKind::throttle}) {
    Grid grid{Axis::even(AxisKind::engine_speed, 600, 6500, 16),
              load == AxisKind::throttle ? Axis::even(load, 0, 1, 12)
                                         : Axis::even(load, 17.3e3, 104.7e3, 12)};
    Surface surface = Surface::flat(grid, 0);
    for (double& v : surface.values) v = ve(random);
    for (const auto form : {TextForm::tsv, TextForm::csv}) {
      const auto back = read_table(write_table(surface, TableWhat::ve, form, UnitSystem::us), {});
      ASSERT_TRUE(back) << back.error().line();
      EXPECT_EQ(back->surface, surface);
    }
  }
}

}  // namespace
}  // namespace fuelwright::car::table_text_test
