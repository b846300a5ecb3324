#include "signals/recording/internal/scan.h"

#include <fmt/format.h>

#include <algorithm>
#include <limits>

#include "base/contract.h"
#include "signals/recording/internal/cells.h"
#include "signals/recording/internal/column_form.h"
#include "signals/recording/internal/header.h"
#include "signals/recording/internal/number_scan.h"

namespace fuelwright::signals {
namespace {

constexpr double kGap = std::numeric_limits<double>::quiet_NaN();

std::string shown(std::string_view cell) {
  constexpr std::size_t kLongest = 40;
  std::string out = to_utf8(trimmed(cell).substr(0, kLongest));
  std::ranges::replace_if(out, [](char c) { return static_cast<unsigned char>(c) < 32; }, '?');
  return out;
}

bool unnamed(const CsvColumn& column) { return column.header.starts_with("column "); }

// The marks that numbers have shown so far.
struct Marks {
  bool points = false;
  bool commas = false;
  bool proven = false;  // some comma cannot mark thousands
};

class Rows {
 public:
  Rows(CsvTable& table, const HeaderFound& found)
      : table_(table),
        found_(found),
        allow_comma_(table.separator != ','),
        aligned_(table.separator == ' '),
        columns_(table.columns.size()),
        block_rows_(std::clamp<std::size_t>(kBlockCells / columns_, 8, kMostBlockRows)),
        block_(block_rows_ * columns_) {}

  Status read() {
    FW_CHECK(find_forms(table_, found_));
    for (const CsvColumn& c : table_.columns) forms_.push_back(c.form);
    reserve();
    line_ = found_.data_line;
    rest_ = found_.data;
    const std::size_t last = rest_.rfind(found_.line_end);
    const std::size_t whole = last == std::string_view::npos ? 0 : last + 1;
    const std::string_view tail = rest_.substr(whole);
    rest_ = rest_.substr(0, whole);
    while (!rest_.empty()) {
      if (read_quick_row()) continue;
      FW_CHECK(read_careful_row());
    }
    if (!trimmed(tail).empty() && tail != found_.header_line) {
      table_.warnings.push_back(
          fmt::format("line {} has no line end and may be cut short; it was left out", line_));
    }
    flush();
    if (table_.rows == 0) {
      return Error{ErrorCode::bad_input, table_.name, "has a header but no complete row of values"};
    }
    return finish();
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
    table_.breaks.push_back(rows());
  }

  std::size_t rows() const { return table_.rows + in_block_; }

  // A guess by the first lines, an eighth more; what is never touched takes no memory. A row needs
  // a byte for each of its cells at least, so this is bounded by the bytes.
  void reserve() {
    constexpr std::size_t kSample = std::size_t{1} << 16U;
    const std::string_view top = found_.data.substr(0, kSample);
    const auto lines = static_cast<std::size_t>(std::ranges::count(top, found_.line_end)) + 1;
    const double per_line = static_cast<double>(top.size()) / static_cast<double>(lines);
    const double guess = static_cast<double>(found_.data.size()) / std::max(per_line, 1.0) * 1.125;
    const std::size_t most = found_.data.size() / columns_ + 1;
    for (CsvColumn& c : table_.columns) {
      if (!c.text) c.value.reserve(std::min(static_cast<std::size_t>(guess) + 16, most));
    }
  }

  // The values of a block of rows go to their columns together: a block stays in the cache.
  void flush() {
    for (std::size_t i = 0; i < columns_; ++i) {
      CsvColumn& c = table_.columns[i];
      if (c.text) continue;
      const auto first = block_.begin() + static_cast<std::ptrdiff_t>(i * block_rows_);
      c.value.insert(c.value.end(), first, first + static_cast<std::ptrdiff_t>(in_block_));
    }
    table_.rows += in_block_;
    in_block_ = 0;
  }

  double& slot(std::size_t column) { return block_[column * block_rows_ + in_block_]; }

  void end_row(std::size_t lines) {
    if (table_.line_marks.empty() || line_ != last_line_ + 1) {
      table_.line_marks.emplace_back(rows(), line_);
    }
    last_line_ = line_;
    line_ += lines;
    if (++in_block_ == block_rows_) flush();
  }

  // A row of plain numbers, gaps and words, which nearly all are. False: nothing was taken, look
  // carefully. A line end follows somewhere, so that no cell runs over the end of the bytes.
  bool read_quick_row() {
    const Marks before = marks_;
    const char* const end = quick_cells();
    if (end == nullptr || (marks_.points && marks_.commas)) {
      marks_ = before;
      return false;
    }
    rest_.remove_prefix(static_cast<std::size_t>(end - rest_.data()));
    end_row(1);
    return true;
  }

