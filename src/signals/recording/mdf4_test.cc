#include "signals/recording/internal/mdf4.h"

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <cmath>
#include <cstdlib>

#include "signals/recording/mdf4_test_file.h"
#include "signals/recording/recording.h"

namespace fuelwright::signals::mdf4_test {
namespace {

using namespace mdf_test;

CsvTable table_of(const std::string& bytes) {
  auto t = read_mdf4(bytes, "drive.mf4");
  EXPECT_TRUE(t.ok()) << (t.ok() ? "" : t.error().line());
  return t.ok() ? std::move(*t) : CsvTable{};
}

const CsvColumn& column(const CsvTable& t, const std::string& header) {
  for (const CsvColumn& c : t.columns) {
    if (c.header == header) return c;
  }
  ADD_FAILURE() << "no column " << header;
  static const CsvColumn kNone;
  return kNone;
}

// Two independent readers agreed on these values.
void expect_four_records(const CsvTable& t) {
  ASSERT_EQ(t.rows, 4U);
  ASSERT_EQ(t.columns.size(), 3U);
  EXPECT_EQ(t.columns[0].header, "time");
  EXPECT_EQ(t.columns[0].unit, "s");
  EXPECT_EQ(column(t, "n").unit, "rpm");
  EXPECT_EQ(column(t, "n").value, (std::vector<double>{800, 825, 850, 875}));
  const std::vector<double> lambda{1.0, 0.98, 0.95, 0.90};
  for (std::size_t i = 0; i < 4; ++i) {
    EXPECT_NEAR(t.columns[0].value[i], 0.01 * static_cast<double>(i), 1e-15);
    EXPECT_NEAR(column(t, "lambda").value[i], lambda[i], 1e-7);
  }
}

TEST(Mdf4, ASortedFileGivesItsFourRecords) { expect_four_records(table_of(small_file())); }

TEST(Mdf4, CompressionAndListsChangeNothing) {
  for (const Packed p :
       {Packed::zipped, Packed::transposed, Packed::list, Packed::cut_in_records}) {
    SCOPED_TRACE(static_cast<int>(p));
    const CsvTable t = table_of(small_file(p));
    expect_four_records(t);
    EXPECT_TRUE(t.warnings.empty());
  }
}

TEST(Mdf4, AFileThatWasNeverFinishedGivesWhatWasWritten) {
  const CsvTable t = table_of(small_file(Packed::unfinished));
  expect_four_records(t);
  ASSERT_EQ(t.warnings.size(), 1U);
  EXPECT_NE(t.warnings[0].find("never finished"), std::string::npos);
}

void expect_unsorted(const CsvTable& t) {
  ASSERT_EQ(t.rows, 5U);
  const std::vector<double> time{0, 0.005, 0.010, 0.020, 0.025};
  constexpr double kBlank = -1;
  const std::vector<double> n{800, kBlank, 810, 820, kBlank};
  const std::vector<double> clt{kBlank, 80, kBlank, kBlank, 81};
  const auto shown = [](double v) { return std::isnan(v) ? kBlank : v; };
  for (std::size_t i = 0; i < 5; ++i) {
    EXPECT_DOUBLE_EQ(t.columns[0].value[i], time[i]);
    EXPECT_DOUBLE_EQ(shown(column(t, "n").value[i]), n[i]);
    EXPECT_DOUBLE_EQ(shown(column(t, "clt").value[i]), clt[i]);
  }
}

TEST(Mdf4, UnsortedGroupsShareOneTimeBaseAndNothingIsMadeUpBetween) {
  const CsvTable t = table_of(unsorted_file());
  expect_unsorted(t);
  ASSERT_EQ(t.warnings.size(), 1U);
  EXPECT_NE(t.warnings[0].find("2 groups"), std::string::npos) << t.warnings[0];
}

TEST(Mdf4, TheUnsortedFileOfAnotherWriterIsReadAsItsPeersReadItOutside) {
  const char* outside = std::getenv("FUELWRIGHT_OUTSIDE_DATA");
  if (outside == nullptr) GTEST_SKIP() << "FUELWRIGHT_OUTSIDE_DATA is not set";
  const auto bytes = read_file(std::string(outside) + "/vectors/unsorted.mf4");
  ASSERT_TRUE(bytes.ok()) << bytes.error().line();
  EXPECT_EQ(bytes->size(), 1928U);
  expect_unsorted(table_of(*bytes));
}

TEST(Mdf4, Version3IsRefusedWithWhatToDo) {
  std::string bytes = "MDF     3.30    test    ";
  bytes.resize(228, '\0');
  const auto t = read_recording(bytes, "old.mdf", {});
  ASSERT_FALSE(t.ok());
  EXPECT_EQ(t.error().code, ErrorCode::bad_input);
  EXPECT_EQ(t.error().line(),
            "old.mdf: MDF version \"3.30\" came; expected MDF 4.x: export the recording again as "
            "MDF 4 or as CSV");
}

// An invented drive: engine speed and manifold pressure at 20 Hz, temperatures at 1 Hz.
std::string drive_file() {
  TestFile f;
  std::string fast;
  std::string slow;
  constexpr int kSeconds = 60;
  for (int i = 0; i < 20 * kSeconds; ++i) {
    const double t = 100 + 0.05 * i;
    fast += f64(t) + f32(static_cast<float>(2200 + 900 * std::sin(0.21 * t))) +
            f32(static_cast<float>(60 + 25 * std::sin(0.4 * t))) +
            f32(static_cast<float>(14.7 + 0.4 * std::sin(1.7 * t)));
  }
  for (int i = 0; i < kSeconds; ++i) {
    slow += f64(100.02 + i) + le(static_cast<std::uint64_t>(100 + i / 2), 1);
  }
  const auto minus_40 = f.conversion(1, {-40, 1});
  f.data_group(f.group({time_master(), field("RPM", "rpm", 4, 8, 32),
                        field("MAP", "kPa", 4, 12, 32), field("AFR", "", 4, 16, 32)},
                       20 * kSeconds, 20, "fast"),
               f.block("DT", {}, fast));
  f.data_group(
      f.group({time_master(), field("CLT", "degC", 0, 8, 8, minus_40)}, kSeconds, 9, "slow"),
      f.block("DT", {}, slow));
  return f.bytes;
}

TEST(Mdf4, IsRecognisedAndReadAsTextIs) {
  Answers answers;
  answers.channels["AFR"] = {Quantity::lambda, "afr 14.7"};
  const auto r = read_recording(drive_file(), "drive.mf4", answers);
  ASSERT_TRUE(r.ok()) << r.error().line();
  EXPECT_EQ(r->rows, 1260U);
  EXPECT_EQ(r->pace, Pace::timed);
  EXPECT_NEAR(r->time_s.back(), 59.95, 0.1);
  EXPECT_NEAR(r->find(Quantity::rpm)->si[0], 2200 + 900 * std::sin(21.0), 1e-3);
  EXPECT_NEAR(r->find(Quantity::map)->si[0], 1e3 * (60 + 25 * std::sin(40.0)), 0.1);
  EXPECT_TRUE(std::isnan(r->find(Quantity::coolant)->si[0]));
  EXPECT_DOUBLE_EQ(r->find(Quantity::coolant)->si[1], 60 + 273.15);
  EXPECT_TRUE(std::isnan(r->find(Quantity::map)->si[1]));
  EXPECT_EQ(r->find(Quantity::lambda)->confidence, 1);
}

TEST(Mdf4, AnAnswerMustNameAChannelOfTheFile) {
  Answers answers;
  answers.channels["AFRR"] = {Quantity::lambda, "afr 14.7"};
  const auto r = recognise(drive_file(), "drive.mf4", answers);
  ASSERT_FALSE(r.ok());
  EXPECT_EQ(r.error().code, ErrorCode::not_found);
  EXPECT_NE(r.error().message.find("did you mean \"AFR\""), std::string::npos);
}

TEST(Mdf4, AnImpossibleValueIsNamedByItsRecord) {
  Answers answers;
  answers.channels["MAP"] = {Quantity::map, "bar"};
  answers.channels["AFR"] = {Quantity::lambda, "afr 14.7"};
  const auto r = read_recording(drive_file(), "drive.mf4", answers);
  ASSERT_FALSE(r.ok());
  EXPECT_NE(r.error().message.find("came on record 1;"), std::string::npos) << r.error().line();
}

TEST(Mdf4, TheSeedsOfTheFuzzerAreReadAsIntended) {
  const std::string folder = FUELWRIGHT_SOURCE_DIR "/tests/fuzz/seeds/mdf4/";
  for (const Seed& seed : seeds()) {
    const auto bytes = read_file(folder + seed.name);
    ASSERT_TRUE(bytes.ok()) << bytes.error().line();
    EXPECT_LT(bytes->size(), 4096U) << seed.name;
    EXPECT_EQ(read_mdf4(*bytes, seed.name).ok(), seed.honest) << seed.name;
    EXPECT_EQ(read_mdf4(seed.bytes, seed.name).ok(), seed.honest) << seed.name;
  }
}

}  // namespace
}  // namespace fuelwright::signals::mdf4_test
