// Pasted text as cells, and cells as numbers.
#include "car/tables/internal/cells.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>

#include "car/tables/internal/decimal.h"
#include "car/tables/internal/shown.h"

namespace fuelwright::car::internal {
namespace {

using std::string_view;

string_view trim(string_view s) {
  const auto blank = [](char c) { return c == ' ' || c == '\t'; };
  while (!s.empty() && blank(s.front())) s.remove_prefix(1);
  while (!s.empty() && blank(s.back())) s.remove_suffix(1);
  return s;
}

bool is_digit(char c) { return c >= '0' && c <= '9'; }

// The separator that stands outside quotes.
char separator_of(string_view text, bool decimal_comma) {
  bool quoted = false;
  bool semicolon = false;
  for (const char c : text) {
    if (c == '"') quoted = !quoted;
    if (quoted) continue;
    if (c == '\t') return '\t';
    semicolon = semicolon || c == ';';
  }
  return semicolon ? ';' : decimal_comma ? '\t' : ',';
}

class Splitter {
 public:
  Splitter(string_view text, char separator) : rest_(text), separator_(separator) {}

  Result<Cells> run() {
    while (!rest_.empty()) {
      ++line_;
      std::vector<std::string> row;
      do {
        FW_TRY(std::string next, cell());
        row.push_back(std::move(next));
      } while (take(separator_));
      if (!end_of_line()) {
        return Error{ErrorCode::bad_input, fmt::format("row {}, column {}", line_, row.size()),
                     "something follows a closing quote"};
      }
      const bool blank =
          std::all_of(row.begin(), row.end(), [](const auto& c) { return c.empty(); });
      if (blank) continue;
      out_.rows.push_back(std::move(row));
      out_.line.push_back(line_);
    }
    return std::move(out_);
  }

 private:
  bool take(char c) {
    if (rest_.empty() || rest_.front() != c) return false;
    rest_.remove_prefix(1);
    return true;
  }

  bool end_of_line() {
    if (rest_.empty()) return true;
    const bool carriage = take('\r');
    return take('\n') || carriage;
  }

  Result<std::string> cell() {
    while (!rest_.empty() && rest_.front() == ' ') rest_.remove_prefix(1);
    if (!rest_.empty() && rest_.front() == '"') return quoted();
    const std::array<char, 4> ends{separator_, '\r', '\n', '\0'};
    const auto end = rest_.find_first_of(string_view(ends.data(), 3));
    const string_view out = rest_.substr(0, end);
    rest_.remove_prefix(out.size());
    return std::string(trim(out));
  }

  Result<std::string> quoted() {
    rest_.remove_prefix(1);
    std::string out;
    while (!rest_.empty()) {
      if (take('"')) {
        if (!take('"')) {
          while (!rest_.empty() && rest_.front() == ' ') rest_.remove_prefix(1);
          return std::string(trim(out));
        }
        out += '"';
      } else {
        out += rest_.front();
        rest_.remove_prefix(1);
      }
    }
    return Error{ErrorCode::bad_input, fmt::format("row {}", line_), "a quote is not closed"};
  }