  const char* quick_cells() {
    const char* p = rest_.data();
    const char* const end = p + rest_.size();
    Marks seen;
    for (std::size_t i = 0; i < columns_; ++i) {
      while (*p == ' ' || (aligned_ && *p == '\t')) ++p;
      const CellForm form = forms_[i];
      if (form == CellForm::number) {
        const ScannedNumber n = scan_number(p, allow_comma_);
        if (n.end != nullptr) {
          slot(i) = n.value;
          seen.points = seen.points || n.point;
          seen.commas = seen.commas || n.comma;
          seen.proven = seen.proven || (n.comma && !n.thousands);
          p = n.end;
        } else if (aligned_ || !read_odd_cell(i, p, end)) {
          return nullptr;
        }
      } else if (form == CellForm::unseen || aligned_) {
        if (!at_cell_end(*p)) return nullptr;
        slot(i) = kGap;
      } else if (!read_odd_cell(i, p, end)) {
        return nullptr;
      }
      if (!pass_separator(p, i + 1 == columns_)) return nullptr;
    }
    marks_.points = marks_.points || seen.points;
    marks_.commas = marks_.commas || seen.commas;
    marks_.proven = marks_.proven || seen.proven;
    return p;
  }

  bool at_cell_end(char c) const {
    return c == table_.separator || c == found_.line_end || c == '\r';
  }

  // Over the separator, or over the line end behind the last cell; one separator may stand there.
  bool pass_separator(const char*& p, bool last) const {
    const char* const before = p;
    while (*p == ' ' || (aligned_ && *p == '\t')) ++p;
    if (!last) {
      if (aligned_) return p != before && !at_cell_end(*p);
      return *p++ == table_.separator;
    }
    if (!aligned_ && *p == table_.separator) ++p;
    if (*p == '\r' && found_.line_end == '\n') ++p;
    return *p++ == found_.line_end;
  }

  // Words, clock readings, numbers with a unit or an exponent, spelled gaps: anything but quotes.
  bool read_odd_cell(std::size_t i, const char*& p, const char* end) {
    const char* q = p;
    while (q != end && *q != table_.separator && *q != found_.line_end && *q != '"') ++q;
    if (q == end || *q == '"') return false;
    const std::string_view cell(p, static_cast<std::size_t>(q - p));
    p = q;
    return read_value(i, cell);
  }

  Status read_careful_row() {
    std::string_view after = rest_;
    const TextRecord next = next_record(after, found_.line_end);
    if (trimmed(next.text).empty()) {
      rest_ = after;
      line_ += next.lines;
      return Done{};
    }
    if (is_header(rest_)) {
      note_break();
      take_header();
      return Done{};
    }
    const Marks before = marks_;
    const Status row = read_row(next.text);
    if (row.ok()) {
      rest_ = after;
      end_row(next.lines);
      return Done{};
    }
    marks_ = before;
    return begins_again(after, next.lines) ? Status{Done{}} : row;
  }

  // The header comes again, as in sessions put one behind the other.
  bool is_header(std::string_view text) const {
    if (text.starts_with("\xEF\xBB\xBF")) text.remove_prefix(3);
    if (!text.starts_with(found_.header_line)) return false;
    text.remove_prefix(found_.header_line.size());
    if (!text.empty() && text.front() == '\r' && found_.line_end == '\n') text.remove_prefix(1);
    return text.empty() || text.front() == found_.line_end;
  }

  void take_header() {
    line_ += next_record(rest_, found_.line_end).lines;
    std::string_view after = rest_;
    const TextRecord units = next_record(after, found_.line_end);
    if (found_.units_line.empty() || units.text != found_.units_line) return;
    rest_ = after;
    line_ += units.lines;
  }

  // Is this line the torn end of a session, or one of the lines before the next header? Then go
  // there. Lines that look like rows are never passed over.
  bool begins_again(std::string_view after, std::size_t lines) {
    constexpr std::size_t kMostLines = 40;
    for (std::size_t n = 0; n < kMostLines && !after.empty(); ++n) {
      if (is_header(after)) {
        table_.warnings.push_back(
            lines == 1
                ? fmt::format("line {} before the header that comes again was not read", line_)
                : fmt::format("lines {} to {} before the header that comes again were not read",
                              line_, line_ + lines - 1));
        line_ += lines;
        rest_ = after;
        note_break();
        take_header();
        return true;
      }
      const TextRecord next = next_record(after, found_.line_end);
      lines += next.lines;
      cut(next.text, table_.separator, cells_);
      if (cells_.size() == columns_ &&
          std::ranges::any_of(cells_, [&](auto c) { return holds_number(c, allow_comma_); })) {
        return false;
      }
    }
    return false;
  }

  Status read_row(std::string_view text) {
    if (!cut(text, table_.separator, cells_)) return at_line("a quote is not closed");
    while (cells_.size() > columns_ && trimmed(cells_.back()).empty()) cells_.pop_back();
    // A header that ends in a separator names a last column that rows may leave away.
    if (cells_.size() + 1 == columns_ && unnamed(table_.columns.back())) cells_.emplace_back();
    if (cells_.size() != columns_) {
      return at_line(fmt::format("{} cells came, expected {} as in the header{}", cells_.size(),
                                 columns_,
                                 !allow_comma_ && cells_.size() + 1 >= 2 * columns_
                                     ? " (decimal commas between separating commas?)"
                                     : ""));
    }
    for (std::size_t i = 0; i < columns_; ++i) {
      if (table_.columns[i].form == CellForm::unseen) {
        std::string suffix;
        const CellForm form = form_of(cells_[i], allow_comma_, suffix);
        if (form != CellForm::unseen) FW_CHECK(set_form(table_, i, form, suffix));
        forms_[i] = form;
      }
      if (!read_value(i, cells_[i]) || (marks_.points && marks_.commas)) return refuse(i);
    }
    return Done{};
  }

