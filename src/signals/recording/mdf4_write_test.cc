#include <fmt/format.h>
#include <gtest/gtest.h>

#include <cmath>

#include "signals/recording/mdf4.h"
#include "signals/recording/mdf4_test_file.h"
#include "signals/recording/recording.h"

namespace fuelwright::signals::mdf4_write_test {
namespace {

using mdf_test::le;

// An invented car, with gaps where a channel was not asked.
std::string drive(int rows) {
  std::string out =
      "Time (s),RPM (rpm),MAP (kPa),TPS (%),CLT (degC),IAT (degF),AFR (AFR),EGO Correction (%),"
      "Fuel Pressure (psi gauge),Speed (mph),Fuel Flow (l/h),Gear,Knock Count\n";
  for (int i = 0; i < rows; ++i) {
    const double t = 3 + 0.05 * i;
    const double open = 0.5 + 0.4 * std::sin(0.4 * t);
    const double rpm = 2200 + 900 * std::sin(0.21 * t);
    out += fmt::format(
        "{:.2f},{:.0f},{:.1f},{:.1f},{},{:.1f},{:.2f},{:.1f},{:.2f},{:.1f},{:.2f},{},{}\n", t, rpm,
        30 + 65 * open, 2 + 80 * open,
        i % 3 == 0 ? fmt::format("{:.1f}", 60 + std::min(30.0, t)) : "", 80 + 4 * std::sin(t / 20),
        14.4 + 0.3 * std::sin(3 * t), 100 + 2 * std::sin(5 * t), 43 + std::sin(t), rpm / 60,
        2 + 9 * open, 2 + i / 300, i / 100);
  }
  return out;
}

Recording recording(int rows = 1200) {
  Answers answers;
  answers.afr_constant = 14.7;
  answers.ambient = AbsolutePressure{PressureStep{101325}};
  auto r = read_recording(drive(rows), "drive.csv", answers);
  EXPECT_TRUE(r.ok()) << (r.ok() ? "" : r.error().line());
  return r.ok() ? std::move(*r) : Recording{};
}

const Channel* named(const Recording& r, const std::string& header) {
  for (const Channel& c : r.channels) {
    if (c.header == header) return &c;
  }
  return nullptr;
}

// SI is written as it is; where a kind has no SI unit of its own, one division and one
// multiplication lie between.
void expect_same(const Channel& a, const Channel& b) {
  constexpr double kTwoRoundings = 1e-15;
  ASSERT_EQ(a.si.size(), b.si.size());
  for (std::size_t i = 0; i < a.si.size(); ++i) {
    ASSERT_EQ(std::isnan(a.si[i]), std::isnan(b.si[i])) << a.header << " row " << i;
    if (std::isnan(a.si[i])) continue;
    ASSERT_NEAR(a.si[i], b.si[i], kTwoRoundings * std::abs(a.si[i])) << a.header << " row " << i;
  }
}

class Mdf4WrittenAndRead : public testing::TestWithParam<Mdf4Packing> {};

TEST_P(Mdf4WrittenAndRead, IsTheSameRecording) {
  const Recording r = recording();
  const Mdf4Written file = write_mdf4(r, {1'700'000'000'000'000'000, GetParam()});
  EXPECT_TRUE(file.warnings.empty());
  auto back = read_recording(file.bytes, "drive.mf4", {});
  ASSERT_TRUE(back.ok()) << back.error().line();
  ASSERT_EQ(back->rows, r.rows);
  ASSERT_EQ(back->channels.size(), r.channels.size());
  for (std::size_t i = 0; i < r.rows; ++i) ASSERT_EQ(back->time_s[i], r.time_s[i]);
  for (const Channel& c : r.channels) {
    if (c.what == Quantity::time) continue;
    const Channel* same = named(*back, c.header);
    ASSERT_NE(same, nullptr) << c.header;
    EXPECT_EQ(same->what, c.what) << c.header;
    expect_same(c, *same);
  }
}

TEST_P(Mdf4WrittenAndRead, IsTheSameForTheSameInputAndBearsItsStart) {
  const Recording r = recording(100);
  const Mdf4Written a = write_mdf4(r, {1'700'000'000'000'000'000, GetParam()});
  EXPECT_EQ(a.bytes, write_mdf4(r, {1'700'000'000'000'000'000, GetParam()}).bytes);
  EXPECT_EQ(a.bytes.substr(64 + 24 + 48, 8), le(1'700'000'000'000'000'000, 8));
}

INSTANTIATE_TEST_SUITE_P(Packings, Mdf4WrittenAndRead,
                         testing::Values(Mdf4Packing::plain, Mdf4Packing::deflated));

TEST(Mdf4Written, ManyBlocksAreOneRecording) {
  Recording r;
  r.rows = 700'000;  // 8.4 MB of records: three blocks
  Channel c;
  c.header = "x";
  c.converted = false;
  for (std::size_t i = 0; i < r.rows; ++i) {
    r.time_s.push_back(0.01 * static_cast<double>(i));
    c.si.push_back(static_cast<double>(i % 1000));
  }
  r.channels.push_back(c);
  const Mdf4Written file = write_mdf4(r, {0, Mdf4Packing::deflated});
  EXPECT_LT(file.bytes.size(), 4'000'000U);
  const auto back = read_recording(file.bytes, "x.mf4", {});
  ASSERT_TRUE(back.ok()) << back.error().line();
  EXPECT_EQ(named(*back, "x")->si, c.si);
}

// The layout itself, byte by byte from the standard, without our reader.
TEST(Mdf4Written, BlocksStandWhereTheStandardPutsThem) {
  Recording r;
  r.rows = 2;
  r.time_s = {0, 0.5};
  Channel c;
  c.what = Quantity::rpm;
  c.kind = Kind::engine_speed;
  c.header = "RPM";
  c.si = {800, std::nan("")};
  r.channels.push_back(c);
  const std::string b = write_mdf4(r).bytes;
  const auto u64 = [&](std::size_t at) {
    std::uint64_t v = 0;
    for (std::size_t i = 8; i-- > 0;) v = v << 8U | static_cast<unsigned char>(b.at(at + i));
    return static_cast<std::size_t>(v);
  };
  EXPECT_EQ(b.substr(0, 16), "MDF     4.10    ");
  EXPECT_EQ(b.substr(28, 2), le(410, 2));
  EXPECT_EQ(b.substr(64, 4), "##HD");
  EXPECT_EQ(u64(72), 104U);
  const std::size_t dg = u64(88);
  const std::size_t fh = u64(96);
  EXPECT_EQ(b.substr(fh, 4), "##FH");
  EXPECT_EQ(u64(fh + 8), 56U);
  EXPECT_EQ(b.substr(dg, 4), "##DG");
  EXPECT_EQ(u64(dg + 8), 64U);
  const std::size_t cg = u64(dg + 32);
  EXPECT_EQ(b.substr(cg, 4), "##CG");
  EXPECT_EQ(u64(cg + 8), 104U);
  EXPECT_EQ(u64(cg + 80), 2U) << "records";
  EXPECT_EQ(b.substr(cg + 96, 8), le(12, 4) + le(1, 4)) << "data and validity bytes of a record";
  const std::size_t time = u64(cg + 32);
  EXPECT_EQ(b.substr(time, 4), "##CN");
  EXPECT_EQ(u64(time + 8), 160U);
  EXPECT_EQ(b.substr(time + 88, 12),
            le(2, 1) + le(1, 1) + le(4, 1) + le(0, 1) + le(0, 4) + le(64, 4));
  const std::size_t rpm = u64(time + 24);
  EXPECT_EQ(b.substr(rpm + 88, 20),
            le(0, 2) + le(4, 1) + le(0, 1) + le(8, 4) + le(32, 4) + le(2, 4) + le(0, 4));
  EXPECT_EQ(b.substr(u64(rpm + 40) + 24, 4), std::string("RPM\0", 4));
  EXPECT_EQ(b.substr(u64(rpm + 72) + 24, 4), std::string("rpm\0", 4));
  const std::size_t dt = u64(dg + 40);
  EXPECT_EQ(b.substr(dt, 4), "##DT");
  EXPECT_EQ(u64(dt + 8), 24U + 26U);
  EXPECT_EQ(b.substr(dt + 24, 13), mdf_test::f64(0) + mdf_test::f32(800) + le(0, 1));
  EXPECT_EQ(b.at(dt + 24 + 25), '\1') << "the second sample is marked invalid";
  for (const std::size_t at : {dg, fh, cg, time, rpm, dt}) EXPECT_EQ(at % 8, 0U);
}

TEST(Mdf4Written, RowsWithoutATimeAreLeftOutAndSaid) {
  Recording r = recording(10);
  r.time_s[4] = std::nan("");
  const Mdf4Written file = write_mdf4(r);
  ASSERT_EQ(file.warnings.size(), 1U);
  const auto back = read_recording(file.bytes, "drive.mf4", {});
  ASSERT_TRUE(back.ok()) << back.error().line();
  EXPECT_EQ(back->rows, 9U);
}

TEST(Mdf4Written, ARecordingWithoutTimeComesBackWithoutTime) {
  Recording r = recording(300);
  r.time_s.clear();
  r.pace = Pace::untimed;
  std::erase_if(r.channels, [](const Channel& c) { return c.what == Quantity::time; });
  const auto back = read_recording(write_mdf4(r).bytes, "drive.mf4", {});
  ASSERT_TRUE(back.ok()) << back.error().line();
  EXPECT_EQ(back->pace, Pace::untimed);
  EXPECT_EQ(back->rows, 300U);
  expect_same(*r.find(Quantity::map), *back->find(Quantity::map));
}

}  // namespace
}  // namespace fuelwright::signals::mdf4_write_test
