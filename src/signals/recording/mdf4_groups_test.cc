#include <fmt/format.h>
#include <gtest/gtest.h>

#include <cmath>

#include "signals/recording/internal/mdf4.h"
#include "signals/recording/internal/mdf4_merge.h"
#include "signals/recording/mdf4_test_file.h"

namespace fuelwright::signals::mdf4_groups_test {
namespace {

using namespace mdf_test;

constexpr double kBlank = -999;  // stands for NaN in expectations

std::vector<double> shown(std::vector<double> v) {
  for (double& x : v) x = std::isnan(x) ? kBlank : x;
  return v;
}

struct Read {
  CsvTable table;
  std::vector<double> operator[](const std::string& header) const {
    for (const CsvColumn& c : table.columns) {
      if (c.header == header) return shown(c.value);
    }
    ADD_FAILURE() << "no column " << header;
    return {};
  }
};

Read read(const std::string& bytes) {
  auto t = read_mdf4(bytes, "drive.mf4");
  EXPECT_TRUE(t.ok()) << (t.ok() ? "" : t.error().line());
  return {t.ok() ? std::move(*t) : CsvTable{}};
}

// One byte per record behind the time.
std::string bytes_file(TestFile& f, const std::vector<int>& raw, std::uint64_t conversion,
                       int data_type = 0) {
  std::string records;
  for (std::size_t i = 0; i < raw.size(); ++i) {
    records += f64(static_cast<double>(i)) + le(static_cast<std::uint64_t>(raw[i]), 1);
  }
  f.data_group(f.group({time_master(), field("x", "", data_type, 8, 8, conversion)}, raw.size(), 9),
               f.block("DT", {}, records));
  return f.bytes;
}

std::vector<double> converted(const std::vector<int>& raw, int type,
                              const std::vector<double>& values,
                              const std::vector<const char*>& texts = {}) {
  TestFile f;
  std::vector<std::uint64_t> refs;
  for (const char* t : texts) refs.push_back(f.text(t));
  return read(bytes_file(f, raw, f.conversion(type, values, refs)))["x"];
}

using V = std::vector<double>;

TEST(Mdf4Conversion, LinearPutsTheOffsetFirst) {
  EXPECT_EQ(converted({0, 4, 200}, 1, {-40, 0.25}), (V{-40, -39, 10}));
}

TEST(Mdf4Conversion, RationalDividesTwoParabolas) {
  // (x^2 + 2 x + 3) / (0 x^2 + x + 1); a division by zero is no number
  EXPECT_EQ(converted({0, 1, 3}, 2, {1, 2, 3, 0, 1, 1}), (V{3, 3, 4.5}));
  EXPECT_EQ(converted({0, 2}, 2, {0, 0, 8, 0, 1, 0}), (V{kBlank, 4}));
}

TEST(Mdf4Conversion, TablesInterpolateOrTakeTheNearestPointAndHoldTheirEnds) {
  const V points{10, 100, 20, 300, 40, 200};
  EXPECT_EQ(converted({0, 10, 15, 20, 30, 40, 99}, 4, points),
            (V{100, 100, 200, 300, 250, 200, 200}));
  EXPECT_EQ(converted({0, 14, 15, 16, 31, 99}, 5, points), (V{100, 100, 100, 300, 200, 200}));
}

TEST(Mdf4Conversion, RangesOfWholeNumbersHoldBothEnds) {
  EXPECT_EQ(converted({4, 5, 9, 10, 20, 21}, 6, {5, 9, 1, 10, 20, 2, 7}), (V{7, 1, 1, 2, 2, 7}));
}

TEST(Mdf4Conversion, TextsThatAreNumbersCountAsNumbers) {
  EXPECT_EQ(converted({0, 1, 2, 3}, 7, {0, 1, 2}, {"1", "2.5", "error", "n/a"}),
            (V{1, 2.5, kBlank, kBlank}));
  EXPECT_EQ(converted({0, 9, 10}, 8, {0, 9, 10, 20}, {"3", "4"}), (V{3, 3, 4}));
}

TEST(Mdf4Conversion, WordsAloneLeaveTheRawNumber) {
  EXPECT_EQ(converted({0, 1, 2}, 7, {0, 1}, {"open loop", "closed loop"}), (V{0, 1, 2}));
}

TEST(Mdf4Conversion, AScaledRangeBesideWordsIsScaled) {
  TestFile f;
  const auto words = f.text("signal not available");
  const auto scale = f.conversion(1, {-40, 1});
  const auto cc = f.conversion(8, {254, 255}, {words, scale});
  EXPECT_EQ(read(bytes_file(f, {0, 120, 255}, cc))["x"], (V{-40, 80, kBlank}));
}

TEST(Mdf4Conversion, FormulasAreLeftOutAndSaid) {
  TestFile f;
  const auto cc = f.conversion(3, {}, {f.text("X1*2")});
  const Read r = read(bytes_file(f, {1, 2}, cc));
  EXPECT_TRUE(r.table.columns[1].text);
  ASSERT_EQ(r.table.warnings.size(), 1U);
  EXPECT_NE(r.table.warnings[0].find("\"x\""), std::string::npos);
}

TEST(Mdf4Conversion, ATableOutOfOrderCostsItsChannelNotTheFile) {
  for (const auto& [type, values] : {std::pair{4, V{10, 1, 5, 2}}, std::pair{5, V{1, 1, 1, 2}},
                                     std::pair{6, V{0, 9, 1, 5, 20, 2, 7}}}) {
    TestFile f;
    const Read r = read(bytes_file(f, {1, 2}, f.conversion(type, values)));
    EXPECT_TRUE(r.table.columns[1].text) << type;
    EXPECT_EQ(r.table.warnings.size(), 1U);
  }
  EXPECT_EQ(converted({1, 2}, 7, {2, 1, 2}, {"20", "10", "30"}), (V{10, 20})) << "the first holds";
}

TEST(Mdf4Channel, NumbersAreReadInBothByteOrdersAndAcrossBits) {
  TestFile f;
  // at 8: 0x12 0x34; at 10: FE FF; at 12: C0 49 0F DB (pi, big-endian: negative); at 16: bits
  const std::string record = f64(0) + hex("1234 FEFF C0490FDB B6");
  Cn three = field("three bits", "", 0, 16, 3);
  three.bit_offset = 2;
  Cn low = field("signed three bits", "", 2, 16, 3);
  low.bit_offset = 5;
  f.data_group(f.group({time_master(), field("little", "", 0, 8, 16), field("big", "", 1, 8, 16),
                        field("minus", "", 2, 10, 16), field("minus big", "", 3, 10, 16),
                        field("float big", "", 5, 12, 32), three, low},
                       1, 17),
               f.block("DT", {}, record));
  const Read r = read(f.bytes);
  EXPECT_EQ(r["little"], V{0x3412});
  EXPECT_EQ(r["big"], V{0x1234});
  EXPECT_EQ(r["minus"], V{-2});
  EXPECT_EQ(r["minus big"], V{static_cast<std::int16_t>(0xFEFF)});
  EXPECT_NEAR(r["float big"][0], -3.14159265, 1e-7);
  EXPECT_EQ(r["three bits"], V{5}) << "B6 is 101 101 10";
  EXPECT_EQ(r["signed three bits"], V{-3});
}

TEST(Mdf4Channel, InvalidSamplesAreBlank) {
  TestFile f;
  Cn x = field("x", "", 0, 8, 8);
  x.flags = 2;
  x.invalid_bit = 9;
  Cn never = field("never", "", 0, 8, 8);
  never.flags = 1;
  std::string records;
  for (int i = 0; i < 3; ++i) {
    records += f64(i) + le(static_cast<std::uint64_t>(7 + i), 1) + le(i == 1 ? 0x0200 : 0xFDFF, 2);
  }
  f.data_group(f.group({time_master(), x, never}, 3, 9, "", 0, 0, 2), f.block("DT", {}, records));
  const Read r = read(f.bytes);
  EXPECT_EQ(r["x"], (V{7, kBlank, 9}));
  EXPECT_EQ(r["never"], (V{kBlank, kBlank, kBlank}));
}

TEST(Mdf4Channel, WordsOfAnyLengthThatAreNumbersAreRead) {
  TestFile f;
  const auto words = f.block("SD", {}, le(4, 4) + "12.5" + le(3, 4) + "n/a" + le(1, 4) + "7");
  Cn numbers = field("numbers", "", 7, 8, 64);
  numbers.type = 1;
  numbers.signal_data = words;
  Cn names = field("names", "", 6, 16, 24);
  std::string records;
  for (const std::uint64_t at : {0U, 8U, 15U})
    records += f64(static_cast<double>(at)) + le(at, 8) + "abc";
  f.data_group(f.group({time_master(), numbers, names}, 3, 19), f.block("DT", {}, records));
  const Read r = read(f.bytes);
  EXPECT_EQ(r["numbers"], (V{12.5, kBlank, 7}));
  EXPECT_TRUE(r.table.columns[2].text);
}

TEST(Mdf4Channel, VariableLengthRecordsBetweenOthersAreStepped) {
  TestFile f;
  const auto vlsd = f.group({}, 2, 0, "", 9, 0, 0, 1);
  Cn words = field("words", "", 7, 8, 64);
  words.type = 1;
  words.signal_data = vlsd;
  const auto cg = f.group({time_master(), words}, 2, 16, "", 1, vlsd);
  f.data_group(cg,
               f.block("DT", {},
                       hex("09") + le(2, 4) + "81" + hex("01") + f64(0) + le(0, 8) + hex("09") +
                           le(3, 4) + "82." + hex("01") + f64(1) + le(6, 8)),
               1);
  EXPECT_EQ(read(f.bytes)["words"], (V{81, 82}));
}

TEST(Mdf4Channel, AVirtualChannelCountsItsRecords) {
  TestFile f;
  const auto tenth = f.conversion(1, {5, 0.1});
  Cn t{"t", "s", 3, 1, 0};
  t.conversion = tenth;
  f.data_group(f.group({t, field("x", "", 0, 0, 8)}, 3, 1), f.block("DT", {}, hex("010203")));
  const Read r = read(f.bytes);
  EXPECT_EQ(r["x"], (V{1, 2, 3}));
  EXPECT_DOUBLE_EQ(r["time"][2], 5.2);
}

TEST(Mdf4Groups, AFileWithoutTimeKeepsTheOrderOfItsRecords) {
  TestFile f;
  Cn index{"index", "", 3, 4, 0};
  f.data_group(f.group({index, field("x", "", 0, 0, 8)}, 3, 1), f.block("DT", {}, hex("010203")));
  const Read r = read(f.bytes);
  ASSERT_EQ(r.table.columns.size(), 1U);
  EXPECT_EQ(r["x"], (V{1, 2, 3}));
}

TEST(Mdf4Groups, ANameThatComesTwiceGetsItsGroup) {
  TestFile f;
  for (const char* group : {"engine", "sensor"}) {
    f.data_group(f.group({time_master(), field("lambda", "", 0, 8, 8), field("time", "", 0, 8, 8)},
                         1, 9, group),
                 f.block("DT", {}, f64(0) + hex("07")));
  }
  const Read r = read(f.bytes);
  EXPECT_EQ(r["lambda (engine)"], V{7});
  EXPECT_EQ(r["lambda (sensor)"], V{7});
  EXPECT_EQ(r["time (engine)"], V{7});
  EXPECT_EQ(r["time"], V{0});
}

TEST(Mdf4Groups, AClockInMillisecondsIsBelieved) {
  TestFile f;
  Cn t = time_master();
  t.unit = "ms";
  f.data_group(f.group({t, field("x", "", 0, 8, 8)}, 1, 9),
               f.block("DT", {}, f64(250) + hex("07")));
  EXPECT_EQ(read(f.bytes)["time"], V{0.25});
}

TEST(Mdf4Groups, DeviceNamesBehindABackslashAreNoPartOfTheName) {
  TestFile f;
  f.data_group(f.group({time_master(), field("rpm\\ECU:1", "", 0, 8, 8)}, 1, 9),
               f.block("DT", {}, f64(0) + hex("07")));
  EXPECT_EQ(read(f.bytes)["rpm"], V{7});
}

TEST(Mdf4Merge, EqualStampsOfDifferentGroupsShareARowAndOfOneGroupNever) {
  const mdf4::TimeBase b = mdf4::merge({{0, 1, 1, 2}, {1, 1.5}}, 100);
  EXPECT_EQ(b.time_s, (V{0, 1, 1, 1.5, 2}));
  EXPECT_EQ(b.row_of[0], (mdf4::RowOf{0, 1, 2, 4}));
  EXPECT_EQ(b.row_of[1], (mdf4::RowOf{1, 3}));
}

TEST(Mdf4Merge, ATimeThatFallsBackBeginsAnewInAllGroups) {
  const mdf4::TimeBase b = mdf4::merge({{0, 1, 2, 0, 1}, {0.5, 1.9, 0.2, NAN}}, 100);
  EXPECT_EQ(b.time_s, (V{0, 0.5, 1, 1.9, 2, 0, 0.2, 1}));
  EXPECT_EQ(b.row_of[1], (mdf4::RowOf{1, 3, 6, mdf4::kNoRow}));
  EXPECT_FALSE(b.falls_differ);
  EXPECT_TRUE(mdf4::merge({{0, 1, 0}, {0, 1}}, 100).falls_differ);
}

}  // namespace
}  // namespace fuelwright::signals::mdf4_groups_test
