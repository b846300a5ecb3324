#include "service/report/lists.h"

#include <fmt/format.h>

#include <algorithm>
#include <nlohmann/json.hpp>

namespace fuelwright::service {
namespace {

constexpr std::size_t kLineWidth = 110;
constexpr std::size_t kNarrowest = 40;  // of the last column

std::size_t shown_width(const std::string& text) {
  return static_cast<std::size_t>(
      std::ranges::count_if(text, [](char c) { return (c & 0xC0) != 0x80; }));
}

using Cells = std::vector<std::string>;

// "2026-05-04T09:30:00Z" without what only a program needs; the column says UTC.
std::string time_text(const std::string& iso) {
  std::string out = iso;
  if (out.size() >= 19 && out[10] == 'T') {
    out[10] = ' ';
    out.resize(19);
  }
  return out;
}

// Words of the text in lines of at most `width`; a number keeps its %.
Cells wrapped(const std::string& text, std::size_t width) {
  Cells lines{""};
  for (std::size_t at = 0; at < text.size();) {
    std::size_t end = std::min(text.find(' ', at), text.size());
    if (text.compare(end, 2, " %") == 0) end = std::min(text.find(' ', end + 1), text.size());
    const std::string word = text.substr(at, end - at);
    if (!lines.back().empty() && shown_width(lines.back()) + 1 + shown_width(word) > width) {
      lines.emplace_back();
    }
    lines.back() += (lines.back().empty() ? "" : " ") + word;
    at = end + 1;
  }
  return lines;
}

// Under one another, each column left or right; the last one is wrapped.
std::string list_text(const std::vector<Cells>& rows, const std::vector<bool>& to_the_right) {
  std::vector<std::size_t> width(to_the_right.size(), 0);
  for (const Cells& row : rows) {
    for (std::size_t i = 0; i < row.size(); ++i) width[i] = std::max(width[i], shown_width(row[i]));
  }
  std::string out;
  for (const Cells& row : rows) {
    std::string line;
    for (std::size_t i = 0; i + 1 < row.size(); ++i) {
      const std::string room(width[i] - shown_width(row[i]), ' ');
      line += "  " + (to_the_right[i] ? room + row[i] : row[i] + room);
    }
    line += "  ";
    const std::size_t indent = shown_width(line);
    const std::size_t left = kLineWidth > indent + kNarrowest ? kLineWidth - indent : kNarrowest;
    const Cells lines = wrapped(row.back(), left);
    for (std::size_t i = 0; i < lines.size(); ++i) {
      const std::string whole = (i == 0 ? line : std::string(indent, ' ')) + lines[i];
      out += whole.substr(0, whole.find_last_not_of(' ') + 1) + "\n";
    }
  }
  return out;
}

std::string size_text(std::int64_t bytes) {
  if (bytes < 1'000'000) return fmt::format("{:.0f} kB", static_cast<double>(bytes) / 1e3);
  return fmt::format("{:.1f} MB", static_cast<double>(bytes) / 1e6);
}

std::string length_of(const Reading& reading) {
  const auto j = nlohmann::json::parse(reading.summary_json, nullptr, false);
  if (!j.is_object() || !j.contains("seconds") || !j["seconds"].is_number()) return "no time";
  const double seconds = j["seconds"].get<double>();
  return seconds < 120 ? fmt::format("{:.0f} s", seconds) : fmt::format("{:.1f} min", seconds / 60);
}

// What a command was done from, where that is more than its reason says.
std::string sources_text(const JournalRow& row) {
  const auto j = nlohmann::json::parse(row.sources_json, nullptr, false);
  if (!j.is_object() || !j.contains("recordings") || !j["recordings"].is_array()) return "";
  std::string list;
  for (const auto& id : j["recordings"]) {
    list += (list.empty() ? "" : ", ") + id.dump();
  }
  if (list.empty()) return "";
  return fmt::format(" [from recording{} {}]", j["recordings"].size() == 1 ? "" : "s", list);
}

}  // namespace

std::string recordings_text(const std::vector<RecordingRow>& rows) {
  if (rows.empty()) return "  none\n";
  std::vector<Cells> cells{
      {"no.", "name", "length", "rows", "size", "added (UTC)", "by", "sha256"}};
  for (const RecordingRow& r : rows) {
    cells.push_back({std::to_string(r.id.value), r.name, length_of(r.reading),
                     std::to_string(r.reading.rows), size_text(r.bytes), time_text(r.added_when),
                     r.added_by, r.sha256.substr(0, 12)});
  }
  return list_text(cells, {true, false, true, true, true, false, false, false});
}

std::string revisions_text(const std::vector<RevisionRow>& rows) {
  if (rows.empty()) return "  none\n";
  std::vector<Cells> cells{{"no.", "", "when (UTC)", "by", "why"}};
  for (const RevisionRow& r : rows) {
    cells.push_back({std::to_string(r.number), r.in_force ? "in force" : "", time_text(r.when),
                     r.author, r.reason});
  }
  return list_text(cells, {true, false, false, false, false});
}

std::string journal_text(const std::vector<JournalRow>& rows) {
  std::vector<Cells> cells{{"no.", "when (UTC)", "who", "command", "what and why"}};
  for (const JournalRow& j : rows) {
    const std::string puts = j.in_force ? fmt::format("revision {} in force: ", *j.in_force) : "";
    cells.push_back({std::to_string(j.id), time_text(j.when), j.who, j.command,
                     puts + j.why + sources_text(j)});
  }
  return list_text(cells, {true, false, false, false, false});
}

}  // namespace fuelwright::service
