// Dishonest files: no table at all, or one whose frame is broken.
#include <fmt/format.h>

#include "tests/corpus/corpus.h"

namespace fuelwright::corpus {
namespace {

constexpr auto kBad = ErrorCode::bad_input;

std::string usual() { return usual_draft().text(); }

std::string with_line(const std::string& line) {
  const Draft d = usual_draft();
  return d.header() + d.rows(0, 100) + line + "\n" + d.rows(100, kRows);
}

void no_tables(std::vector<DishonestFile>& out) {
  out.push_back({"empty.csv", "", kBad, "is empty"});
  out.push_back({"blank.csv", " \n\r\n\t\n", kBad, "is empty"});
  out.push_back({"words.txt", "the car ran well\nuntil the bridge\n", kBad, ""});
  out.push_back({"one_column.csv", "RPM\n900\n910\n", kBad, "one column only"});
  out.push_back({"header_only.csv", usual_draft().header(), kBad, "no complete row"});
  out.push_back({"torn_only.csv", usual_draft().header() + "0.0,900", kBad, "no complete row"});
  out.push_back({"no_header.csv", usual_draft().rows(0, kRows), kBad, "expected"});
  out.push_back({"zeros.csv", std::string(5000, '\0'), kBad, "not text"});
  out.push_back({"binary.bin",
                 std::string("\x7F"
                             "ELF\x02\x01\x01\0\0\0\0\0",
                             12),
                 kBad, "not text"});
  out.push_back({"zip.csv", std::string("PK\x03\x04\x14\0\0\0\x08\0", 10), kBad, "not text"});
  out.push_back({"page.csv", "<html>\n<body>\n<p>Sign in, please\n</body>\n</html>\n", kBad, ""});
  out.push_back({"list.json", "{\"rpm\": [900, 910],\n \"map\": [40, 41]}\n", kBad, ""});
  out.push_back({"utf16.csv", "\xFF\xFER\0P\0M\0", kBad, "UTF-16"});
  out.push_back({"utf16_big.csv", "\xFE\xFF\0R\0P\0M", kBad, "UTF-16"});
  out.push_back(
      {"database.csv", std::string("SQLite format 3\0\x10\0\x01\x01", 20), kBad, "not text"});
}

void frames(std::vector<DishonestFile>& out) {
  out.push_back({"short_row.csv", with_line("10.0,900"), kBad, ":102: 2 cells came, expected 10"});
  out.push_back({"long_row.csv", with_line("1,2,3,4,5,6,7,8,9,10,11"), kBad, ":102: 11 cells"});
  out.push_back({"open_quote.csv", with_line("\"10,1,2,3,4,5,6,7,8,9"), kBad, ":102: a quote"});
  std::string commas = usual_draft().header();
  for (int i = 0; i < 50; ++i) commas += "0,1,900,0,40,1,3,5,20,0,24,0,0,951,2,5,13,8,22,5\n";
  out.push_back({"commas_between_commas.csv", commas, kBad, ""});
  Draft other = usual_draft();
  std::swap(other.columns[0], other.columns[1]);
  out.push_back({"another_header.csv", usual() + other.text(), kBad, ":402:"});
  other.columns.pop_back();
  out.push_back({"fewer_columns.csv", usual() + other.text(), kBad, ":402: 9 cells"});
  std::string wide = "Time";
  for (int i = 0; i < 5000; ++i) wide += fmt::format(",X{}", i);
  wide += "\n0";
  for (int i = 0; i < 5000; ++i) wide += ",1";
  out.push_back({"5000_columns.csv", wide + "\n", ErrorCode::too_large, "5001 columns"});
  Draft aligned = usual_draft();
  aligned.style.separator = ' ';
  aligned.columns[2].si[100] = std::nan("");
  out.push_back({"gap_among_blanks.txt", aligned.text(), kBad, ":102: 9 cells"});
  out.push_back({"zero_byte.csv",
                 with_line(std::string("10.0,9\0"
                                       "0,1,2,3,4,5,6,7,8",
                                       23)),
                 kBad, ":102: channel \"RPM\""});
  out.push_back({"two_separators.csv",
                 usual_draft().header() +
                     "0;900;1;2;3;4;5;6;7;8\n1;900;1;2;3;4;5;6;7;8\n2;900;1;2;3;4;5;6;7;8\n",
                 kBad, ""});
  std::string glued = usual();
  glued.insert(glued.find('\n', 2000), "0.1");
  out.push_back({"garbage_behind_row.csv", glued, kBad, ""});
}

}  // namespace

std::vector<DishonestFile> dishonest_bytes() {
  std::vector<DishonestFile> out;
  no_tables(out);
  frames(out);
  return out;
}

}  // namespace fuelwright::corpus
