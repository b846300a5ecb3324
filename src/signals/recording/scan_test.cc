#include "signals/recording/internal/scan.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <string>

#include "signals/recording/internal/cells.h"

namespace fuelwright::signals::scan_test {
namespace {

CsvTable scan(const std::string& text) {
  auto table = scan_csv(text, "log.csv");
  EXPECT_TRUE(table.ok()) << (table.ok() ? "" : table.error().line());
  return table.ok() ? std::move(*table) : CsvTable{};
}

std::string failure(const std::string& text) {
  const auto table = scan_csv(text, "log.csv");
  EXPECT_FALSE(table.ok());
  return table.ok() ? "" : table.error().line();
}

TEST(Scan, ReadsCommaSemicolonAndTab) {
  for (const char c : {',', ';', '\t'}) {
    std::string text = "A,B,C\n1,2.5,-3\n4,5,6e2\n";
    std::ranges::replace(text, ',', c);
    const CsvTable t = scan(text);
    EXPECT_EQ(t.separator, c);
    ASSERT_EQ(t.columns.size(), 3U);
    ASSERT_EQ(t.rows, 2U);
    EXPECT_EQ(t.columns[1].header, "B");
    EXPECT_DOUBLE_EQ(t.columns[1].value[0], 2.5);
    EXPECT_DOUBLE_EQ(t.columns[2].value[1], 600);
  }
}

TEST(Scan, ReadsDecimalCommasWhereTheSeparatorIsAnother) {
  const CsvTable t = scan("t;map\n0,1;98,5\n0,2;-3\n");
  EXPECT_TRUE(t.decimal_comma);
  EXPECT_EQ(t.separator, ';');
  EXPECT_DOUBLE_EQ(t.columns[0].value[0], 0.1);
  EXPECT_DOUBLE_EQ(t.columns[1].value[0], 98.5);
}

TEST(Scan, RefusesPointsAndCommasInOneFile) {
  EXPECT_EQ(failure("t;map\n0,1;98\n0,2;1.234\n"),
            "log.csv:3: channel \"map\": \"1.234\" mixes decimal points and decimal commas in one "
            "file; expected one kind");
  EXPECT_NE(failure("t;map\n1.234,5;98\n2;3\n3;4\n").find("log.csv:2: channel \"t\""),
            std::string::npos);
}

TEST(Scan, DropsTheByteOrderMarkAndCarriageReturns) {
  const CsvTable t = scan("\xEF\xBB\xBFRPM,MAP\r\n900,40\r\n950,41\r\n");
  EXPECT_EQ(t.columns[0].header, "RPM");
  EXPECT_EQ(t.columns[1].header, "MAP");
  EXPECT_DOUBLE_EQ(t.columns[1].value[1], 41);
}

TEST(Scan, ReadsLinesThatEndInACarriageReturnAlone) {
  EXPECT_EQ(scan("RPM,MAP\r900,40\r950,41\r").rows, 2U);
}

TEST(Scan, TakesUnitsFromBrackets) {
  const CsvTable t = scan("RPM (1/min),MAP [kPa],LOAD (),Lambda(bank 1) (-),x\n1,2,3,4,5\n");
  EXPECT_EQ(t.columns[0].header, "RPM");
  EXPECT_EQ(t.columns[0].unit, "1/min");
  EXPECT_EQ(t.columns[1].unit, "kPa");
  EXPECT_EQ(t.columns[2].header, "LOAD");
  EXPECT_EQ(t.columns[2].unit, "");
  EXPECT_EQ(t.columns[3].header, "Lambda(bank 1)");
  EXPECT_EQ(t.columns[4].header, "x");
}

TEST(Scan, TakesUnitsFromARowOfUnits) {
  const CsvTable t = scan(
      "Time,RPM,CLT,Note\ns,rpm,\xB0"
      "C,\n0,900,80,1\n1,901,81,2\n");
  ASSERT_EQ(t.rows, 2U);
  EXPECT_EQ(t.columns[0].unit, "s");
  EXPECT_EQ(t.columns[2].unit,
            "\xC2\xB0"
            "C")
      << "Latin-1 becomes UTF-8";
  EXPECT_EQ(t.line_of(0), 3U);
}

TEST(Scan, TakesQuotedCells) {
  const CsvTable t = scan("\"RPM, engine\",\"say \"\"MAP\"\"\"\n\"900\",\"40.5\"\n901,41\n");
  EXPECT_EQ(t.columns[0].header, "RPM, engine");
  EXPECT_EQ(t.columns[1].header, "say \"MAP\"");
  EXPECT_DOUBLE_EQ(t.columns[1].value[0], 40.5);
}

TEST(Scan, RefusesAQuoteThatStaysOpen) {
  EXPECT_EQ(failure("A,B\n1,2\n\"3,4\n5,6\n"), "log.csv:3: a quote is not closed");
}

TEST(Scan, DropsATrailingSeparator) {
  EXPECT_EQ(scan("A,B\n1,2,\n3,4,\n").columns.size(), 2U) << "in the rows only";
  EXPECT_EQ(scan("A,B,\n1,2,\n3,4,\n").columns.size(), 2U) << "in the header too";
}

TEST(Scan, ReadsGapsInAllTheirSpellings) {
  const CsvTable t = scan("A,B\n,1\n-,1\nn/a,1\nNaN,1\n--,1\nnull,1\n  ,1\n-5,1\n");
  ASSERT_EQ(t.rows, 8U);
  for (std::size_t i = 0; i < 7; ++i) EXPECT_TRUE(std::isnan(t.columns[0].value[i])) << i;
  EXPECT_DOUBLE_EQ(t.columns[0].value[7], -5);
}

TEST(Scan, NamesLineAndChannelOfACellThatIsNoNumber) {
  EXPECT_EQ(failure("RPM,MAP (kPa)\n900,40\n\n901,4o\n"),
            "log.csv:4: channel \"MAP\": \"4o\" is not a number");
  for (const char* bad : {"inf", "0x10", "1e999", "1 2", "++1", "+-1", "12%"}) {
    EXPECT_NE(
        failure("A,B\n1,2\n1,2\n1," + std::string(bad) + "\n").find("log.csv:4: channel \"B\""),
        std::string::npos)
        << bad;
  }
}

TEST(Scan, NamesLineAndNumberOfCellsOfAShortRow) {
  EXPECT_EQ(failure("A,B,C\n1,2,3\n1,2\n4,5,6\n"),
            "log.csv:3: 2 cells came, expected 3 as in the header");
  EXPECT_EQ(failure("A,B,C\n1,2,3\n1,2,3,4\n4,5,6\n"),
            "log.csv:3: 4 cells came, expected 3 as in the header");
}

TEST(Scan, LeavesATornLastLineOutAndSaysSo) {
  const CsvTable t = scan("RPM,MAP\n900,40\n901,41\n9");
  EXPECT_EQ(t.rows, 2U);
  ASSERT_EQ(t.warnings.size(), 1U);
  EXPECT_EQ(t.warnings[0], "line 4 has no line end and may be cut short; it was left out");
  EXPECT_EQ(scan("RPM,MAP\n900,40\n901,4").rows, 1U) << "4 may have been 41";
}

TEST(Scan, LeavesColumnsOfWordsOutAndSaysSo) {
  const CsvTable t = scan("RPM,Driver,MAP\n900,ann,40\n901,bob,41\n");
  EXPECT_TRUE(t.columns[1].text);
  EXPECT_TRUE(t.columns[1].value.empty());
  ASSERT_EQ(t.warnings.size(), 1U);
}

TEST(Scan, StartsAgainWhereTheHeaderComesAgain) {
  const CsvTable t = scan("A,B\n1,2\n3,4\nA,B\n5,6\n");
  EXPECT_EQ(t.rows, 3U);
  ASSERT_EQ(t.breaks.size(), 1U);
  EXPECT_EQ(t.breaks[0], 2U);
  EXPECT_EQ(t.line_of(1), 3U);
  EXPECT_EQ(t.line_of(2), 5U);
}

TEST(Scan, SkipsLinesBeforeTheHeaderAndSaysSo) {
  const CsvTable t = scan("Drive of Tuesday\n\nA,B,C\n1,2,3\n4,5,6\n");
  EXPECT_EQ(t.rows, 2U);
  EXPECT_EQ(t.columns[0].header, "A");
  EXPECT_EQ(t.warnings.size(), 1U);
}

TEST(Scan, GivesColumnsOfOneNameNamesOfTheirOwn) {
  const CsvTable t = scan("RPM,RPM,\n1,2,3\n4,5,6\n");
  EXPECT_EQ(t.columns[1].header, "RPM#2");
  EXPECT_EQ(t.warnings.size(), 1U);
}

TEST(Scan, RefusesWhatIsNoTable) {
  EXPECT_EQ(failure(""), "log.csv: is empty; expected a header line and rows");
  EXPECT_EQ(failure("\n\n \n"), "log.csv: is empty; expected a header line and rows");
  EXPECT_NE(failure("RPM\n900\n").find("one column only"), std::string::npos);
  EXPECT_NE(failure("1,2\n3,4\n").find("log.csv:1: numbers came where the header was expected"),
            std::string::npos);
  EXPECT_EQ(failure("A,B\n"), "log.csv: has a header but no complete row of values");
  EXPECT_NE(failure(std::string("A,B\n1\0,2\n", 9)).find("not text"), std::string::npos);
  EXPECT_NE(failure("\xFF\xFE"
                    "A")
                .find("UTF-16"),
            std::string::npos);
}

}  // namespace
}  // namespace fuelwright::signals::scan_test
