// docs/exit_codes.md tells scripts what to expect; it must say what the program does.
#include <gtest/gtest.h>

#include <algorithm>
#include <map>
#include <sstream>
#include <string>

#include "base/result.h"
#include "source_tree.h"

namespace fuelwright::house {
namespace {

struct Row {
  int exit;
  int http;
};

/// The rows "| `name` | exit code | status | ..."; every other line is left out.
std::map<std::string, Row> rows_of(std::string_view page) {
  std::map<std::string, Row> rows;
  for (const std::string_view line : lines_of(page)) {
    std::istringstream in{std::string(line)};
    std::string bar, name, bar2, bar3;
    Row row{};
    if (!(in >> bar >> name >> bar2 >> row.exit >> bar3 >> row.http)) continue;
    if (bar != "|" || bar2 != "|" || bar3 != "|" || name.size() < 3 || name.front() != '`')
      continue;
    rows[name.substr(1, name.size() - 2)] = row;
  }
  return rows;
}

TEST(ExitCodes, ThePageListsEveryErrorWithTheCodesItReallyHas) {
  const auto tree = read_tree(FUELWRIGHT_SOURCE_DIR);
  const auto page = std::ranges::find(tree, "docs/exit_codes.md", &SourceFile::path);
  ASSERT_NE(page, tree.end());
  const auto rows = rows_of(page->text);

  constexpr auto kLast = static_cast<int>(ErrorCode::newer_version);
  for (int i = 0; i <= kLast; ++i) {
    const auto code = static_cast<ErrorCode>(i);
    const auto row = rows.find(name_of(code));
    ASSERT_NE(row, rows.end()) << name_of(code) << " is not on the page";
    EXPECT_EQ(row->second.exit, exit_code(code)) << name_of(code);
    EXPECT_EQ(row->second.http, http_status(code)) << name_of(code);
  }
  EXPECT_EQ(rows.size(), kLast + 1u) << "the page lists an error that does not exist";
}

TEST(ExitCodes, ARowOfThePageIsReadAsNameExitCodeAndStatus) {
  const auto rows = rows_of(
      "| error | exit |\n|---|---|\n| `bad_input` | 3 | 422 | words |\n| none | 0 | 200 |\n");
  ASSERT_EQ(rows.size(), 1u);
  EXPECT_EQ(rows.at("bad_input").exit, 3);
  EXPECT_EQ(rows.at("bad_input").http, 422);
}

}  // namespace
}  // namespace fuelwright::house