  string_view rest_;
  char separator_;
  std::size_t line_ = 0;
  Cells out_;
};

// Spreadsheets leave separators at the ends of lines.
void drop_blank_columns(Cells& cells) {
  const auto all_end_blank = [&] {
    return std::all_of(cells.rows.begin(), cells.rows.end(),
                       [](const auto& r) { return r.size() > 1 && r.back().empty(); });
  };
  while (!cells.rows.empty() && all_end_blank()) {
    for (auto& row : cells.rows) row.pop_back();
  }
}

// Blanks of every kind become ' ', the typographic minus '-', the apostrophe between thousands ' '.
std::string cleaned(const std::string& cell) {
  static constexpr std::array<std::pair<string_view, char>, 7> kMarks{{{"\xC2\xA0", ' '},
                                                                       {"\xE2\x80\xAF", ' '},
                                                                       {"\xE2\x80\x89", ' '},
                                                                       {"\xE2\x80\x87", ' '},
                                                                       {"\xE2\x80\x99", ' '},
                                                                       {"'", ' '},
                                                                       {"\xE2\x88\x92", '-'}}};
  std::string out;
  for (std::size_t i = 0; i < cell.size();) {
    const auto mark = std::find_if(kMarks.begin(), kMarks.end(), [&](const auto& m) {
      return string_view(cell).substr(i).starts_with(m.first);
    });
    out += mark == kMarks.end() ? cell[i] : mark->second;
    i += mark == kMarks.end() ? 1 : mark->first.size();
  }
  string_view text = trim(out);
  if (text.ends_with('%')) text = trim(text.substr(0, text.size() - 1));
  if (text.size() > 1 && text[0] == '+' && (is_digit(text[1]) || text[1] == '.')) {
    text.remove_prefix(1);
  }
  return std::string(text);
}

// The digits before the exponent, without sign; the exponent with its letter.
struct Number {
  bool negative = false;
  string_view mantissa;
  string_view exponent;
};

std::optional<Number> dissect(string_view text) {
  Number out;
  out.negative = text.starts_with('-');
  if (out.negative) text.remove_prefix(1);
  const auto e = text.find_first_of("eE");
  out.mantissa = text.substr(0, e);
  if (e != string_view::npos) out.exponent = text.substr(e);
  if (out.mantissa.find_first_not_of("0123456789., ") != string_view::npos) return std::nullopt;
  if (out.mantissa.find_first_of("0123456789") == string_view::npos) return std::nullopt;
  return out;
}

// True if the marks split the text into 1 to 3 digits and then groups of three.
bool in_thousands(string_view digits, char mark) {
  std::size_t group = 0;
  bool first = true;
  for (const char c : digits) {
    if (is_digit(c)) {
      ++group;
    } else {
      if (c != mark || (first ? group < 1 || group > 3 : group != 3)) return false;
      first = false;
      group = 0;
    }
  }
  return first || group == 3;
}

// What one cell says of the decimal mark: ',' or '.', '?' for "1,500", ' ' for nothing.
char says(const Number& n) {
  const auto commas = std::count(n.mantissa.begin(), n.mantissa.end(), ',');
  const auto points = std::count(n.mantissa.begin(), n.mantissa.end(), '.');
  if (commas == 0 && points == 0) return ' ';
  if (commas > 0 && points > 0) {
    return n.mantissa.rfind(',') > n.mantissa.rfind('.') ? ',' : '.';
  }
  const char mark = commas > 0 ? ',' : '.';
  if (commas + points > 1) return mark == ',' ? '.' : ',';
  const auto at = n.mantissa.find(mark);
  const bool alone = n.mantissa.find(' ') == string_view::npos && n.exponent.empty();
  const bool grouped = in_thousands(n.mantissa, mark) && n.mantissa.front() != '0';
  return alone && grouped && at > 0 ? '?' : mark;
}

// In the first row stand engine speeds, at most 20,000; "101.325" down the side is no 101,325.
bool may_be_thousands(const Number& n, std::size_t row) {
  const auto lead = n.mantissa.find_first_of(",.");
  return row == 0 && (lead < 2 || (lead == 2 && n.mantissa.substr(0, 2) <= "20"));
}

Error contradiction(const Cells& cells, std::size_t r, std::size_t c) {
  return {ErrorCode::bad_input, cells.place(r, c),
          fmt::format("\"{}\" has another decimal mark than the cells before it; write all numbers "
                      "with one",
                      shown(cells.rows[r][c]))};
}

}  // namespace

std::string Cells::place(std::size_t r, std::size_t c) const {
  return fmt::format("row {}, column {}", line[r], c + 1);
}

Result<Cells> split_cells(string_view text, bool decimal_comma) {
  constexpr string_view kBom = "\xEF\xBB\xBF";
  if (text.starts_with(kBom)) text.remove_prefix(kBom.size());
  if (text.size() > kLargestTableText) {
    return Error{
        ErrorCode::too_large, "table",
        fmt::format("{} bytes came; a table has at most {}", text.size(), kLargestTableText)};
  }
  FW_TRY(Cells cells, Splitter(text, separator_of(text, decimal_comma)).run());
  drop_blank_columns(cells);
  if (cells.rows.empty()) return Error{ErrorCode::bad_input, "table", "it is empty"};
  for (std::size_t r = 0; r < cells.row_count(); ++r) {
    if (cells.rows[r].size() == cells.column_count()) continue;
    return Error{ErrorCode::bad_input, fmt::format("row {}", cells.line[r]),
                 fmt::format("has {} columns; the first row has {}", cells.rows[r].size(),
                             cells.column_count())};
  }
  return cells;
}

Status find_decimal_mark(Cells& cells, std::size_t first, std::optional<char> told) {
  if (told) {
    cells.decimal = *told;
    return Done{};
  }
  std::optional<char> found;
  std::optional<std::pair<std::size_t, std::size_t>> open;
  for (std::size_t r = 0; r < cells.row_count(); ++r) {
    for (std::size_t c = 0; c < cells.column_count(); ++c) {
      const std::string text = cleaned(cells.rows[r][c]);
      const auto number = dissect(text);
      char mark = number ? says(*number) : ' ';
      if (mark == '?') {
        const bool is_value = r >= first && c >= first;
        const char only = number->mantissa.find(',') != string_view::npos ? ',' : '.';
        if (is_value || !may_be_thousands(*number, r)) {
          mark = only;
        } else {
          if (!open) open = {r, c};
          continue;
        }
      }
      if (mark == ' ') continue;
      if (found && *found != mark) return contradiction(cells, r, c);
      found = mark;
    }
  }
  cells.decimal = found.value_or('.');
  if (found || !open) return Done{};
  const auto [r, c] = *open;
  return Error{ErrorCode::needs_answer, cells.place(r, c),
               fmt::format("\"{}\" may be a decimal number or thousands; give --decimal comma or "
                           "--decimal point",
                           shown(cells.rows[r][c]))};
}

Status refuse_formulas(const Cells& cells) {
  for (std::size_t r = 0; r < cells.row_count(); ++r) {
    for (std::size_t c = 0; c < cells.column_count(); ++c) {
      const std::string text = cleaned(cells.rows[r][c]);
      if (text.size() < 2 || string_view("=+-@").find(text[0]) == string_view::npos) continue;
      if (dissect(text)) continue;
      return Error{ErrorCode::bad_input, cells.place(r, c),
                   fmt::format("\"{}\" is a formula; paste its value", shown(cells.rows[r][c]))};
    }
  }
  return Done{};
}

bool looks_like_number(const std::string& cell) {
  const std::string text = cleaned(cell);
  return dissect(text).has_value();
}

Result<std::string> plain_number(const Cells& cells, std::size_t r, std::size_t c) {
  const std::string& cell = cells.rows[r][c];
  const std::string text = cleaned(cell);
  const auto wrong = [&](const char* what) {
    return Error{ErrorCode::bad_input, cells.place(r, c),
                 fmt::format("\"{}\" {}", shown(cell), what)};
  };
  const auto number = dissect(text);
  if (!number) return wrong("is not a number");
  const auto at = number->mantissa.find(cells.decimal);
  const string_view whole = number->mantissa.substr(0, at);
  const string_view decimals =
      at == string_view::npos ? string_view{} : number->mantissa.substr(at + 1);
  // One kind of thousands mark, or none.
  const auto mark = whole.find_first_not_of("0123456789");
  if (mark != string_view::npos && !in_thousands(whole, whole[mark]))
    return wrong("is not a number");
  if (decimals.find_first_not_of("0123456789") != string_view::npos)
    return wrong("is not a number");
  std::string out = number->negative ? "-" : "";
  std::copy_if(whole.begin(), whole.end(), std::back_inserter(out), is_digit);
  if (at != string_view::npos) out += "." + std::string(decimals);
  out += number->exponent;
  if (!parse_shifted(out, 0)) return wrong("is not a number");
  return out;
}

Result<double> number_at(const Cells& cells, std::size_t r, std::size_t c, int shift) {
  FW_TRY(const std::string text, plain_number(cells, r, c));
  if (const auto v = parse_shifted(text, shift)) return *v;
  return Error{ErrorCode::out_of_range, cells.place(r, c),
               fmt::format("\"{}\" is beyond any number here", shown(text))};
}

Result<double> number_at(const Cells& cells, std::size_t r, std::size_t c, const UnitInfo& unit) {
  FW_TRY(const std::string text, plain_number(cells, r, c));
  if (const auto v = parse_in(text, unit)) return *v;
  return Error{ErrorCode::out_of_range, cells.place(r, c),
               fmt::format("\"{}\" is beyond any number here", shown(text))};
}

}  // namespace fuelwright::car::internal
