// Recordings as Parquet, read back by programs that are not ours: DuckDB and hyparquet (from npm,
// tests/node). Skipped where node or those packages are missing.
#include "signals/recording/parquet.h"

#include <gtest/gtest.h>
#include <sys/wait.h>
#include <unistd.h>

#include <array>
#include <cmath>
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <limits>
#include <nlohmann/json.hpp>
#include <string>

namespace fuelwright {
namespace {

using nlohmann::json;
using signals::Channel;
using signals::Quantity;

constexpr std::size_t kRows = 300'001;  // two full row groups and a part of one
constexpr std::int64_t kStart_us = 1'777'887'000'123'456;
constexpr double kGap = std::numeric_limits<double>::quiet_NaN();

struct Answer {
  int code = -1;
  std::string out;
};

Answer run(const std::string& command) {
  Answer a;
  std::FILE* pipe = popen((command + " 2>&1").c_str(), "r");
  std::array<char, 4096> buffer{};
  for (std::size_t n; (n = fread(buffer.data(), 1, buffer.size(), pipe)) > 0;) {
    a.out.append(buffer.data(), n);
  }
  a.code = WEXITSTATUS(pclose(pipe));
  return a;
}

class ParquetReaders : public testing::Test {
 protected:
  void SetUp() override {
    std::string name =
        (std::filesystem::temp_directory_path() / "fuelwright_parquet_XXXXXX").string();
    ASSERT_NE(mkdtemp(name.data()), nullptr);
    folder_ = name;
    if (run("node --version").code != 0) GTEST_SKIP() << "node is not installed";
    if (!std::filesystem::exists(FUELWRIGHT_SOURCE_DIR "/tests/node/node_modules/hyparquet")) {
      GTEST_SKIP() << "the readers are not installed: npm ci in tests/node";
    }
  }
  void TearDown() override { std::filesystem::remove_all(folder_); }
  void write(const std::string& name, const std::string& bytes) const {
    std::ofstream(folder_ + "/" + name, std::ios::binary) << bytes;
  }
  Answer read(const std::string& what, const std::string& path, const json& expected) const {
    write("expected.json", expected.dump());
    return run("node '" FUELWRIGHT_SOURCE_DIR "/tests/node/read_parquet.mjs' " + what + " '" +
               path + "' '" + folder_ + "/expected.json'");
  }
  std::string folder_;
};

Channel channel(Quantity what, const std::string& header) {
  Channel c;
  c.what = what;
  c.kind = signals::info(what).kind;
  c.header = header;
  c.si.resize(kRows, kGap);
  return c;
}

// Every shape a column can have: full, with short and long gaps, empty, constant, with zeros of
// both signs, infinite, with a header that is no UTF-8, twice the same quantity, a reserved word.
signals::Recording every_shape() {
  signals::Recording r;
  r.name = "shapes.csv";
  r.rows = kRows;
  r.pace = signals::Pace::timed;
  r.segments = {{0, 1000, "1"}, {1000, 200'000, "7"}, {200'000, kRows, "9"}};
  r.channels = {channel(Quantity::rpm, "RPM"),         channel(Quantity::map, "MAP"),
                channel(Quantity::lambda, "AFR"),      channel(Quantity::coolant, "K\xFChlmittel"),
                channel(Quantity::other, "select"),    channel(Quantity::lambda, "AFR 2"),
                channel(Quantity::short_trim, "STFT"), channel(Quantity::time, "Time"),
                channel(Quantity::battery, "Batterie")};
  r.channels[4].converted = false;
  for (std::size_t i = 0; i < kRows; ++i) {
    const double x = static_cast<double>(i);
    // One clock that is missing and one that falls back.
    r.time_s.push_back(i == 17 ? kGap : 0.05 * x - (i >= 250'000 ? 3.0 : 0.0));
    r.channels[0].si[i] = 800 + std::fmod(x * 37, 5200);
    if (i % 5 == 0) r.channels[1].si[i] = 30e3 + 7 * std::fmod(x, 10'000);
    if (i < 50'000 || i > 180'000) r.channels[2].si[i] = 0.85 + 0.0001 * std::fmod(x, 3000);
    r.channels[3].si[i] = 353.15;
    r.channels[4].si[i] = i % 2 == 0 ? 0.0 : -0.0;
    if (i % 7 != 0 || i > 245'760) r.channels[6].si[i] = 0.01 * std::sin(x);
    r.channels[7].si[i] = 1.7e9 + 0.05 * x;
    if (i == 99) r.channels[8].si[i] = std::numeric_limits<double>::infinity();
    if (i == 100) r.channels[8].si[i] = 13.8;
  }
  return r;
}

// [["SELECT ...", what it must give], ...]
json asked(const std::vector<std::pair<std::string, json>>& questions) {
  json out = json::array();
  for (const auto& [sql, gives] : questions) out.push_back(json::array({sql, gives}));
  return out;
}

template <class T>
std::string raw(const std::vector<T>& values) {
  return {reinterpret_cast<const char*>(values.data()), values.size() * sizeof(T)};
}

TEST_F(ParquetReaders, DuckDbAndHyparquetReadEveryCellGapStatisticAndNoteThatWeWrote) {
  const signals::Recording r = every_shape();
  write("drive.parquet",
        signals::write_parquet(r, {"0001-abc", kStart_us, {{"vehicle", "coup\xC3\xA9"}}}));
  json columns = json::array();
  std::vector<std::int64_t> ts, index;
  std::int64_t within = 0;
  for (std::size_t i = 0; i < kRows; ++i) {
    const double t = r.time_s[i];
    ts.push_back(std::isnan(t) ? std::numeric_limits<std::int64_t>::min()
                               : kStart_us + std::llround(t * 1e6));
    index.push_back(static_cast<std::int64_t>(i));
    within += t >= 100 && t <= 150;
  }
  write("ts", raw(ts));
  write("row_index", raw(index));
  columns.push_back({{"name", "ts"}, {"type", "i64"}, {"file", "ts"}});
  columns.push_back({{"name", "row_index"}, {"type", "i64"}, {"file", "row_index"}});
  // Names, units and factors written out by hand: what the archive promises, not what the code
  // says.
  struct Promise {
    const char* name;
    double factor, offset;
  };
  const Promise promises[] = {{"rpm", 1, 0},
                              {"map_kpa", 1000, 0},
                              {"lambda_1", 1, 0},
                              {"coolant_degc", 1, 273.15},
                              {"ch_select", 1, 0},
                              {"lambda_1_2", 1, 0},
                              {"short_trim_1_pct", 0.01, 0},
                              {"time_s", 1, 0},
                              {"battery_v", 1, 0}};
  json schema = {"ts TIMESTAMP WITH TIME ZONE", "session VARCHAR", "row_index BIGINT",
                 "segment VARCHAR"};
  for (std::size_t k = 0; k < r.channels.size(); ++k) {
    const Promise& p = promises[k];
    const bool wide = std::string(p.name) == "time_s";
    std::vector<double> doubles;
    std::vector<float> floats;
    for (const double si : r.channels[k].si) {
      doubles.push_back((si - p.offset) / p.factor);
      floats.push_back(static_cast<float>(doubles.back()));
    }
    write(p.name, wide ? raw(doubles) : raw(floats));
    columns.push_back({{"name", p.name}, {"type", wide ? "f64" : "f32"}, {"file", p.name}});
    schema.push_back(std::string(p.name) + (wide ? " DOUBLE" : " FLOAT"));
  }
  const json counts =
      asked({{"SELECT count(*) FROM FILE WHERE ts BETWEEN make_timestamptz(" +
                  std::to_string(kStart_us + 100'000'000) + ") AND make_timestamptz(" +
                  std::to_string(kStart_us + 150'000'000) + ")",
              within},
             {"SELECT count(*) FROM FILE WHERE ts IS NULL", 1},
             {"SELECT count(lambda_1_2) FROM FILE", 0},
             {"SELECT count(*) FROM FILE WHERE segment = '7' AND rpm > 0", 199'000}});
  ASSERT_EQ(within, 1001);
  const Answer a =
      read("cells", folder_ + "/drive.parquet",
           {{"rows", kRows},
            {"groups", 3},
            {"schema", schema},
            {"columns", columns},
            {"texts",
             {{"session", json::array({"0001-abc"})}, {"segment", json::array({"1", "7", "9"})}}},
            {"counts", counts},
            {"notes",
             {{"session", "0001-abc"},
              {"vehicle", "coup\xC3\xA9"},
              {"unit.map_kpa", "kPa"},
              {"header.lambda_1", "AFR"},
              {"header.coolant_degc", "K?hlmittel"}}}});
  EXPECT_EQ(a.code, 0) << a.out;
  EXPECT_NE(a.out.find("agreed: 11 columns of 300001 rows"), std::string::npos) << a.out;
}

// Two kinds of file: one whose clock knows the date, one without a date and in other units.
TEST_F(ParquetReaders, DuckDbAsksAWholeArchiveThatTheProgramWrote) {
  const std::string fuelwright = "cd '" + folder_ + "' && '" FUELWRIGHT_PROGRAM "' ";
  write("five.txt", "350 cu in\n8\n222 deg\n30 lb/h at 43.5 psi\nE10\n");
  std::string dated = "time,rpm,MAP (kPa),coolant (degC)\n";
  std::string plain = "Time (s),RPM,MAP (kPa),Coolant (degF),AFR\n";
  for (int i = 0; i < 400; ++i) {
    const std::string rpm = std::to_string(900 + 13 * (i % 150));
    const std::string map = std::to_string(30 + i % 60);
    dated += std::to_string(1'777'887'000 + i) + "," + rpm + "," + map + ",90\n";
    plain += std::to_string(0.1 * i) + "," + rpm + "," + map + ",194,14.2\n";
  }
  write("dated.csv", dated);
  write("plain.csv", plain);
  ASSERT_EQ(run(fuelwright + "new -o coupe.fw < five.txt").code, 0);
  const Answer first = run(fuelwright + "add coupe.fw dated.csv --channel time=time:s");
  ASSERT_EQ(first.code, 0) << first.out;
  const Answer second = run(fuelwright + "add coupe.fw plain.csv --afr-constant 14.2");
  ASSERT_EQ(second.code, 0) << second.out;
  const Answer out = run(fuelwright + "export-recordings coupe.fw -o shop");
  ASSERT_EQ(out.code, 0) << out.out;
  const json values =
      asked({{"SELECT count(*) FROM LOGS", 800},
             {"SELECT count(*) FROM LOGS WHERE vehicle = 'coupe'", 800},
             {"SELECT count(*) FROM LOGS WHERE date = DATE '2026-05-04'", 400},
             {"SELECT min(epoch(ts)) FROM LOGS WHERE date = DATE '2026-05-04'", 1'777'887'000},
             {"SELECT count(*) FROM LOGS WHERE ts >= make_timestamptz(1777887100000000)"
              " AND ts < make_timestamptz(1777887200000000)",
              100},
             {"SELECT count(lambda_1) FROM LOGS", 400},
             {"SELECT avg(lambda_1) FROM LOGS", 1},
             {"SELECT min(coolant_degc) FROM LOGS", 90},
             {"SELECT max(coolant_degc) FROM LOGS", 90},
             {"SELECT count(DISTINCT session) FROM LOGS", 2},
             {"SELECT count(*) FROM LOGS JOIN SESSIONS AS s USING (session)"
              " WHERE s.channel = 'lambda_1'",
              400},
             {"SELECT unit FROM SESSIONS WHERE channel = 'map_kpa' LIMIT 1", "kPa"},
             {"SELECT string_agg(DISTINCT unit_found, ',' ORDER BY unit_found) FROM"
              " SESSIONS WHERE channel = 'coolant_degc'",
              "degC,degF"}});
  const Answer a = read("archive", folder_ + "/shop", {{"values", values}});
  EXPECT_EQ(a.code, 0) << a.out;
  EXPECT_NE(a.out.find("agreed: 13 questions"), std::string::npos) << a.out;
  // Again: the same files, complete ones only.
  const auto files = [&] {
    std::size_t n = 0;
    for (const auto& f : std::filesystem::recursive_directory_iterator(folder_ + "/shop")) {
      if (!f.is_regular_file()) continue;
      EXPECT_EQ(f.path().extension(), ".parquet");
      ++n;
    }
    return n;
  };
  EXPECT_EQ(files(), 4U);
  ASSERT_EQ(run(fuelwright + "export-recordings coupe.fw -o shop").code, 0);
  EXPECT_EQ(files(), 4U);
}

}  // namespace
}  // namespace fuelwright
