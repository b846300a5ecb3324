#include "signals/recording/internal/cells.h"

#include <array>
#include <cctype>
#include <charconv>
#include <cmath>
#include <cstring>

namespace fuelwright::signals {
namespace {

bool is_blank(char c) { return c == ' ' || c == '\t' || c == '\r'; }

bool is_gap(std::string_view s) {
  if (s.empty()) return true;
  constexpr std::size_t kLongest = 4;
  if (s.size() > kLongest) return false;
  std::array<char, kLongest> buffer{};
  for (std::size_t i = 0; i < s.size(); ++i) {
    buffer[i] = static_cast<char>(std::tolower(static_cast<unsigned char>(s[i])));
  }
  const std::string_view low(buffer.data(), s.size());
  return low == "-" || low == "--" || low == "---" || low == "n/a" || low == "na" || low == "nan" ||
         low == "-nan" || low == "null" || low == "none" || low == "n.a." || low == "#n/a";
}

// A quote opens at the start of a cell, whatever separates the cells.
bool leaves_quote_open(std::string_view line) {
  bool quoted = false;
  bool cell_begins = true;
  for (const char c : line) {
    if (c == '"' && (quoted || cell_begins)) quoted = !quoted;
    cell_begins =
        c == ',' || c == ';' || c == '\t' || c == '|' || c == '"' || (cell_begins && is_blank(c));
  }
  return quoted;
}

std::optional<double> to_double(std::string_view s) {
  if (s.size() > 1 && s[0] == '+' && s[1] != '-') s.remove_prefix(1);
  double value = 0;
  const auto [end, problem] = std::from_chars(s.data(), s.data() + s.size(), value);
  if (problem != std::errc{} || end != s.data() + s.size() || !std::isfinite(value)) return {};
  return value;
}

// The length of the number at the front; an "e" counts only where an exponent follows.
std::size_t number_length(std::string_view s, bool allow_comma) {
  const auto digit = [&](std::size_t i) { return i < s.size() && s[i] >= '0' && s[i] <= '9'; };
  std::size_t i = !s.empty() && (s[0] == '-' || s[0] == '+') ? 1 : 0;
  std::size_t digits = 0;
  for (; digit(i); ++i) ++digits;
  if (i < s.size() && (s[i] == '.' || (allow_comma && s[i] == ','))) {
    for (++i; digit(i); ++i) ++digits;
  }
  if (digits == 0) return 0;
  if (i < s.size() && (s[i] == 'e' || s[i] == 'E')) {
    const std::size_t sign = i + 1 < s.size() && (s[i + 1] == '-' || s[i + 1] == '+') ? 1 : 0;
    if (digit(i + 1 + sign)) {
      for (i += 1 + sign; digit(i);) ++i;
    }
  }
  return i;
}

// Bytes of the UTF-8 character that starts at i; 0 if there is none.
std::size_t utf8_length(std::string_view s, std::size_t i) {
  const auto byte = [&](std::size_t k) { return static_cast<unsigned char>(s[k]); };
  const unsigned char b = byte(i);
  std::size_t n = 0;
  if (b < 0x80)
    n = 1;
  else if (b >= 0xC2 && b < 0xE0)
    n = 2;
  else if (b >= 0xE0 && b < 0xF0)
    n = 3;
  else if (b >= 0xF0 && b < 0xF5)
    n = 4;
  if (n == 0 || i + n > s.size()) return 0;
  for (std::size_t k = 1; k < n; ++k) {
    if ((byte(i + k) & 0xC0U) != 0x80U) return 0;
  }
  return n;
}

}  // namespace

Line next_line(std::string_view& rest, char line_end) {
  const void* at = rest.empty() ? nullptr : std::memchr(rest.data(), line_end, rest.size());
  Line line;
  if (at == nullptr) {
    line = {rest, false};
    rest = {};
  } else {
    const auto n = static_cast<std::size_t>(static_cast<const char*>(at) - rest.data());
    line.text = rest.substr(0, n);
    rest.remove_prefix(n + 1);
  }
  if (!line.text.empty() && line.text.back() == '\r') line.text.remove_suffix(1);
  return line;
}

TextRecord next_record(std::string_view& rest, char line_end) {
  constexpr std::size_t kMostLines = 40;
  const char* const first = rest.data();
  const Line line = next_line(rest, line_end);
  if (line.text.find('"') == std::string_view::npos || !leaves_quote_open(line.text)) {
    return {line.text, 1, line.ended};
  }
  std::string_view after = rest;
  for (std::size_t n = 2; n <= kMostLines && !after.empty(); ++n) {
    const Line more = next_line(after, line_end);
    const std::string_view all(
        first, static_cast<std::size_t>(more.text.data() + more.text.size() - first));
    if (leaves_quote_open(all)) continue;
    rest = after;
    return {all, n, more.ended};
  }
  return {line.text, 1, line.ended};
}

std::string_view trimmed(std::string_view s) {
  while (!s.empty() && is_blank(s.front())) s.remove_prefix(1);
  while (!s.empty() && is_blank(s.back())) s.remove_suffix(1);
  return s;
}

bool cut_cells(std::string_view line, char separator, std::vector<std::string_view>& cells) {
  cells.clear();
  std::size_t from = 0;
  if (line.find('"') == std::string_view::npos) {
    for (std::size_t at = line.find(separator); at != std::string_view::npos;
         at = line.find(separator, from)) {
      cells.push_back(line.substr(from, at - from));
      from = at + 1;
    }
    cells.push_back(line.substr(from));
    return true;
  }
  bool quoted = false;
  bool cell_begins = true;
  for (std::size_t i = 0; i < line.size(); ++i) {
    const char c = line[i];
    if (quoted) {
      if (c == '"') quoted = false;  // a doubled quote opens again at once
    } else if (c == separator) {
      cells.push_back(line.substr(from, i - from));
      from = i + 1;
      cell_begins = true;
      continue;
    } else if (c == '"' && (cell_begins || line[i - 1] == '"')) {
      quoted = true;
    }
    if (!is_blank(c)) cell_begins = false;
  }
  cells.push_back(line.substr(from));
  return !quoted;
}

void cut_aligned(std::string_view line, std::size_t least, std::vector<std::string_view>& cells) {
  cells.clear();
  std::string_view s = trimmed(line);
  std::size_t from = 0;
  for (std::size_t i = 0; i < s.size();) {
    if (!is_blank(s[i])) {
      ++i;
      continue;
    }
    std::size_t end = i;
    while (is_blank(s[end])) ++end;  // the last character is no blank
    if (end - i >= least || s[i] == '\t') {
      cells.push_back(s.substr(from, i - from));
      from = end;
    }
    i = end;
  }
  cells.push_back(s.substr(from));
}

bool cut(std::string_view line, char separator, std::vector<std::string_view>& cells) {
  if (separator != ' ') return cut_cells(line, separator, cells);
  cut_aligned(line, 1, cells);
  return true;
}

std::string unquoted(std::string_view cell) {
  cell = trimmed(cell);
  if (cell.size() < 2 || cell.front() != '"' || cell.back() != '"') return std::string(cell);
  std::string out;
  for (std::size_t i = 1; i + 1 < cell.size(); ++i) {
    out += cell[i];
    if (cell[i] == '"' && i + 2 < cell.size() && cell[i + 1] == '"') ++i;
  }
  return std::string(trimmed(out));
}

Cell read_cell(std::string_view raw, bool allow_comma) {
  constexpr std::size_t kLongestNumber = 64;
  Cell out;
  std::string_view s = trimmed(raw);
  if (s.size() >= 2 && s.front() == '"' && s.back() == '"') {
    s = trimmed(s.substr(1, s.size() - 2));
    allow_comma = true;  // the quotes keep it from separating
  }
  if (is_gap(s)) return out;
  const std::size_t n = number_length(s, allow_comma);
  std::optional<double> value;
  if (n > 0 && n <= kLongestNumber) {
    const std::string_view number = s.substr(0, n);
    std::array<char, kLongestNumber + 1> buffer{};
    std::memcpy(buffer.data(), number.data(), n);
    const auto comma = allow_comma ? number.find(',') : std::string_view::npos;
    out.point = number.find('.') != std::string_view::npos;
    if (comma != std::string_view::npos && !out.point) {
      buffer[comma] = '.';
      out.comma = true;
      const std::size_t sign = number[0] == '-' || number[0] == '+' ? 1 : 0;
      const std::size_t whole = comma - sign;
      out.thousands = n - comma == 4 && whole >= 1 && whole <= 3 && number[sign] != '0';
    }
    value = to_double({buffer.data(), n});
  }
  out.kind = value && n == s.size() ? CellKind::number : CellKind::other;
  out.value = value.value_or(0);
  if (value && n < s.size()) out.suffix = trimmed(s.substr(n));
  return out;
}

std::string to_utf8(std::string_view s) {
  bool valid = true;
  for (std::size_t i = 0; i < s.size() && valid;) {
    const std::size_t n = utf8_length(s, i);
    valid = n != 0;
    i += n;
  }
  if (valid) return std::string(s);
  std::string out;
  for (const char c : s) {
    const auto b = static_cast<unsigned char>(c);
    if (b < 0x80) {
      out += c;
    } else {
      out += static_cast<char>(0xC0U | (b >> 6U));
      out += static_cast<char>(0x80U | (b & 0x3FU));
    }
  }
  return out;
}

}  // namespace fuelwright::signals
