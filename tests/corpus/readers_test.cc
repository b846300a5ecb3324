// Readers that are not ours, Python's csv module and DuckDB (from npm, tests/node), read honest
// files of the corpus and must find the numbers from which our channels were made.
// Skipped where python3, node or DuckDB are missing.
#include <gtest/gtest.h>
#include <sys/wait.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "base/units/number.h"
#include "signals/recording/recording.h"
#include "tests/corpus/corpus.h"

namespace fuelwright::corpus {
namespace {

using nlohmann::json;

constexpr std::size_t kFewestFiles = 12;
constexpr std::size_t kFewestCells = 5'000;
constexpr std::size_t kFewestGaps = 500;
constexpr double kSame = 1e-9;  // relative; the same digits, converted to SI and back

// Files that any reader can understand: header in the first line, decimal points, UTF-8, one table.
struct Plain {
  const char* name;
  char separator;
};
constexpr Plain kPlain[] = {
    {"comma.csv", ','},
    {"semicolon.csv", ';'},
    {"tab.txt", '\t'},
    {"quoted.csv", ','},
    {"quoted_semicolon.csv", ';'},
    {"crlf.csv", ','},
    {"cr.csv", ','},
    {"bom.csv", ','},
    {"square_brackets.csv", ','},
    {"units_in_names.csv", ','},
    {"quoted_names.csv", ','},
    {"500_columns.csv", ','},
    {"many_digits.csv", ','},
    {"words.csv", ','},
    {"ms.csv", ','},
    {"epoch_s.csv", ','},
    {"epoch_ms.csv", ','},
    {"serial.csv", ','},
    {"iso.csv", ','},
    {"clock.csv", ','},
    {"uneven.csv", ','},
    {"time_with_gaps.csv", ','},
    {"no_time.csv", ','},
    {"psi.csv", ','},
    {"degf.csv", ','},
    {"trim_percent.csv", ','},
    {"english.csv", ','},
};

// What loggers write where there is no value.
bool is_gap_word(const std::string& text) {
  constexpr std::array<std::string_view, 4> kWords = {"-", "n/a", "NaN", "null"};
  return std::ranges::find(kWords, text) != kWords.end();
}

struct Sample {
  HonestFile file;
  char separator;
};

std::vector<Sample> plain_files() {
  std::vector<Sample> out;
  std::vector<HonestFile> all = honest_files();
  for (HonestFile& f : all) {
    const auto* const p =
        std::ranges::find_if(kPlain, [&](const Plain& x) { return x.name == f.name; });
    if (p != std::end(kPlain)) {
      out.push_back({std::move(f), p->separator});
    } else if (f.name.starts_with("gap_")) {
      out.push_back({std::move(f), ','});
    }
  }
  return out;
}

struct Compared {
  std::size_t files = 0;
  std::size_t cells = 0;  // where they see a number
  std::size_t gaps = 0;   // where they see no value
  std::vector<std::string> differences;
};

void compare_cell(double ours, const json& theirs, const std::string& where, Compared& sum) {
  if (theirs.is_number()) {
    const double value = theirs.get<double>();
    ++sum.cells;
    // NaN compares false: a gap of ours is a difference here.
    if (std::abs(ours - value) <= kSame * std::abs(value)) return;
  } else if (theirs.is_null() || is_gap_word(theirs.get<std::string>())) {
    ++sum.gaps;
    if (std::isnan(ours)) return;
  }
  sum.differences.push_back(where + ": ours " + std::to_string(ours) + ", theirs " + theirs.dump());
}

// SI = number in the file * factor + offset. None where the unit is not known or not linear.
std::optional<UnitInfo> unit_of(const signals::Channel& c) {
  if (!c.converted || c.unit == "lambda") return UnitInfo{c.unit, c.kind, 1, 0};
  if (c.unit == "% around 0") return UnitInfo{c.unit, c.kind, 0.01, 0};
  if (c.unit == "days") return UnitInfo{c.unit, c.kind, 86'400, 0};
  return find_unit(c.unit, c.kind);
}

// Our channel of their column: theirs is the whole name; ours is without its unit, and "?" stands
// for a line end.
const signals::Channel* channel_of(const signals::Recording& ours, std::string name) {
  std::ranges::replace(name, '\n', '?');
  const auto same = [&](const signals::Channel& c) {
    return name == c.header || name == c.header + " (" + c.unit_found + ")" ||
           name == c.header + " [" + c.unit_found + "]";
  };
  const auto found = std::ranges::find_if(ours.channels, same);
  return found == ours.channels.end() ? nullptr : &*found;
}

void compare_file(const signals::Recording& ours, const json& theirs, Compared& sum) {
  const std::size_t before = sum.cells;
  for (std::size_t i = 0; i < theirs.at("columns").size(); ++i) {
    const json& column = theirs["columns"][i];
    const std::string name = theirs.at("names").at(i).get<std::string>();
    const std::string where = ours.name + ", " + name;
    if (column.size() != ours.rows) {
      sum.differences.push_back(where + ": " + std::to_string(ours.rows) + " rows, theirs " +
                                std::to_string(column.size()));
      continue;
    }
    const signals::Channel* c = channel_of(ours, name);
    if (std::ranges::none_of(column, &json::is_number)) {
      // Words are no channel; clock readings and dates are text to them.
      if (c != nullptr && c->what != signals::Quantity::time) {
        sum.differences.push_back(where + ": numbers for us only");
      }
      continue;
    }
    const auto unit = c == nullptr ? std::nullopt : unit_of(*c);
    if (!unit) {
      sum.differences.push_back(where + (c == nullptr ? ": no channel" : ": unit " + c->unit));
      continue;
    }
    for (std::size_t row = 0; row < ours.rows; ++row) {
      compare_cell((c->si[row] - unit->offset) / unit->factor, column[row],
                   where + ", row " + std::to_string(row), sum);
    }
  }
  if (sum.cells > before) ++sum.files;
}

class CsvReaders : public testing::Test {
 protected:
  void SetUp() override {
    std::string name =
        (std::filesystem::temp_directory_path() / "fuelwright_readers_XXXXXX").string();
    ASSERT_NE(mkdtemp(name.data()), nullptr);
    folder_ = name;
    samples_ = plain_files();
    json list = json::array();
    for (const Sample& s : samples_) {
      const std::string path = folder_ + "/" + s.file.name;
      std::ofstream(path, std::ios::binary) << s.file.bytes;
      list.push_back({{"path", path}, {"separator", std::string(1, s.separator)}});
    }
    std::ofstream(folder_ + "/list.json") << list.dump();
  }
  void TearDown() override { std::filesystem::remove_all(folder_); }

  // The exit code; what was said is in the files out and err.
  int run(const std::string& command) const {
    const std::string all = command + " >'" + folder_ + "/out' 2>'" + folder_ + "/err'";
    return WEXITSTATUS(std::system(all.c_str()));
  }
  std::string said(const char* where) const {
    std::ifstream in(folder_ + "/" + where, std::ios::binary);
    return {std::istreambuf_iterator<char>(in), {}};
  }
  Compared compare_all(const json& theirs) const {
    Compared sum;
    EXPECT_EQ(theirs.size(), samples_.size());
    for (std::size_t i = 0; i < std::min(theirs.size(), samples_.size()); ++i) {
      const HonestFile& f = samples_[i].file;
      const auto ours = signals::read_recording(f.bytes, f.name, f.answers);
      if (ours) {
        compare_file(*ours, theirs[i], sum);
      } else {
        sum.differences.push_back(ours.error().line());
      }
    }
    return sum;
  }
  void expect_agreement(const std::string& reader) {
    ASSERT_EQ(run(reader + " '" + folder_ + "/list.json'"), 0) << said("err");
    json theirs = json::parse(said("out"), nullptr, false);
    ASSERT_TRUE(theirs.is_array()) << said("out").substr(0, 200);
    const Compared sum = compare_all(theirs);
    EXPECT_EQ(sum.differences.size(), 0U) << [&] {
      std::string first;
      for (std::size_t i = 0; i < std::min<std::size_t>(sum.differences.size(), 5); ++i) {
        first += sum.differences[i] + "\n";
      }
      return first;
    }();
    EXPECT_GE(sum.files, kFewestFiles);
    EXPECT_GE(sum.cells, kFewestCells);
    EXPECT_GE(sum.gaps, kFewestGaps);
    EXPECT_EQ(sum.files, samples_.size());
    RecordProperty("files", std::to_string(sum.files));
    RecordProperty("cells", std::to_string(sum.cells));
    RecordProperty("gaps", std::to_string(sum.gaps));
    expect_one_changed_cell_is_seen(std::move(theirs));
  }
  // The comparison itself: a hundred-millionth, and a number where there is a gap.
  void expect_one_changed_cell_is_seen(json theirs) const {
    json& cell = theirs[0]["columns"][1][7];
    ASSERT_TRUE(cell.is_number());
    cell = cell.get<double>() * (1 + 1e-8);
    EXPECT_EQ(compare_all(theirs).differences.size(), 1U);
    cell = nullptr;
    EXPECT_EQ(compare_all(theirs).differences.size(), 1U);
  }

  std::string folder_;
  std::vector<Sample> samples_;
};

TEST_F(CsvReaders, AllPlainFilesAreInTheCorpus) {
  EXPECT_EQ(samples_.size(), std::size(kPlain) + 5);  // five ways of writing a gap
}

TEST_F(CsvReaders, PythonReadsEveryCellAndGapAsWeDo) {
  if (run("python3 -c 'import csv, json'") != 0) GTEST_SKIP() << "python3 is not installed";
  expect_agreement("python3 '" FUELWRIGHT_SOURCE_DIR "/tests/corpus/read_csv.py'");
}

TEST_F(CsvReaders, DuckDbReadsEveryCellAndGapAsWeDo) {
  if (run("node --version") != 0) GTEST_SKIP() << "node is not installed";
  if (!std::filesystem::exists(FUELWRIGHT_SOURCE_DIR "/tests/node/node_modules/@duckdb/node-api")) {
    GTEST_SKIP() << "the readers are not installed: npm ci in tests/node";
  }
  expect_agreement("node '" FUELWRIGHT_SOURCE_DIR "/tests/node/read_csv.mjs'");
}

}  // namespace
}  // namespace fuelwright::corpus
