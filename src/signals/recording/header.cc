#include "signals/recording/internal/header.h"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <map>
#include <optional>
#include <string>

#include "base/units/number.h"
#include "signals/recording/internal/cells.h"

namespace fuelwright::signals {
namespace {

constexpr std::size_t kSampleLines = 120;
constexpr std::size_t kSampleBytes = 1U << 20U;  // a first line longer than this is no header
constexpr std::size_t kMostColumns = 4096;

using Cells = std::vector<std::string_view>;

struct Sample {
  std::string_view text;
  std::size_t line = 0;
  std::size_t lines = 1;
  std::string_view rest;  // what follows it
};

std::string place(const CsvTable& t, std::size_t line) {
  return fmt::format("{}:{}", t.name, line);
}

std::vector<Sample> first_lines(std::string_view bytes, char line_end) {
  std::vector<Sample> out;
  std::string_view rest = bytes;
  std::size_t line = 1;
  while (!rest.empty() && out.size() < kSampleLines && bytes.size() - rest.size() < kSampleBytes) {
    const TextRecord next = next_record(rest, line_end);
    if (!trimmed(next.text).empty()) out.push_back({next.text, line, next.lines, rest});
    line += next.lines;
  }
  return out;
}

// The commonest number of cells, the share of lines that have it (one less is allowed: a trailing
// separator), and the share of their cells that are numbers, readings or gaps.
struct Fit {
  char separator = ',';
  std::size_t cells = 0;
  double share = 0;
  double score = 0;
};

Fit fit_of(const std::vector<Sample>& lines, char separator) {
  constexpr double kLeast = 0.02;  // a header alone holds no numbers
  std::map<std::size_t, std::size_t> seen;
  Cells cells;
  for (const Sample& s : lines) {
    cut(s.text, separator, cells);
    ++seen[cells.size()];
  }
  Fit fit{separator};
  std::size_t best = 0;
  for (const auto& [n, times] : seen) {
    if (n >= 2 && times >= best) {
      best = times;
      fit.cells = n;
    }
  }
  if (fit.cells < 2) return fit;
  std::size_t close = best;
  if (const auto less = seen.find(fit.cells - 1); fit.cells > 2 && less != seen.end()) {
    close += less->second;
  }
  fit.share = static_cast<double>(close) / static_cast<double>(lines.size());
  std::size_t all = 0;
  std::size_t good = 0;
  for (const Sample& s : lines) {
    cut(s.text, separator, cells);
    if (cells.size() != fit.cells) continue;
    for (const std::string_view c : cells) {
      const bool gap = read_cell(c, separator != ',').kind == CellKind::gap;
      all += gap ? 0 : 1;
      good += !gap && holds_number(c, separator != ',') ? 1 : 0;
    }
  }
  const double numbers = all == 0 ? 0 : static_cast<double>(good) / static_cast<double>(all);
  fit.score = fit.share * (kLeast + numbers);
  return fit;
}

// Of equals, tab before semicolon before comma: a comma may be decimal in files that use one of the
// others. Aligned blanks only where they are clearly better: blanks stand inside cells as well.
std::optional<Fit> find_separator(const std::vector<Sample>& lines) {
  constexpr double kBlanks = 0.8;
  std::optional<Fit> best;
  for (const char separator : {'\t', ';', ',', '|', ' '}) {
    Fit fit = fit_of(lines, separator);
    if (fit.cells < 2) continue;
    if (separator == ' ') fit.score *= kBlanks;
    if (separator == ' ' && fit.score < 2 * 0.02) continue;
    if (!best || fit.score > best->score) best = fit;
  }
  return best;
}

bool has_number(const Cells& cells, bool allow_comma) {
  return std::ranges::any_of(cells, [&](std::string_view c) {
    return read_cell(c, allow_comma).kind == CellKind::number || read_clock(unquoted(c)).ok;
  });
}

// "RPM (1/min)" -> "RPM", "1/min"; "RPM ()" -> "RPM", "".
void split_unit(const std::string& text, CsvColumn& column) {
  column.header = text;
  if (text.empty()) return;
  const char close = text.back();
  const char open = close == ')' ? '(' : close == ']' ? '[' : '\0';
  if (open == '\0') return;
  std::size_t depth = 0;
  for (std::size_t i = text.size(); i-- > 0;) {
    if (text[i] == close) ++depth;
    if (text[i] == open && --depth == 0) {
      const auto name = trimmed(std::string_view(text).substr(0, i));
      if (name.empty()) return;
      column.unit = std::string(trimmed(std::string_view(text).substr(i + 1, text.size() - i - 2)));
      column.header = std::string(name);
      return;
    }
  }
}

bool is_unit(const std::string& text) {
  return !find_units(text).empty() || text == "\xCE\xBB" || text == "lambda" || text == "Lambda";
}

// A line of units: no numbers, and at least half of what it says are units.
bool is_units_row(const Cells& cells, bool allow_comma) {
  if (has_number(cells, allow_comma)) return false;
  std::size_t said = 0;
  std::size_t known = 0;
  for (const std::string_view c : cells) {
    std::string text = to_utf8(unquoted(c));
    if (text.size() > 2 && (text[0] == '(' || text[0] == '['))
      text = text.substr(1, text.size() - 2);
    if (text.empty() || text == "-") continue;
    ++said;
    known += is_unit(text) ? 1 : 0;
  }
  return said > 0 && 2 * known >= said;
}

void take_units(const Cells& cells, CsvTable& table) {
  for (std::size_t i = 0; i < std::min(cells.size(), table.columns.size()); ++i) {
    std::string text = to_utf8(unquoted(cells[i]));
    if (text.size() > 2 && (text[0] == '(' || text[0] == '['))
      text = text.substr(1, text.size() - 2);
    if (text != "-" && table.columns[i].unit.empty()) table.columns[i].unit = text;
  }
}

void name_columns(const Cells& cells, CsvTable& table) {
  std::map<std::string, std::size_t> seen;
  for (std::size_t i = 0; i < cells.size(); ++i) {
    CsvColumn column;
    std::string text = to_utf8(unquoted(cells[i]));
    std::ranges::replace_if(text, [](char c) { return static_cast<unsigned char>(c) < 32; }, '?');
    split_unit(text, column);
    if (column.header.empty()) column.header = fmt::format("column {}", i + 1);
    if (const std::size_t times = ++seen[column.header]; times > 1) {
      const std::string was = column.header;
      column.header = fmt::format("{}#{}", was, times);
      table.warnings.push_back(
          fmt::format("\"{}\" heads more than one column; number {} is called \"{}\" here", was,
                      times, column.header));
    }
    table.columns.push_back(std::move(column));
  }
}

Status check_bytes(std::string_view bytes, const CsvTable& table) {
  if (bytes.starts_with("\xFF\xFE") || bytes.starts_with("\xFE\xFF")) {
    return Error{ErrorCode::bad_input, table.name,
                 "is UTF-16 text; expected UTF-8: save it as CSV (UTF-8)"};
  }
  if (bytes.substr(0, 4096).find('\0') != std::string_view::npos) {
    return Error{ErrorCode::bad_input, table.name,
                 "holds zero bytes, so it is not text; expected a delimited text file (CSV)"};
  }
  if (bytes.find_first_not_of(" \t\r\n") == std::string_view::npos) {
    return Error{ErrorCode::bad_input, table.name, "is empty; expected a header line and rows"};
  }
  return Done{};
}

char find_line_end(std::string_view bytes) {
  const std::string_view top = bytes.substr(0, kSampleBytes);
  return top.find('\n') == std::string_view::npos && top.find('\r') != std::string_view::npos
             ? '\r'
             : '\n';
}

// Where the header, the row of units and the rows stand among the first lines.
struct Layout {
  std::size_t header = 0;
  std::optional<std::size_t> units;
};

class Finder {
 public:
  Finder(const std::vector<Sample>& lines, const Fit& fit)
      : lines_(lines), fit_(fit), allow_comma_(fit.separator != ',') {}

