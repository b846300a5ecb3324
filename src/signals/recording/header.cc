#include "signals/recording/internal/header.h"

#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <optional>
#include <string>

#include "base/units/number.h"
#include "signals/recording/internal/cells.h"

namespace fuelwright::signals {
namespace {

constexpr std::size_t kSampleLines = 60;
constexpr std::size_t kSampleBytes = 1U << 20U;  // a first line longer than this is no header
constexpr std::size_t kMostColumns = 4096;

using Cells = std::vector<std::string_view>;

struct Sample {
  std::string_view text;
  std::size_t line = 0;
  std::string_view rest;  // what follows it
};

std::string place(const CsvTable& t, std::size_t line) {
  return fmt::format("{}:{}", t.name, line);
}

std::vector<Sample> first_lines(std::string_view bytes, char line_end) {
  std::vector<Sample> out;
  std::string_view rest = bytes;
  std::size_t line = 0;
  while (!rest.empty() && out.size() < kSampleLines && bytes.size() - rest.size() < kSampleBytes) {
    const Line next = next_line(rest, line_end);
    ++line;
    if (!trimmed(next.text).empty()) out.push_back({next.text, line, rest});
  }
  return out;
}

// The commonest number of cells, and the share of lines that have it (one more is allowed: a
// trailing separator).
struct Fit {
  char separator = ',';
  std::size_t cells = 0;
  double share = 0;
};
Fit fit_of(const std::vector<Sample>& lines, char separator) {
  std::map<std::size_t, std::size_t> seen;
  Cells cells;
  for (const Sample& s : lines) {
    cut_cells(s.text, separator, cells);
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
  std::size_t close = best;
  if (const auto less = seen.find(fit.cells - 1); fit.cells > 2 && less != seen.end()) {
    close += less->second;
  }
  fit.share = lines.empty() ? 0 : static_cast<double>(close) / static_cast<double>(lines.size());
  return fit;
}

// Tab before semicolon before comma: a comma may be decimal in files that use one of the others.
std::optional<Fit> find_separator(const std::vector<Sample>& lines) {
  constexpr double kMostLines = 0.6;
  std::optional<Fit> best;
  for (const char separator : {'\t', ';', ','}) {
    const Fit fit = fit_of(lines, separator);
    if (fit.cells < 2) continue;
    if (fit.share >= kMostLines) return fit;
    if (!best || fit.share > best->share) best = fit;
  }
  return best;
}

bool has_number(const Cells& cells, bool allow_comma) {
  return std::ranges::any_of(cells, [&](std::string_view c) {
    return read_cell(c, allow_comma).kind == CellKind::number;
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

}  // namespace

Result<HeaderFound> read_header(std::string_view bytes, CsvTable& table) {
  FW_CHECK(check_bytes(bytes, table));
  if (bytes.starts_with("\xEF\xBB\xBF")) bytes.remove_prefix(3);
  HeaderFound out;
  out.line_end = find_line_end(bytes);
  const std::vector<Sample> lines = first_lines(bytes, out.line_end);
  const std::optional<Fit> fit = find_separator(lines);
  if (!fit) {
    return Error{ErrorCode::bad_input, place(table, 1),
                 "has one column only; expected several, separated by comma, semicolon or tab"};
  }
  table.separator = fit->separator;
  const bool allow_comma = fit->separator != ',';
  Cells cells;
  // The header: the first line about as long as the rows that holds no number.
  const auto header = std::ranges::find_if(lines, [&](const Sample& s) {
    cut_cells(s.text, fit->separator, cells);
    return cells.size() + 1 >= fit->cells && cells.size() >= 2;
  });
  if (header == lines.end()) {
    return Error{ErrorCode::bad_input, place(table, 1), "no line here looks like a header"};
  }
  if (!cut_cells(header->text, fit->separator, cells)) {
    return Error{ErrorCode::bad_input, place(table, header->line),
                 "a quote is not closed on its line"};
  }
  if (cells.size() > kMostColumns) {
    return Error{ErrorCode::too_large, place(table, header->line),
                 fmt::format("{} columns came; at most {} are read", cells.size(), kMostColumns)};
  }
  if (has_number(cells, allow_comma)) {
    return Error{
        ErrorCode::bad_input, place(table, header->line),
        "numbers came where the header was expected; the first line must name the channels"};
  }
  if (header->line > 1) {
    table.warnings.push_back(fmt::format("{} lines before the header on line {} were not read",
                                         header->line - 1, header->line));
  }
  name_columns(cells, table);
  out.header_line = header->text;
  out.data = header->rest;
  out.data_line = header->line + 1;
  if (const auto units = header + 1; units != lines.end()) {
    cut_cells(units->text, fit->separator, cells);
    if (is_units_row(cells, allow_comma)) {
      take_units(cells, table);
      out.data = units->rest;
      out.data_line = units->line + 1;
    }
  }
  return out;
}

}  // namespace fuelwright::signals