  // False for a cell that must be refused; refuse() says why.
  bool read_value(std::size_t i, std::string_view raw) {
    CsvColumn& c = table_.columns[i];
    if (c.form == CellForm::text) return true;
    if (c.form == CellForm::clock) return read_clock_cell(c, i, raw);
    const Cell cell = read_cell(raw, allow_comma_);
    slot(i) = cell.kind == CellKind::gap ? kGap : cell.value;
    if (cell.kind == CellKind::gap) return true;
    const bool fits = c.form == CellForm::suffixed
                          ? !cell.suffix.empty() && to_utf8(cell.suffix) == c.suffix
                          : cell.kind == CellKind::number;
    if (!fits) return false;
    marks_.points = marks_.points || cell.point;
    marks_.commas = marks_.commas || cell.comma;
    marks_.proven = marks_.proven || (cell.comma && !cell.thousands);
    return true;
  }

  bool read_clock_cell(CsvColumn& c, std::size_t i, std::string_view raw) {
    slot(i) = kGap;
    if (read_cell(raw, allow_comma_).kind == CellKind::gap) return true;
    const std::string_view bare = trimmed(raw);
    const bool quoted = bare.size() >= 2 && bare.front() == '"' && bare.back() == '"';
    const ClockCell clock = read_clock(quoted ? bare.substr(1, bare.size() - 2) : bare);
    if (!clock.ok || (!c.dates.empty() && !clock.has_date)) return false;
    slot(i) = clock.seconds;
    c.two_parts = c.two_parts || clock.two_parts;
    if (!clock.has_date) return true;
    while (!c.dates.empty() && c.dates.back().first >= rows()) c.dates.pop_back();
    if (c.dates.empty() || c.dates.back().second != clock.date) {
      c.dates.emplace_back(rows(), clock.date);
    }
    return true;
  }

  Error refuse(std::size_t i) const {
    const CsvColumn& c = table_.columns[i];
    const Cell cell = read_cell(cells_[i], allow_comma_);
    const bool number = cell.kind == CellKind::number;
    std::string why = "is not a number";
    if (c.form == CellForm::clock) {
      why = "is not a clock reading like those before it";
    } else if (c.form == CellForm::suffixed) {
      why = fmt::format("is not a number with the unit {} like those before it", c.suffix);
    } else if (number) {
      why = "mixes decimal points and decimal commas in one file; expected one kind";
    }
    return at_line(fmt::format("channel \"{}\": \"{}\" {}", c.header, shown(cells_[i]), why));
  }

  // A last column that no header names and nothing fills is a trailing separator.
  Status finish() {
    table_.decimal_comma = marks_.commas;
    if (marks_.commas && !marks_.proven) {
      return Error{ErrorCode::bad_input, table_.name,
                   "every comma in a number stands before three digits (\"1,234\"), so it may be "
                   "decimal or mark thousands; expected decimal points, or another number of "
                   "decimals"};
    }
    FW_CHECK(finish_clocks(table_, day_order));
    CsvColumn& last = table_.columns.back();
    const bool blank =
        !last.text && std::ranges::all_of(last.value, [](double v) { return v != v; });
    if (blank && table_.columns.size() > 2 && unnamed(last)) {
      table_.columns.pop_back();
    }
    const bool numbers = std::ranges::any_of(table_.columns, [](const CsvColumn& c) {
      return std::ranges::any_of(c.value, [](double v) { return v == v; });
    });
    if (!numbers) {
      return Error{ErrorCode::bad_input, table_.name,
                   "has rows but no column of numbers; expected a recording"};
    }
    return Done{};
  }

  static constexpr std::size_t kBlockCells = 16384;
  static constexpr std::size_t kMostBlockRows = 1024;

  CsvTable& table_;
  const HeaderFound& found_;
  bool allow_comma_;
  bool aligned_;
  Marks marks_;
  std::size_t columns_;
  std::size_t block_rows_;
  std::size_t in_block_ = 0;
  std::vector<double> block_;    // [column][row]
  std::vector<CellForm> forms_;  // [column], as in the table, near at hand
  std::string_view rest_;
  std::vector<std::string_view> cells_;
  std::size_t line_ = 0;
  std::size_t last_line_ = 0;

 public:
  std::optional<DateOrder> day_order;
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

Result<CsvTable> scan_csv(std::string_view bytes, std::string_view name,
                          std::optional<DateOrder> day_order) {
  CsvTable table;
  table.name = name;
  FW_TRY(const HeaderFound found, read_header(bytes, table));
  Rows rows(table, found);
  rows.day_order = day_order;
  FW_CHECK(rows.read());
  return table;
}

}  // namespace fuelwright::signals
