#include "signals/recording/internal/scan.h"

#include <fmt/format.h>

#include <algorithm>
#include <limits>

#include "base/contract.h"
#include "signals/recording/internal/cells.h"
#include "signals/recording/internal/header.h"

namespace fuelwright::signals {
namespace {

constexpr double kGap = std::numeric_limits<double>::quiet_NaN();
constexpr std::size_t kTextSample = 200;  // rows that decide whether a column holds words

std::string shown(std::string_view cell) {
  constexpr std::size_t kLongest = 40;
  std::string out = to_utf8(trimmed(cell).substr(0, kLongest));
  std::ranges::replace_if(out, [](char c) { return static_cast<unsigned char>(c) < 32; }, '?');
  return out;
}

bool unnamed(const CsvColumn& column) { return column.header.starts_with("column "); }

class Rows {
 public:
  Rows(CsvTable& table, const HeaderFound& found)
      : table_(table), found_(found), allow_comma_(table.separator != ',') {}

  Status read() {
    find_text_columns();
    reserve();
    std::string_view rest = found_.data;
    line_ = found_.data_line;
    for (; !rest.empty(); ++line_) {
      const Line next = next_line(rest, found_.line_end);
      if (trimmed(next.text).empty()) continue;
      if (next.text == found_.header_line) {
        note_break();
        continue;
      }
      if (!next.ended) {
        table_.warnings.push_back(
            fmt::format("line {} has no line end and may be cut short; it was left out", line_));
        break;
      }
      FW_CHECK(read_row(next.text));
    }
    if (table_.rows == 0) {
      return Error{ErrorCode::bad_input, table_.name, "has a header but no complete row of values"};
    }
    finish();
    return Done{};
  }

 private:
  Error at_line(std::string message) const {
    return {ErrorCode::bad_input, fmt::format("{}:{}", table_.name, line_), std::move(message)};
  }

  void note_break() {
    if (table_.breaks.empty()) {
      table_.warnings.push_back(
          fmt::format("the header comes again on line {}: a new segment starts there", line_));
    }
    table_.breaks.push_back(table_.rows);
  }

  // A column holds words if most of its first cells are neither numbers nor gaps.
  void find_text_columns() {
    std::vector<std::size_t> words(table_.columns.size());
    std::vector<std::size_t> numbers(table_.columns.size());
    std::string_view rest = found_.data;
    for (std::size_t n = 0; n < kTextSample && !rest.empty(); ++n) {
      const Line next = next_line(rest, found_.line_end);
      if (!next.ended || next.text == found_.header_line) continue;
      cut_cells(next.text, table_.separator, cells_);
      for (std::size_t i = 0; i < std::min(cells_.size(), words.size()); ++i) {
        const CellKind kind = read_cell(cells_[i], allow_comma_).kind;
        words[i] += kind == CellKind::other ? 1 : 0;
        numbers[i] += kind == CellKind::number ? 1 : 0;
      }
    }
    for (std::size_t i = 0; i < words.size(); ++i) {
      if (words[i] <= numbers[i]) continue;
      table_.columns[i].text = true;
      table_.warnings.push_back(fmt::format("\"{}\" holds words, not numbers; it was not read",
                                            table_.columns[i].header));
    }
  }

  // A row needs a byte for each of its cells at least, so this is bounded by the bytes.
  void reserve() {
    const auto lines = static_cast<std::size_t>(std::ranges::count(found_.data, found_.line_end));
    const std::size_t most = found_.data.size() / table_.columns.size() + 1;
    for (CsvColumn& c : table_.columns) {
      if (!c.text) c.value.reserve(std::min(lines, most));
    }
  }

  Status read_row(std::string_view text) {
    if (!cut_cells(text, table_.separator, cells_)) {
      return at_line("a quote is not closed on its line");
    }
    const std::size_t wanted = table_.columns.size();
    while (cells_.size() > wanted && trimmed(cells_.back()).empty()) cells_.pop_back();
    // A header that ends in a separator names a last column that rows may leave away.
    if (cells_.size() + 1 == wanted && unnamed(table_.columns.back())) cells_.emplace_back();
    if (cells_.size() != wanted) {
      return at_line(
          fmt::format("{} cells came, expected {} as in the header", cells_.size(), wanted));
    }
    for (std::size_t i = 0; i < wanted; ++i) {
      if (table_.columns[i].text || read_value(i)) continue;
      return refuse(i);
    }
    if (table_.line_marks.empty() || line_ != last_line_ + 1) {
      table_.line_marks.emplace_back(table_.rows, line_);
    }
    last_line_ = line_;
    ++table_.rows;
    return Done{};
  }

  // False for a cell that must be refused; refuse() says why.
  bool read_value(std::size_t i) {
    const Cell cell = read_cell(cells_[i], allow_comma_);
    if (cell.kind == CellKind::other) return false;
    points_ = points_ || (cell.point && allow_comma_);
    table_.decimal_comma = table_.decimal_comma || cell.comma;
    table_.columns[i].value.push_back(cell.kind == CellKind::number ? cell.value : kGap);
    return !(points_ && table_.decimal_comma);
  }

  Error refuse(std::size_t i) const {
    const bool number = read_cell(cells_[i], allow_comma_).kind != CellKind::other;
    return at_line(fmt::format(
        "channel \"{}\": \"{}\" {}", table_.columns[i].header, shown(cells_[i]),
        number ? "mixes decimal points and decimal commas in one file; expected one kind"
               : "is not a number"));
  }

  // A last column that no header names and nothing fills is a trailing separator.
  void finish() {
    CsvColumn& last = table_.columns.back();
    const bool blank =
        !last.text && std::ranges::all_of(last.value, [](double v) { return v != v; });
    if (blank && table_.columns.size() > 2 && unnamed(last)) {
      table_.columns.pop_back();
    }
  }

  CsvTable& table_;
  const HeaderFound& found_;
  bool allow_comma_;
  bool points_ = false;
  std::vector<std::string_view> cells_;
  std::size_t line_ = 0;
  std::size_t last_line_ = 0;
};

}  // namespace

std::size_t CsvTable::line_of(std::size_t row) const {
  EXPECTS(row < rows);
  const auto after =
      std::ranges::upper_bound(line_marks, row, {}, &std::pair<std::size_t, std::size_t>::first);
  EXPECTS(after != line_marks.begin());
  const auto& [first_row, line] = *(after - 1);
  return line + (row - first_row);
}

Result<CsvTable> scan_csv(std::string_view bytes, std::string_view name) {
  CsvTable table;
  table.name = name;
  FW_TRY(const HeaderFound found, read_header(bytes, table));
  FW_CHECK(Rows(table, found).read());
  return table;
}

}  // namespace fuelwright::signals
