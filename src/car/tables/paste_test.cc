// What technicians paste: parts of tables, spreadsheets of many countries, and things that are no
// tables.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include <random>
#include <set>

#include "car/tables/internal/decimal.h"
#include "car/tables/table_text.h"

namespace fuelwright::car::paste_test {
namespace {

Grid small_grid() {
  return {Axis::even(AxisKind::engine_speed, 1000, 4000, 4),
          Axis::even(AxisKind::map_absolute, 40e3, 100e3, 3)};
}

TextReading with_axes(const Grid& grid) {
  TextReading reading;
  reading.axes = grid;
  return reading;
}

std::string error_of(const char* text, const TextReading& reading = {}) {
  const auto t = read_table(text, reading);
  return t ? "no error" : t.error().line();
}

TEST(Paste, ThousandsPartedByAnyKindOfBlankAreOneNumber) {
  for (const char* speed : {"1 500",
                            "1\xC2\xA0"
                            "500",
                            "1\xE2\x80\xAF"
                            "500",
                            "1'500", "1500", "+1500", "1.5e3"}) {
    const auto t = read_table(fmt::format("kPa \\ rpm\t1000\t{}\n30\t55\t58\n", speed).c_str(), {});
    ASSERT_TRUE(t) << speed << ": " << t.error().line();
    EXPECT_EQ(t->surface.grid.x[1], speed == std::string("1.5e3") ? 1.5e3 : 1500) << speed;
  }
}

TEST(Paste, AGermanTableHasPointsBetweenThousandsAndCommasBeforeDecimals) {
  const auto t = read_table("kPa \\ rpm\t1.000\t1.500\n30\t55,5\t58,25\n60,5\t68\t72\n", {});
  ASSERT_TRUE(t) << t.error().line();
  EXPECT_EQ(t->surface.grid.x[1], 1500);
  EXPECT_EQ(t->surface.grid.y[1], 60500);
  EXPECT_EQ(t->surface.node(1, 0), 0.5825);
}

TEST(Paste, QuotedThousandsInACommaFileAreRead) {
  const auto t = read_table("kPa \\ rpm,\"1,000\",\"1,500\"\n30,55.5,58\n", {});
  ASSERT_TRUE(t) << t.error().line();
  EXPECT_EQ(t->surface.grid.x[1], 1500);
}

TEST(Paste, ASpeedThatMayBeADecimalOrThousandsIsAsked) {
  const char* text = "kPa \\ rpm\t1,000\t1,500\n30\t55\t58\n";
  const auto asked = read_table(text, {});
  ASSERT_FALSE(asked);
  EXPECT_EQ(asked.error().code, ErrorCode::needs_answer);
  EXPECT_EQ(asked.error().where, "row 1, column 2");
  TextReading reading;
  reading.decimal = '.';
  const auto told = read_table(text, reading);
  ASSERT_TRUE(told) << told.error().line();
  EXPECT_EQ(told->surface.grid.x[1], 1500);
}

TEST(Paste, LambdaWithThreeDecimalsIsNoThousand) {
  TextReading reading;
  reading.what = TableWhat::lambda_target;
  for (const char* text : {"kPa \\ rpm\t1000\t1500\n30\t1,012\t1,005\n",
                           "kPa \\ rpm\t1000\t1500\n30\t1.012\t1.005\n"}) {
    const auto t = read_table(text, reading);
    ASSERT_TRUE(t) << t.error().line();
    EXPECT_EQ(t->surface.node(0, 0), 1.012);
  }
}

TEST(Paste, CellsThatContradictEachOtherInTheirDecimalMarkAreRefused) {
  EXPECT_EQ(
      error_of("kPa \\ rpm\t1000\t1500\n30\t55,5\t58.5\n"),
      "row 2, column 3: \"58.5\" has another decimal mark than the cells before it; write all "
      "numbers with one");
}

TEST(Paste, FormulasAreRefusedAndNumbersWithSignsAreNot) {
  EXPECT_EQ(error_of("kPa \\ rpm\t1000\t1500\n30\t55\t=A1*2\n"),
            "row 2, column 3: \"=A1*2\" is a formula; paste its value");
  for (const char* cell : {"=1+1", "+A1", "-A1", "@SUM(A1)", "=5", "'=5", "\"=5\"", "+-5"}) {
    const std::string text = fmt::format("kPa \\ rpm\t1000\t1500\n30\t55\t{}\n", cell);
    EXPECT_NE(error_of(text.c_str()).find("is a formula"), std::string::npos) << cell;
  }
  EXPECT_NE(error_of("=cmd()\t1000\t1500\n30\t55\t56\n").find("row 1, column 1"),
            std::string::npos);
  const auto t = read_table(
      "vacuum kPa \\ rpm\t1000\t+1500\n-20\t90\t91\n\xE2\x88\x92"
      "10\t80\t81\n",
      {});
  ASSERT_TRUE(t) << t.error().line();  // pressed air: vacuum below zero
  EXPECT_EQ(t->surface.grid.y[0], -20e3);
  EXPECT_EQ(t->surface.grid.y[1], -10e3);
}

TEST(Paste, WordsThatASpreadsheetWouldRunAreNeverWrittenUnquoted) {
  for (const char* words : {"=1+1", "+A1", "-A1", "@SUM(A1)", "\tx"}) {
    for (const TextForm form : {TextForm::csv, TextForm::tsv}) {
      EXPECT_TRUE(text_cell(words, form).starts_with("\"'")) << words;
    }
  }
  EXPECT_EQ(text_cell("MAP kPa \\ rpm", TextForm::csv), "MAP kPa \\ rpm");
  EXPECT_EQ(text_cell("a, \"b\"", TextForm::csv), "\"a, \"\"b\"\"\"");
  EXPECT_EQ(text_cell("a, b", TextForm::tsv), "a, b");
}

TEST(Paste, ABlockWithoutAxesNeedsAPlaceUnlessItIsTheWholeTable) {
  TextReading reading = with_axes(small_grid());
  const auto asked = read_table("71\t72\n81\t82\n", reading);
  ASSERT_FALSE(asked);
  EXPECT_EQ(asked.error().code, ErrorCode::needs_answer);
  reading.at = NodePlace{1, 1};
  const auto t = read_table("71\t72\n81\t82\n", reading);
  ASSERT_TRUE(t) << t.error().line();
  EXPECT_FALSE(t->had_axes);
  EXPECT_EQ(t->surface.grid.x[0], 2000);
  EXPECT_EQ(t->surface.grid.y[1], 100e3);
  EXPECT_EQ(t->surface.node(0, 1), 0.81);
  reading.at = NodePlace{3, 1};
  EXPECT_FALSE(read_table("71\t72\n81\t82\n", reading));  // it would hang over the edge
}

TEST(Paste, ABlockMayBeginWithHighLoad) {
  TextReading reading = with_axes(small_grid());
  reading.last_row_first = true;
  const auto t = read_table("90\t91\t92\t93\n80\t81\t82\t83\n70\t71\t72\t73\n", reading);
  ASSERT_TRUE(t) << t.error().line();
  EXPECT_EQ(t->surface.node(0, 2), 0.90);
  EXPECT_EQ(t->axes_note, "no axes; the first row is 100.0 kPa");
}

TEST(Paste, ATableThatHasTheSizeOfTheOldOneButBringsAxesIsReadWithThem) {
  // Three rows by four columns, as the table without axes; but the corner is no value.
  const auto words = read_table("kPa\\rpm\t1000\t2000\t3000\n40\t50\t51\t52\n70\t60\t61\t62\n",
                                with_axes(small_grid()));
  ASSERT_TRUE(words) << words.error().line();
  EXPECT_TRUE(words->had_axes);
  const auto zero =
      read_table("0\t1000\t2000\t3000\n40\t50\t51\t52\n70\t60\t61\t62\n", with_axes(small_grid()));
  ASSERT_TRUE(zero) << zero.error().line();
  EXPECT_EQ(zero->surface.grid.y[1], 70e3);
}

TEST(Paste, AnAxisWithoutUnitIsReadInTheOneUnitThatFitsTheTable) {
  const Grid vacuum{Axis::even(AxisKind::engine_speed, 1000, 4000, 4),
                    Axis::even(AxisKind::vacuum, 0, 60e3, 4)};
  const auto kpa = read_table("\t1000\t2000\n20\t80\t81\n40\t70\t71\n", with_axes(vacuum));
  ASSERT_TRUE(kpa) << kpa.error().line();
  EXPECT_EQ(kpa->axes_note, "engine speed in rpm, manifold vacuum in kPa");
  const auto inhg = read_table("\t1000\t2000\n5.91\t80\t81\n11.81\t70\t71\n", with_axes(vacuum));
  ASSERT_TRUE(inhg) << inhg.error().line();
  EXPECT_EQ(inhg->axes_note, "engine speed in rpm, manifold vacuum in inHg");
  const auto none = read_table("\t1000\t2000\n21\t80\t81\n43\t70\t71\n", with_axes(vacuum));
  ASSERT_FALSE(none);
  EXPECT_EQ(none.error().code, ErrorCode::needs_answer);
}

TEST(Paste, WhatIsNoTableIsOneClearLine) {
  const std::string big(std::size_t{2} << 20U, '1');
  std::string wide = "kPa \\ rpm";
  for (int i = 1; i < 70; ++i) wide += "\t" + std::to_string(100 * i);
  std::string row = "40";
  for (int i = 1; i < 70; ++i) row += "\t50";
  const std::string nul(
      "kPa \\ rpm\t1000\n40\t5\0"
      "5\n",
      23);
  for (const std::string& text :
       {big, wide + "\n" + row + "\n", nul, std::string("\"open\t1000\n40\t50\n"),
        std::string("\"a\"b\t1000\n40\t50\n"), std::string("kPa \\ rpm\t1000\n40\t\xFF\xFE\n"),
        std::string("kPa \\ rpm\t1000\n40\tnan\n"), std::string("kPa \\ rpm\t1000\n40\tinf\n"),
        std::string("kPa \\ rpm\t1000\n40\t1e999\n"), std::string("kPa \\ rpm\t1000\n40\t1 2\n"),
        std::string("kPa \\ rpm\t1000\n40\t1.2.3\n"), std::string("kPa \\ rpm\t1e9\n40\t50\n"),
        std::string("\n\n\n"), std::string("kPa \\ rpm"), std::string("50"),
        std::string("kPa \\ rpm\t1000\n40\t\"5\n0\"\n"), std::string("kPa \\ rpm\t1000\n40\t-\n"),
        std::string("kPa \\ rpm\t1000\t1000\n40\t50\t51\n"),
        std::string("psi \\ rpm\t1000\n4000\t50\n")}) {
    const auto t = read_table(text, {});
    ASSERT_FALSE(t) << text.substr(0, 60);
    const std::string line = t.error().line();
    EXPECT_EQ(line.find('\n'), std::string::npos) << line;
    EXPECT_LT(line.size(), 240U) << line;
  }
}

TEST(Paste, LineEndsOfEveryKindAndBlankEdgesAreRead) {
  for (const char* text :
       {"\xEF\xBB\xBFkPa \\ rpm\t1000\t2000\t\r\n\r\n40\t50\t51\t\r\n",
        "kPa \\ rpm\t1000\t2000\r40\t50\t51\r", "kPa \\ rpm;1000;2000;;\n40;50;51;;",
        "\"kPa \\ rpm\" , 1000 , 2000\n 40 , 50% , 51%\n"}) {
    const auto t = read_table(text, {});
    ASSERT_TRUE(t) << t.error().line();
    EXPECT_EQ(t->surface.node(1, 0), 0.51);
  }
}

// ---- exact round trips

Axis any_axis(AxisKind kind, double low, double high, std::mt19937_64& random) {
  std::uniform_real_distribution<double> place(low, high);
  std::set<double> points;
  const std::size_t count = 1 + random() % 16;
  while (points.size() < count) points.insert(place(random));
  return *Axis::make(kind, {points.begin(), points.end()});
}

TEST(Paste, EveryTableReadsBackToTheSameDoublesInEveryForm) {
  const std::array loads{std::tuple{AxisKind::map_absolute, 0.0, 450e3},
                         std::tuple{AxisKind::vacuum, -390e3, 104e3},
                         std::tuple{AxisKind::throttle, 0.0, 1.0}};
  const std::array tables{TableWhat::ve, TableWhat::lambda_target, TableWhat::correction};
  std::mt19937_64 random(11);
  for (int k = 0; k < 180; ++k) {
    const auto& [load, low, high] = loads[k % 3];
    TextReading reading;
    reading.what = tables[k / 3 % 3];
    Surface s = Surface::flat(
        {any_axis(AxisKind::engine_speed, 100, 12000, random), any_axis(load, low, high, random)},
        0);
    std::uniform_real_distribution<double> value(0.5, 2.0);
    for (double& v : s.values) v = value(random);
    for (const TextForm form : {TextForm::tsv, TextForm::csv}) {
      for (const UnitSystem units : {UnitSystem::metric, UnitSystem::us}) {
        const auto back = read_table(write_table(s, reading.what, form, units), reading);
        ASSERT_TRUE(back) << back.error().line();
        ASSERT_EQ(back->surface, s);
      }
    }
  }
}

TEST(Paste, NumbersKeepEveryBitInUnitsThatAreNoPowerOfTen) {
  const UnitInfo inhg = *find_unit("inHg", Kind::pressure_step);
  std::mt19937_64 random(3);
  std::uniform_real_distribution<double> vacuum(-390e3, 104e3);
  int longer = 0;  // numbers that no product of a double and the factor is
  for (int i = 0; i < 20000; ++i) {
    const double si = vacuum(random);
    const std::string text = internal::text_in(si, inhg);
    ASSERT_EQ(internal::parse_in(text, inhg), si) << text;
    longer += *parse_double(text) * inhg.factor != si ? 1 : 0;
  }
  EXPECT_GT(longer, 0);  // else the wider arithmetic would not be needed
}

}  // namespace
}  // namespace fuelwright::car::paste_test
