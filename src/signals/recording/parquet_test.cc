// What a reader would not tell: names, runs, bytes of the parts. That other programs read whole
// files right is checked in tests/outside/parquet_test.cc.
#include "signals/recording/parquet.h"

#include <gtest/gtest.h>

#include <cmath>
#include <random>
#include <set>

#include "signals/recording/internal/parquet_file.h"
#include "signals/recording/internal/parquet_names.h"
#include "signals/recording/internal/thrift_compact.h"

namespace fuelwright::signals::parquet_test {
namespace {

Channel channel(Quantity what, const std::string& header, std::vector<double> si) {
  Channel c;
  c.what = what;
  c.kind = info(what).kind;
  c.header = header;
  c.si = std::move(si);
  return c;
}

TEST(Parquet, EveryQuantityHasANameOfItsOwnWithItsUnitAndNoneIsAReservedWord) {
  Recording r;
  for (const QuantityInfo& q : quantities()) r.channels.push_back(channel(q.what, "date", {}));
  const auto fields = parquet_fields(r);
  std::set<std::string> names;
  for (std::size_t i = 0; i < fields.size(); ++i) {
    const QuantityInfo& q = info(r.channels[i].what);
    EXPECT_TRUE(names.insert(fields[i].name).second) << fields[i].name;
    EXPECT_EQ(fields[i].unit, q.unit) << q.name;  // the unit was found among those of its kind
    EXPECT_EQ(fields[i].name.find_first_not_of("abcdefghijklmnopqrstuvwxyz0123456789_"),
              std::string::npos)
        << fields[i].name;
  }
  // Reserved in DuckDB, Spark or Trino (documentation of each, from memory), or a column of ours.
  for (const char* word : {"lambda", "select", "order", "group", "table", "user", "time", "date",
                           "ts", "session", "row_index", "segment", "vehicle", "map"}) {
    EXPECT_FALSE(names.contains(word)) << word;
  }
  EXPECT_TRUE(names.contains("lambda_1"));
  EXPECT_TRUE(names.contains("coolant_degc"));
  EXPECT_TRUE(names.contains("short_trim_1_pct"));
}

TEST(Parquet, ColumnsThatWouldShareANameAreToldApart) {
  Recording r;
  for (const char* header : {"Oil (x)", "OIL-X", "\xD6l", "oil x 2"}) {
    r.channels.push_back(channel(Quantity::other, header, {}));
  }
  std::set<std::string> names;
  for (const ParquetField& f : parquet_fields(r))
    EXPECT_TRUE(names.insert(f.name).second) << f.name;
  EXPECT_TRUE(names.contains("ch_oil_x"));
}

TEST(Parquet, TextThatIsNoUtf8IsMarkedAndTheRestStands) {
  EXPECT_EQ(as_utf8("\xC3\xA9\xE2\x82\xAC\xF0\x9F\x9A\x97 ok"),
            "\xC3\xA9\xE2\x82\xAC\xF0\x9F\x9A\x97 ok");
  for (const char* bad :
       {"\xFC", "\xC3", "\xC0\xAF", "\xE0\x80\xAF", "\xED\xA0\x80", "\xF4\x90\x80\x80"}) {
    EXPECT_EQ(as_utf8(bad).find_first_not_of('?'), std::string::npos) << bad;
  }
}

// A reader of runs, written from the format's own text and nothing of the writer.
std::vector<std::uint32_t> read_runs(const std::string& bytes, unsigned width, std::size_t count) {
  std::vector<std::uint32_t> out;
  std::size_t at = 0;
  const auto byte = [&] { return static_cast<unsigned char>(bytes.at(at++)); };
  while (out.size() < count) {
    std::uint64_t head = 0;
    for (unsigned shift = 0;; shift += 7) {
      const unsigned char b = byte();
      head |= static_cast<std::uint64_t>(b & 0x7F) << shift;
      if (b < 0x80) break;
    }
    if (head % 2 == 0) {
      std::uint32_t v = 0;
      for (unsigned k = 0; k < (width + 7) / 8; ++k)
        v |= static_cast<std::uint32_t>(byte()) << 8 * k;
      out.insert(out.end(), head / 2, v);
      continue;
    }
    std::vector<bool> bits;
    for (std::size_t k = 0; k < head / 2 * width; ++k) {
      const unsigned char b = byte();
      for (int bit = 0; bit < 8; ++bit) bits.push_back((b >> bit) % 2 != 0);
    }
    for (std::size_t k = 0; k < head / 2 * 8; ++k) {
      std::uint32_t v = 0;
      for (unsigned bit = 0; bit < width; ++bit) v |= std::uint32_t{bits[k * width + bit]} << bit;
      out.push_back(v);
    }
  }
  EXPECT_EQ(at, bytes.size());
  EXPECT_LT(out.size(), count + 8);
  out.resize(count);
  return out;
}

TEST(Parquet, RunsAndPackedBitsHoldEverySequence) {
  std::mt19937 random(41);
  for (int round = 0; round < 400; ++round) {
    const unsigned width = 1 + static_cast<unsigned>(random() % 17);
    std::vector<std::uint32_t> values;
    while (values.size() < random() % 300) {
      values.insert(values.end(), 1 + random() % (round % 2 == 0 ? 3 : 40),
                    static_cast<std::uint32_t>(random() % (1U << width)));
    }
    EXPECT_EQ(read_runs(parquet_runs(values, width), width, values.size()), values);
  }
  EXPECT_LE(parquet_runs(std::vector<std::uint32_t>(122'880, 1), 1).size(), 4U);
}

TEST(Parquet, FieldsOfTheCompactProtocolAreTheBytesOfItsSpecification) {
  ThriftWriter w;
  w.i32(1, -1);        // 0x15: step 1, type i32; zigzag 1
  w.i64(3, 150);       // 0x26: step 2, type i64; zigzag 300 = AC 02
  w.boolean(4, true);  // 0x11
  w.begin_struct(5);   // 0x1C
  w.text(2, "ab");     // 0x28, length 2
  w.end_struct();
  w.begin_list(6, 2, ThriftWriter::kI32);  // 0x19, 0x25
  w.element(0);
  w.element(1);
  EXPECT_EQ(w.finish(), std::string("\x15\x01\x26\xAC\x02\x11\x1C\x28\x02"
                                    "ab\x00\x19\x25\x00\x02\x00",
                                    17));
}

TEST(Parquet, AFileBeginsAndEndsWithItsMarkAndIsTheSameTwice) {
  Recording r;
  r.rows = 3;
  r.segments = {{0, 3, "1"}};
  r.channels.push_back(channel(Quantity::map, "MAP", {30e3, std::nan(""), 100e3}));
  const ParquetOptions o{"s", 0, {}};
  const std::string a = write_parquet(r, o);
  EXPECT_TRUE(a.starts_with("PAR1"));
  EXPECT_TRUE(a.ends_with("PAR1"));
  EXPECT_EQ(write_parquet(r, o), a);
}

TEST(Parquet, OnlyAClockThatTellsADateGivesTheStart) {
  Recording r;
  r.rows = 2;
  r.pace = Pace::timed;
  r.channels.push_back(channel(Quantity::time, "t", {std::nan(""), 1'777'887'000.5}));
  EXPECT_EQ(clock_start_us(r), 1'777'887'000'500'000);
  r.channels[0].si = {34'000.0, 34'000.1};  // seconds of a day
  EXPECT_EQ(clock_start_us(r), std::nullopt);
  r.channels[0].si = {1'777'887'000.0, 5.0};
  EXPECT_EQ(clock_start_us(r), std::nullopt);
}

}  // namespace
}  // namespace fuelwright::signals::parquet_test
