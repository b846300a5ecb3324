// Fuzz target: any bytes give a recording whose parts agree, or one line. Seeds: seeds/csv, made by
// csv_seeds.cc.
#include <algorithm>
#include <cstddef>
#include <cstdint>
#include <cstdlib>
#include <string>
#include <string_view>
#include <vector>

#include "signals/recording/recording.h"

namespace {

using namespace fuelwright::signals;

void demand(bool holds) {
  if (!holds) std::abort();
}

void check_line(const std::string& line) {
  demand(!line.empty());
  demand(std::ranges::none_of(line, [](char c) { return c == '\n' || c == '\r' || c == '\0'; }));
}

void check(const Recording& r) {
  demand(r.rows > 0 && !r.segments.empty());
  for (const Channel& c : r.channels) demand(c.si.size() == r.rows);
  demand(r.time_s.empty() || r.time_s.size() == r.rows);
  std::size_t row = 0;
  for (const Segment& s : r.segments) {
    demand(s.first == row && s.last > s.first);
    row = s.last;
  }
  demand(row == r.rows);
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  // In memory of just this size, so that one byte too far is seen.
  const std::vector<char> copy(data, data + size);
  const std::string_view bytes(copy.data(), copy.size());
  const auto kind = file_kind(bytes, "fuzz.csv");
  const auto bare = recognise(bytes, "fuzz.csv", {});
  if (!bare) {
    check_line(bare.error().line());
  } else {
    for (const Question& q : bare->questions) check_line(q.line());
    demand(kind.ok() && *kind == bare->kind);
  }
  Answers answers;
  answers.afr_constant = 14.7;
  answers.ambient = fuelwright::absolute(101325 * fuelwright::pascal);
  // What a file asks about is answered with its last option, so that reading goes on.
  if (bare) {
    for (const Question& q : bare->questions) {
      if (!q.options.empty()) answers.channels[q.header].what = Quantity::other;
    }
  }
  const auto read = read_with_report(bytes, "fuzz.csv", answers);
  if (read) {
    check(read->recording);
  } else {
    check_line(read.error().line());
  }
  return 0;
}