  // Cells of a line of names or units: aligned names may hold single blanks.
  bool names(std::size_t i, Cells& cells) const {
    const bool whole = cut(lines_[i].text, fit_.separator, cells);
    if (fit_.separator == ' ' && cells.size() != fit_.cells) cut_aligned(lines_[i].text, 2, cells);
    return whole;
  }

  // The last lines without numbers before the first two rows.
  std::optional<Layout> find() const {
    for (std::size_t i = 1; i < lines_.size(); ++i) {
      if (!is_row(i) || (i + 1 < lines_.size() && !is_row(i + 1))) continue;
      if (is_names(i - 1)) {
        if (i >= 2 && is_units(i - 1) && is_names(i - 2)) return Layout{i - 2, i - 1};
        return Layout{i - 1, {}};
      }
    }
    return std::nullopt;
  }

  bool is_names(std::size_t i) const {
    Cells cells;
    names(i, cells);
    return cells.size() + 1 >= fit_.cells && cells.size() <= fit_.cells + 1 && cells.size() >= 2 &&
           !has_number(cells, allow_comma_);
  }

 private:
  bool is_row(std::size_t i) const {
    Cells cells;
    cut(lines_[i].text, fit_.separator, cells);
    return cells.size() + 1 >= fit_.cells && cells.size() <= fit_.cells + 1 &&
           std::ranges::any_of(cells, [&](auto c) { return holds_number(c, allow_comma_); });
  }

