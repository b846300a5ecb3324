// Dishonest files: a table with a cell that cannot be read as what its column holds.
#include <fmt/format.h>

#include "tests/corpus/corpus.h"

namespace fuelwright::corpus {
namespace {

using Q = signals::Quantity;
constexpr auto kBadCell = ErrorCode::bad_input;
constexpr std::size_t kRow = 100;  // the broken one; on line 102

// The usual drive with one cell of the pressure replaced.
DishonestFile cell(const std::string& name, const std::string& text) {
  Draft d = usual_draft();
  column(d, Q::map).si[kRow] = std::nan("");
  d.style.gap = text;
  return {name, d.text(), kBadCell, ":102: channel \"MAP\""};
}

DishonestFile clock(const std::string& name, const std::string& text, const std::string& says) {
  Draft d = usual_draft();
  d.clock_header = "Clock";
  for (std::size_t i = 0; i < kRows; ++i) {
    d.clock[i] = fmt::format("12:{:02}:{:02}", i / 60, i % 60);
  }
  d.clock[kRow] = text;
  return {name, d.text(), kBadCell, says};
}

DishonestFile dates(const std::string& name, const std::string& first, const std::string& last,
                    ErrorCode code, const std::string& says) {
  Draft d = usual_draft();
  d.clock_header = "Date";
  for (std::size_t i = 0; i < kRows; ++i) {
    d.clock[i] = fmt::format("{} 12:{:02}:{:02}", i < kRows / 2 ? first : last, i / 60, i % 60);
  }
  return {name, d.text(), code, says};
}

void numbers(std::vector<DishonestFile>& out) {
  out.push_back(cell("letter.csv", "4o"));
  out.push_back(cell("infinite.csv", "inf"));
  out.push_back(cell("hexadecimal.csv", "0x1F"));
  out.push_back(cell("two_numbers.csv", "40 41"));
  out.push_back(cell("too_big.csv", "1e999"));
  out.push_back(cell("two_signs.csv", "--40"));
  out.push_back(cell("two_points.csv", "40.1.2"));
  out.push_back(cell("lone_sign.csv", "+"));
  out.push_back(cell("word.csv", "ERROR"));
  out.push_back(cell("unit_all_at_once.csv", "40 psi"));
  out.push_back(cell("escape.csv", "\x1B[2J"));
}

void marks(std::vector<DishonestFile>& out) {
  Draft d = usual_draft();
  d.style.separator = ';';
  d.style.decimal_comma = true;
  std::string mixed = d.header() + d.rows(0, kRow);
  d.style.decimal_comma = false;
  mixed += d.rows(kRow, kRows);
  out.push_back({"mixed_marks.csv", mixed, kBadCell, "mixes decimal points and decimal commas"});
  std::string thousands = "RPM;Speed (km/h)\n";
  for (int i = 0; i < 300; ++i)
    thousands += fmt::format("{},{:03};{}\n", 1 + i / 100, i % 100 * 9, 30 + i);
  out.push_back({"thousands.csv", thousands, kBadCell, "may be decimal or mark thousands"});
}

void units(std::vector<DishonestFile>& out) {
  Draft cells = usual_draft();
  cells.style.units = Style::Units::cells;
  std::string text = cells.header() + cells.rows(0, kRow);
  column(cells, Q::map).unit = "psi";
  text += cells.rows(kRow, kRows);
  out.push_back({"unit_changes.csv", text, kBadCell, ":102: channel \"MAP\""});
  constexpr std::size_t kLater = 150;  // on line 152
  Draft plain = usual_draft();
  plain.style.units = Style::Units::cells;
  text = plain.header() + plain.rows(0, kLater);
  plain.style.units = Style::Units::nowhere;
  text += plain.rows(kLater, kRows);
  out.push_back({"unit_goes.csv", text, kBadCell, ":152: channel \"RPM\""});
  Draft both = usual_draft();
  both.style.units = Style::Units::cells;
  column(both, Q::map).header = "MAP (psi)";
  out.push_back({"header_against_cells.csv", both.text(), kBadCell,
                 "the header says psi, the cells say kPa"});
}

void clocks(std::vector<DishonestFile>& out) {
  out.push_back(clock("minute_61.csv", "12:61:00", ":102: channel \"Clock\""));
  out.push_back(clock("clock_of_words.csv", "noon", ":102: channel \"Clock\""));
  out.push_back(clock("clock_turns_number.csv", "43200.5", ":102: channel \"Clock\""));
  out.push_back(
      dates("february_30.csv", "2026-02-28", "2026-02-30", kBadCell, "not in the calendar"));
  out.push_back(dates("month_13.csv", "13/12/2026", "12/13/2026", kBadCell, "not in the calendar"));
  out.push_back(
      dates("day_or_month.csv", "04/05/2026", "05/05/2026", ErrorCode::needs_answer, "day first"));
}

}  // namespace

std::vector<DishonestFile> dishonest_cells() {
  std::vector<DishonestFile> out;
  numbers(out);
  marks(out);
  units(out);
  clocks(out);
  return out;
}

}  // namespace fuelwright::corpus
