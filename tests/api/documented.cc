#include "documented.h"

#include <algorithm>
#include <fstream>
#include <sstream>
#include <stdexcept>

namespace fuelwright::tests {
namespace {

const std::set<std::string> kWorkKeys{"id",   "job",     "do",     "state", "share",
                                      "says", "seconds", "status", "reply", "error"};

std::vector<std::string> parts_of(std::string_view path) {
  std::vector<std::string> out;
  path = path.substr(0, path.find('?'));
  const std::string_view begins = "/api/v1/";
  if (path.starts_with(begins)) path.remove_prefix(begins.size());
  while (!path.empty()) {
    const auto slash = std::min(path.find('/'), path.size());
    out.emplace_back(path.substr(0, slash));
    path.remove_prefix(std::min(slash + 1, path.size()));
  }
  return out;
}

bool is_any(const std::string& piece) {
  return std::ranges::all_of(piece, [](char c) { return c >= 'A' && c <= 'Z'; });
}

// `a` `b` `c` after a mark, to the end of the section.
std::set<std::string> names_after(const std::string& text, const std::string& mark) {
  std::set<std::string> out;
  const auto at = text.find(mark);
  if (at == std::string::npos) return out;
  for (auto from = text.find('`', at); from != std::string::npos;) {
    const auto to = text.find('`', from + 1);
    if (to == std::string::npos) break;
    std::string name = text.substr(from + 1, to - from - 1);
    std::ranges::replace(name, '\n', ' ');
    out.insert(std::move(name));
    from = text.find('`', to + 1);
  }
  return out;
}

DocumentedRoute route_of(const std::string& head, const std::string& text) {
  DocumentedRoute r;
  const auto blank = head.find(' ');
  r.method = head.substr(0, blank);
  r.path = parts_of(head.substr(blank + 1));
  r.is_work = text.find("Work.") != std::string::npos;
  r.reply = names_after(text, "Reply keys:");
  r.keys = r.is_work ? kWorkKeys : names_after(text, "Keys:");
  return r;
}

std::vector<DocumentedRoute> read_page() {
  std::ifstream file(FUELWRIGHT_SOURCE_DIR "/docs/http.md");
  if (!file) throw std::runtime_error("docs/http.md is not there");
  std::vector<DocumentedRoute> out;
  std::string line, head, text;
  const auto end = [&] {
    if (!head.empty()) out.push_back(route_of(head, text));
    head.clear();
    text.assign(1, '\n');
  };
  while (std::getline(file, line)) {
    if (line.starts_with("#")) end();
    if (line.starts_with("### ")) head = line.substr(4);
    if (!line.starts_with("#")) text += line + "\n";
  }
  end();
  return out;
}

}  // namespace

const std::vector<DocumentedRoute>& documented() {
  static const std::vector<DocumentedRoute> kAll = [] {
    auto out = read_page();
    for (auto& r : out) {  // "those of `GET /api/v1/long-work/ID`"
      if (r.keys.size() != 1 || r.keys.begin()->find(" /api") == std::string::npos) continue;
      const std::string head = *r.keys.begin();
      for (const auto& other : out) {
        const auto blank = head.find(' ');
        if (other.method == head.substr(0, blank) && other.path == parts_of(head.substr(blank + 1)))
          r.keys = other.keys;
      }
    }
    return out;
  }();
  return kAll;
}

const DocumentedRoute* documented(const std::string& method, const std::string& target) {
  const auto path = parts_of(target);
  for (const auto& r : documented()) {
    const bool fits = std::ranges::equal(
        r.path, path, [](const auto& a, const auto& b) { return is_any(a) || a == b; });
    if (fits && r.method == method) return &r;
  }
  return nullptr;
}

std::set<std::string> keys_of(const nlohmann::json& object) {
  std::set<std::string> out;
  for (const auto& [key, value] : object.items()) out.insert(key);
  return out;
}

}  // namespace fuelwright::tests