  bool is_units(std::size_t i) const {
    Cells cells;
    names(i, cells);
    return is_units_row(cells, allow_comma_);
  }

  const std::vector<Sample>& lines_;
  const Fit& fit_;
  bool allow_comma_;
};

// No rows were found: why not?
Result<Layout> explain(const std::vector<Sample>& lines, const Finder& finder, const Fit& fit,
                       const CsvTable& table) {
  Cells cells;
  for (std::size_t i = 0; i < lines.size(); ++i) {
    finder.names(i, cells);
    if (cells.size() + 1 < fit.cells || cells.size() < 2) continue;
    if (!cut(lines[i].text, fit.separator, cells)) {
      return Error{ErrorCode::bad_input, place(table, lines[i].line), "a quote is not closed"};
    }
    if (has_number(cells, fit.separator != ',')) {
      return Error{
          ErrorCode::bad_input, place(table, lines[i].line),
          "numbers came where the header was expected; the first line must name the channels"};
    }
    return Layout{i, {}};
  }
  return Error{ErrorCode::bad_input, place(table, 1), "no line here looks like a header"};
}

}  // namespace

bool looks_like_unit(std::string_view suffix) {
  constexpr std::size_t kLongest = 12;
  if (suffix.empty() || suffix.size() > kLongest) return false;
  const bool plain = std::ranges::none_of(suffix, [](char c) {
    const auto b = static_cast<unsigned char>(c);
    return b < 128 && std::isalpha(b) == 0 && c != '%' && c != '/' && c != ' ';
  });
  return plain || !find_units(suffix).empty();
}

bool holds_number(std::string_view cell, bool allow_comma) {
  const Cell read = read_cell(cell, allow_comma);
  if (read.kind == CellKind::number) return true;
  if (read.kind == CellKind::gap) return false;
  return looks_like_unit(to_utf8(read.suffix)) || read_clock(unquoted(cell)).ok;
}

Result<HeaderFound> read_header(std::string_view bytes, CsvTable& table) {
  FW_CHECK(check_bytes(bytes, table));
  if (bytes.starts_with("\xEF\xBB\xBF")) bytes.remove_prefix(3);
  HeaderFound out;
  out.line_end = find_line_end(bytes);
  const std::vector<Sample> lines = first_lines(bytes, out.line_end);
  const std::optional<Fit> fit = find_separator(lines);
  if (!fit) {
    return Error{ErrorCode::bad_input, place(table, 1),
                 "has one column only; expected several, separated by comma, semicolon, tab, bar "
                 "or aligned blanks"};
  }
  table.separator = fit->separator;
  const Finder finder(lines, *fit);
  std::optional<Layout> layout = finder.find();
  if (!layout) {
    FW_TRY(layout, explain(lines, finder, *fit, table));
  }
  const Sample& header = lines[layout->header];
  Cells cells;
  finder.names(layout->header, cells);
  if (cells.size() > kMostColumns) {
    return Error{ErrorCode::too_large, place(table, header.line),
                 fmt::format("{} columns came; at most {} are read", cells.size(), kMostColumns)};
  }
  if (header.line > 1) {
    table.warnings.push_back(fmt::format("{} lines before the header on line {} were not read",
                                         header.line - 1, header.line));
  }
  name_columns(cells, table);
  out.header_line = header.text;
  out.data = header.rest;
  out.data_line = header.line + header.lines;
  if (layout->units) {
    const Sample& units = lines[*layout->units];
    finder.names(*layout->units, cells);
    take_units(cells, table);
    out.units_line = units.text;
    out.data = units.rest;
    out.data_line = units.line + units.lines;
  }
  for (CsvColumn& c : table.columns) c.header_unit = c.unit;
  return out;
}

}  // namespace fuelwright::signals
