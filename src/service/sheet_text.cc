#include "service/sheet_text.h"

#include <fmt/format.h>

#include <algorithm>
#include <vector>

namespace fuelwright::service {
namespace {

using car::quoted;

std::string trimmed(std::string_view text) {
  const auto first = text.find_first_not_of(" \t\r\n");
  if (first == std::string_view::npos) return {};
  return std::string(text.substr(first, text.find_last_not_of(" \t\r\n") - first + 1));
}

// Lines with their place in the text, without the newline.
struct Row {
  std::size_t at = 0;
  std::string_view text;
};

std::vector<Row> rows_of(std::string_view toml) {
  std::vector<Row> out;
  for (std::size_t at = 0; at < toml.size();) {
    const auto end = std::min(toml.find('\n', at), toml.size());
    out.push_back({at, toml.substr(at, end - at)});
    at = end + 1;
  }
  return out;
}

// "compression = ..." or "# compression = ...": the key; empty for other lines.
std::string_view key_of(std::string_view row) {
  if (row.starts_with("# ")) row.remove_prefix(2);
  const auto cut = row.find(" = ");
  if (cut == std::string_view::npos || cut == 0) return {};
  const auto key = row.substr(0, cut);
  const bool plain = std::ranges::all_of(
      key, [](char c) { return (c >= 'a' && c <= 'z') || (c >= '0' && c <= '9') || c == '_'; });
  return plain ? key : std::string_view{};
}

struct Walk {
  std::vector<std::string> sections;
  std::vector<std::string> keys;  // of the section that is meant
  std::optional<Row> row;
};

Walk walk(std::string_view toml, const ValueChange& change) {
  Walk out;
  std::string section;
  int sensor = 0;
  for (const Row& row : rows_of(toml)) {
    if (row.text == "[[sensors.mixture]]") {
      section = fmt::format("sensors.mixture.{}", ++sensor);
    } else if (row.text.starts_with('[') && row.text.ends_with(']')) {
      section = std::string(row.text.substr(1, row.text.size() - 2));
    } else {
      const auto key = key_of(row.text);
      if (key.empty() || section != change.section) continue;
      out.keys.emplace_back(key);
      if (key == change.key) out.row = row;
      continue;
    }
    out.sections.push_back(section);
  }
  return out;
}

Error unknown(const char* what, const std::string& came, const std::vector<std::string>& all) {
  const auto near = nearest(came, all);
  return {ErrorCode::not_found, what,
          fmt::format("\"{}\" came; {}", came.substr(0, 60),
                      near ? "did you mean \"" + *near + "\"?"
                           : fmt::format("expected one of: {}", fmt::join(all, ", ")))};
}

bool is_list(std::string_view row) {
  const auto cut = row.find(" = ");
  const auto value = row.substr(cut + 3);
  return value.starts_with('[') || value.starts_with("{ values");
}

// "1, 8, 4, 3" or "10.2 +- 0.2" as a value of TOML.
std::string toml_value(const std::string& text, bool list) {
  if (!list) return quoted(trimmed(text));
  std::string out = "[";
  for (std::size_t from = 0; from <= text.size();) {
    const auto comma = std::min(text.find(',', from), text.size());
    const std::string one = trimmed(text.substr(from, comma - from));
    if (!one.empty()) {
      const bool number = std::ranges::all_of(
          one, [](char c) { return (c >= '0' && c <= '9') || c == '.' || c == '-'; });
      out += (out.size() > 1 ? ", " : "") + (number ? one : quoted(one));
    }
    from = comma + 1;
  }
  return out + "]";
}

}  // namespace

std::string place_without_line(const std::string& where) {
  const auto cut = where.rfind(": ");
  return cut == std::string::npos ? where : where.substr(cut + 2);
}

Status put_value(std::string& toml, const ValueChange& change) {
  const Walk at = walk(toml, change);
  if (std::ranges::find(at.sections, change.section) == at.sections.end()) {
    return unknown("sheet: section", change.section, at.sections);
  }
  if (!at.row) return unknown(("sheet: " + change.section).c_str(), change.key, at.keys);
  std::string line = fmt::format("# {} = off", change.key);
  if (change.value) {
    const std::string source = change.source.empty() ? "stated" : change.source;
    if (source != "stated" && source != "measured") {
      return Error{ErrorCode::usage, "sheet: source",
                   fmt::format("\"{}\" came; expected measured or stated", source.substr(0, 40))};
    }
    const std::string value = toml_value(*change.value, is_list(at.row->text));
    line = fmt::format("{} = {{ {} = {}, source = \"{}\"", change.key,
                       value.starts_with('[') ? "values" : "value", value, source);
    if (!change.note.empty()) line += ", note = " + quoted(change.note);
    line += " }";
  }
  toml.replace(at.row->at, at.row->text.size(), line);
  return Done{};
}

}  // namespace fuelwright::service
