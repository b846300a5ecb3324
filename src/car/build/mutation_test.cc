// Thousands of damaged sheets: reading never crashes, and whatever is refused names file and line
// in one line.
#include <gtest/gtest.h>

#include <fstream>
#include <random>
#include <sstream>

#include "car/build/derived.h"
#include "car/build/sheet_file.h"

namespace fuelwright::car::mutation_test {
namespace {

std::string example(const std::string& name) {
  std::ifstream in(std::string(FUELWRIGHT_SOURCE_DIR) + "/examples/" + name);
  std::stringstream out;
  out << in.rdbuf();
  return out.str();
}

class Mutator {
 public:
  explicit Mutator(unsigned seed) : random_(seed) {}

  std::string damaged(std::string text) {
    const int times = 1 + pick(3);
    for (int i = 0; i < times; ++i) text = once(std::move(text));
    return text;
  }

 private:
  int pick(std::size_t n) { return static_cast<int>(random_() % std::max<std::size_t>(1, n)); }

  std::string once(std::string text) {
    const std::size_t at = static_cast<std::size_t>(pick(text.size()));
    switch (pick(9)) {
      case 0:
        text[at] = static_cast<char>(pick(256));
        break;
      case 1:
        text.erase(at, static_cast<std::size_t>(1 + pick(12)));
        break;
      case 2:
        text.insert(at, 1, static_cast<char>(pick(256)));
        break;
      case 3:
        swap_number(text, at);
        break;
      case 4:
        duplicate_line(text, at);
        break;
      case 5:
      case 6:
      case 7:
        change_digit(text, at);
        break;
      case 8:
        text.resize(at);
        break;
      default:
        swap_lines(text, at);
        break;
    }
    return text.empty() ? "x" : text;
  }

  void change_digit(std::string& text, std::size_t at) {
    at = text.find_first_of("0123456789", at);
    if (at != std::string::npos) text[at] = static_cast<char>('0' + pick(10));
  }
  void swap_number(std::string& text, std::size_t at) {
    static const char* const kOdd[] = {
        "nan", "inf",  "-1",   "0",    "1e308",          "-1e-308",   "999999999999", "[]",
        "{}",  "\"\"", "true", "0x7f", "\"1 +- 1e300\"", "\"-0 mm\"", "[[1]]",        "07:32:00"};
    const auto from = text.find('=', at);
    if (from == std::string::npos) return;
    const auto to = std::min(text.find('\n', from), text.size());
    text.replace(from + 1, to - from - 1, kOdd[pick(std::size(kOdd))]);
  }
  static std::pair<std::size_t, std::size_t> line_at(const std::string& text, std::size_t at) {
    const auto before = at == 0 ? std::string::npos : text.rfind('\n', at - 1);
    const auto from = before == std::string::npos ? 0 : before + 1;
    return {from, std::min(text.find('\n', at), text.size() - 1) + 1};
  }
  static void duplicate_line(std::string& text, std::size_t at) {
    const auto [from, to] = line_at(text, at);
    text.insert(from, text.substr(from, to - from));
  }
  void swap_lines(std::string& text, std::size_t at) {
    const auto [from, to] = line_at(text, at);
    const std::string line = text.substr(from, to - from);
    text.erase(from, to - from);
    text.insert(text.empty() ? 0 : line_at(text, static_cast<std::size_t>(pick(text.size()))).first,
                line);
  }

  std::mt19937 random_;
};

// "sheet.toml:14: ..." in one line of printable text.
bool names_a_line(const std::string& message) {
  const std::string start = "sheet.toml:";
  if (!message.starts_with(start) || message.find_first_of("\r\n") != std::string::npos)
    return false;
  const auto colon = message.find(": ", start.size());
  if (colon == std::string::npos || colon == start.size() || colon + 2 >= message.size())
    return false;
  const std::string line = message.substr(start.size(), colon - start.size());
  return line[0] != '0' && line.find_first_not_of("0123456789") == std::string::npos;
}

TEST(MutatedSheets, NeverCrashAndEveryErrorNamesItsLine) {
  const std::string texts[] = {example("street_v8.toml"), example("small_four.toml")};
  Mutator mutator(7);
  int refused = 0, taken = 0;
  for (int i = 0; i < 3000; ++i) {
    const std::string text = mutator.damaged(texts[i % 2]);
    const auto sheet = read_sheet(text, "sheet.toml");
    if (!sheet.ok()) {
      ++refused;
      ASSERT_TRUE(names_a_line(sheet.error().line())) << sheet.error().line() << "\n" << text;
      continue;
    }
    ++taken;
    // What is taken is whole: it has axes, volumes, and reads back equal.
    ASSERT_GE(table_grid(*sheet).size(), 4u) << text;
    ASSERT_GT(clearance_volume(*sheet).si, 0) << text;
    const auto again = read_sheet(write_sheet(*sheet), "sheet.toml");
    ASSERT_TRUE(again.ok()) << again.error().line() << "\n" << text << write_sheet(*sheet);
    ASSERT_EQ(*again, *sheet) << text << write_sheet(*sheet);
  }
  EXPECT_GT(refused, 800);
  EXPECT_GT(taken, 200);
}

}  // namespace
}  // namespace fuelwright::car::mutation_test
