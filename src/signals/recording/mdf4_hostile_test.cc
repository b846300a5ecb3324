#include <fmt/format.h>
#include <gtest/gtest.h>

#include <random>

#include "signals/recording/internal/mdf4.h"
#include "signals/recording/internal/mdf4_data.h"
#include "signals/recording/mdf4_test_file.h"
#include "signals/recording/recording.h"

namespace fuelwright::signals::mdf4_hostile_test {
namespace {

using namespace mdf_test;

// A table within its bounds, or one line that names the file.
void expect_table_or_one_line(const std::string& bytes) {
  const auto t = read_mdf4(bytes, "odd.mf4");
  if (t.ok()) {
    ASSERT_LE(t->rows * t->columns.size(), kLeastMdfCells + kMdfCellsPerByte * bytes.size());
    for (const CsvColumn& c : t->columns) {
      ASSERT_EQ(c.value.size(), c.text ? 0 : t->rows);
    }
    return;
  }
  ASSERT_TRUE(t.error().where.starts_with("odd.mf4")) << t.error().line();
  ASSERT_FALSE(t.error().message.empty());
  ASSERT_EQ(t.error().line().find('\n'), std::string::npos);
}

std::string refusal(const std::string& bytes) {
  const auto t = read_mdf4(bytes, "odd.mf4");
  EXPECT_FALSE(t.ok()) << "was read";
  return t.ok() ? "" : t.error().line();
}

constexpr Packed kAll[] = {Packed::plain, Packed::zipped,         Packed::transposed,
                           Packed::list,  Packed::cut_in_records, Packed::unfinished};

TEST(Mdf4Hostile, CutAnywhereAFileGivesATableOrOneLine) {
  for (const Packed p : kAll) {
    const std::string whole = small_file(p);
    for (std::size_t n = 8; n < whole.size(); ++n) expect_table_or_one_line(whole.substr(0, n));
  }
}

TEST(Mdf4Hostile, WithAnyByteFlippedAFileGivesATableOrOneLine) {
  for (const Packed p : kAll) {
    std::string bytes = small_file(p);
    for (std::size_t i = 8; i < bytes.size(); ++i) {
      const char was = bytes[i];
      for (const int flip : {0xFF, 0x01, 0x80, 0x10}) {
        bytes[i] = static_cast<char>(was ^ flip);
        expect_table_or_one_line(bytes);
      }
      bytes[i] = was;
    }
  }
}

TEST(Mdf4Hostile, WithManyBytesChangedAFileGivesATableOrOneLine) {
  std::mt19937 random(5);
  for (int round = 0; round < 3000; ++round) {
    std::string bytes = small_file(kAll[static_cast<std::size_t>(round) % 6]);
    for (int k = 0; k < 1 + round % 8; ++k) {
      const std::size_t at = 8 + random() % (bytes.size() - 16);
      // offsets and lengths that are near others are the likeliest to be believed
      if (random() % 2 == 0) {
        bytes[at] = static_cast<char>(random());
      } else {
        bytes.replace(at / 8 * 8, 8, le(random() % bytes.size() / 8 * 8, 8));
      }
    }
    expect_table_or_one_line(bytes);
  }
}

TEST(Mdf4Hostile, AShortenedLastBlockKeepsItsWholeRecords) {
  const std::string whole = small_file();
  const std::size_t end = whole.find(four_records()) + four_records().size();
  TestFile f;  // the data last, as loggers write it
  const auto dg = f.data_group(f.group({time_master(), field("x", "", 0, 8, 8)}, 3, 9), 0);
  f.set_link(dg, 2, f.block("DT", {}, f64(0) + "a" + f64(1) + "b" + f64(2) + "c"));
  const auto t = read_mdf4(f.bytes.substr(0, f.bytes.size() - 1), "cut.mf4");
  ASSERT_TRUE(t.ok()) << t.error().line();
  EXPECT_EQ(t->rows, 2U);
  EXPECT_EQ(t->warnings.size(), 2U) << "cut short, and one record less than claimed";
  EXPECT_EQ(refusal(whole.substr(0, end - 1)),
            fmt::format("odd.mf4: byte {}: a DG block should stand here, but the file has {} "
                        "bytes; it is cut short or damaged",
                        (end + 7) / 8 * 8, end - 1));
}

TEST(Mdf4Hostile, ListsThatComeBackToThemselvesAreNoticed) {
  {
    TestFile f;
    const auto cg = f.group({time_master(), field("x", "", 0, 8, 8)}, 1, 9);
    const auto dg = f.data_group(cg, f.block("DT", {}, f64(0) + "a"));
    f.set_link(dg, 0, dg);
    EXPECT_NE(refusal(f.bytes).find("comes back"), std::string::npos);
  }
  {
    TestFile f;
    const auto cg = f.group({time_master(), field("x", "", 0, 8, 8)}, 1, 9);
    f.data_group(cg, f.block("DT", {}, f64(0) + "a"), 1);
    f.set_link(cg, 0, cg);
    EXPECT_NE(refusal(f.bytes).find("comes back"), std::string::npos);
  }
  {
    TestFile f;
    const auto dt = f.block("DT", {}, "");
    const auto dl = f.block("DL", {0, dt}, le(1, 4) + le(1, 4) + le(9, 8));
    f.set_link(dl, 0, dl);
    f.data_group(f.group({time_master(), field("x", "", 0, 8, 8)}, 1, 9), dl);
    EXPECT_NE(refusal(f.bytes).find("comes back"), std::string::npos);
  }
  {
    TestFile f;
    const auto cc = f.conversion(8, {0, 1}, {0, 0});
    f.set_link(cc, 4, cc);
    f.data_group(f.group({time_master(), field("x", "", 0, 8, 8, cc)}, 1, 9),
                 f.block("DT", {}, f64(0) + "a"));
    EXPECT_NE(refusal(f.bytes).find("nested deeper"), std::string::npos);
  }
}

TEST(Mdf4Hostile, ConversionsNestedFromTheInsideOutAreBoundedToo) {
  TestFile f;
  std::vector<Cn> channels{time_master()};
  std::uint64_t cc = f.conversion(1, {0, 1});
  for (int i = 0; i < 50; ++i) {
    cc = f.conversion(8, {0, 1}, {0, cc});
    channels.push_back(field("x", "", 0, 8, 8, cc));
  }
  f.data_group(f.group(channels, 1, 9), f.block("DT", {}, f64(0) + "a"));
  EXPECT_NE(refusal(f.bytes).find("nested deeper"), std::string::npos);
}

TEST(Mdf4Hostile, TheSameDataIsNotReadTwice) {
  TestFile f;
  const auto dt = f.block("DT", {}, f64(0) + "a");
  for (int i = 0; i < 2; ++i) {
    f.data_group(f.group({time_master(), field("x", "", 0, 8, 8)}, 1, 9), dt);
  }
  EXPECT_NE(refusal(f.bytes).find("comes back"), std::string::npos);
}

std::string with_zipped(const std::string& dz_data, std::uint64_t cycles = 1) {
  TestFile f;
  const auto dz = f.block("DZ", {}, dz_data);
  f.data_group(f.group({time_master(), field("x", "", 0, 8, 8)}, cycles, 9), dz);
  return f.bytes;
}

TEST(Mdf4Hostile, ACompressedBlockCannotClaimMoreThanDeflateCanMake) {
  const std::string head = "DT" + le(0, 2) + le(0, 4);
  EXPECT_NE(refusal(with_zipped(head + le(std::uint64_t{1} << 62U, 8) + le(8, 8) + "12345678"))
                .find("cannot be"),
            std::string::npos);
  EXPECT_NE(
      refusal(with_zipped(head + le(8 * 1032 + 1, 8) + le(8, 8) + "12345678")).find("cannot be"),
      std::string::npos);
  EXPECT_NE(refusal(with_zipped(head + le(9, 8) + le(8, 8) + "12345678")).find("damaged"),
            std::string::npos);
  EXPECT_NE(refusal(with_zipped(head + le(9, 8) + le(9, 8) + "12345678")).find("claimed"),
            std::string::npos);
  EXPECT_NE(refusal(with_zipped("DT" + le(2, 2) + le(0, 4) + le(9, 8) + le(8, 8) + "12345678"))
                .find("compression 2"),
            std::string::npos);
}

TEST(Mdf4Hostile, ASmallFileCannotAskForMuchMemory) {
  // 60 kB that inflate to 60 MB of records of one byte, read by 200 channels each
  TestFile f;
  std::vector<Cn> channels{Cn{"t", "s", 3, 1, 0}};
  for (int i = 0; i < 200; ++i) channels.push_back(field("x", "", 0, 0, 8));
  const std::string zeros(60'000'000, '\0');
  const auto dz = f.zipped(zeros, 0, 0, zeros);
  f.data_group(f.group(channels, zeros.size(), 1), dz);
  EXPECT_LT(f.bytes.size(), 200'000U);
  const auto t = read_mdf4(f.bytes, "bomb.mf4");
  ASSERT_FALSE(t.ok());
  EXPECT_EQ(t.error().code, ErrorCode::too_large);
}

TEST(Mdf4Hostile, CountsThatCannotBeAreRefusedBeforeAnythingIsReserved) {
  const std::string good = small_file();
  for (const std::uint64_t huge :
       {std::uint64_t{1} << 33U, ~std::uint64_t{0}, ~std::uint64_t{0} / 8}) {
    for (const char* id : {"##HD", "##DG", "##CG", "##CN", "##CC"}) {
      const std::size_t at = good.find(id);
      ASSERT_NE(at, std::string::npos);
      std::string links = good;
      links.replace(at + 16, 8, le(huge, 8));
      EXPECT_NE(refusal(links).find("cannot hold"), std::string::npos) << id;
      std::string length = good;
      length.replace(at + 8, 8, le(huge, 8));
      EXPECT_NE(refusal(length).find("ends beyond"), std::string::npos) << id;
    }
  }
  std::string cycles = good;
  cycles.replace(good.find("##CG") + 80, 8, le(~std::uint64_t{0}, 8));
  const auto t = read_mdf4(cycles, "odd.mf4");
  ASSERT_TRUE(t.ok()) << t.error().line();
  EXPECT_EQ(t->rows, 4U);
  ASSERT_EQ(t->warnings.size(), 1U);
  EXPECT_NE(t->warnings[0].find("claims"), std::string::npos);
}

TEST(Mdf4Hostile, AFieldOutsideItsRecordIsRefused) {
  for (const auto& [byte, bits] : {std::pair{13U, 16U}, std::pair{0xFFFFFFFFU, 8U}}) {
    TestFile f;
    f.data_group(f.group({time_master(), field("x", "", 0, byte, bits)}, 1, 14),
                 f.block("DT", {}, std::string(14, '\0')));
    EXPECT_NE(refusal(f.bytes).find("channel \"x\" lies in bytes"), std::string::npos);
  }
}

TEST(Mdf4Hostile, BlocksThatOverlapCostNoMoreThanTheFile) {
  // 2000 conversions, each claiming all that follows as its table, on as many channels
  TestFile f;
  std::vector<Cn> channels{time_master()};
  std::vector<std::uint64_t> tables;
  for (int i = 0; i < 2000; ++i) {
    tables.push_back(f.conversion(0, {0, 0}));
    channels.push_back(field("x", "", 0, 8, 8, tables.back()));
  }
  f.data_group(f.group(channels, 1, 9), f.block("DT", {}, f64(0) + "a"));
  for (const auto at : tables) {
    const std::uint64_t rest = f.bytes.size() - at;
    f.bytes.replace(at + 8, 8, le(rest, 8));
    f.bytes.replace(at + 24 + 32 + 6, 2, le(65534, 2));
  }
  EXPECT_NE(refusal(f.bytes).find("blocks overlap"), std::string::npos);
}

TEST(Mdf4Hostile, AnUnknownRecordIdIsRefused) {
  TestFile f;
  f.data_group(f.group({time_master(), field("x", "", 0, 8, 8)}, 1, 9, "", 1),
               f.block("DT", {}, "\1" + f64(0) + "a" + "\7"), 1);
  EXPECT_NE(refusal(f.bytes).find("record id 7"), std::string::npos);
}

TEST(Mdf4Hostile, AListThatMisstatesItsLengthsIsRefused) {
  TestFile f;
  const auto a = f.block("DT", {}, f64(0) + "a");
  const auto b = f.block("DT", {}, f64(1) + "b");
  const auto dl = f.block("DL", {0, a, b}, le(0, 4) + le(2, 4) + le(0, 8) + le(8, 8));
  f.data_group(f.group({time_master(), field("x", "", 0, 8, 8)}, 2, 9), dl);
  EXPECT_NE(refusal(f.bytes).find("the list says otherwise"), std::string::npos);
}

TEST(Mdf4Hostile, APublicCallRefusesWithTheSameLine) {
  const std::string cut = small_file().substr(0, 100);
  const auto r = read_recording(cut, "odd.mf4", {});
  ASSERT_FALSE(r.ok());
  EXPECT_EQ(r.error().line(), refusal(cut));
  EXPECT_EQ(r.error().code, ErrorCode::bad_input);
}

}  // namespace
}  // namespace fuelwright::signals::mdf4_hostile_test
