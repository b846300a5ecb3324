#include "habits.h"

#include <algorithm>
#include <array>
#include <cctype>
#include <optional>

namespace fuelwright::house {
namespace {

// Put together from halves, so that this file does not contain what it looks for.
const std::array<std::string, 8> kMachinePaths{
    std::string("/wo") + "rk/",   std::string("/ho") + "me/",   std::string("/ro") + "ot/",
    std::string("/Us") + "ers/",  std::string("/tm") + "p/",    std::string("C:") + "\\",
    std::string("/sha") + "red/", std::string("../sha") + "red"};
const std::array<std::string, 3> kUnfinished{std::string("TO") + "DO", std::string("FIX") + "ME",
                                             std::string("XX") + "X"};

template <class Find>
std::vector<Breach> line_by_line(const SourceFile& file, Find find) {
  std::vector<Breach> breaches;
  int number = 0;
  for (const std::string_view line : lines_of(file.text)) {
    ++number;
    if (const std::string found = find(line); !found.empty())
      breaches.push_back({file.path, number, found});
  }
  return breaches;
}

/// True if `mark` stands in the line and the characters around it are none that `joins` accepts.
template <class Joins>
bool stands_alone(std::string_view line, std::string_view mark, Joins joins) {
  for (std::size_t at = line.find(mark); at != std::string_view::npos;
       at = line.find(mark, at + 1)) {
    const std::size_t end = at + mark.size();
    if ((at == 0 || !joins(line[at - 1])) &&
        (!is_name(mark.back()) || end >= line.size() || !joins(line[end]))) {
      return true;
    }
  }
  return false;
}

bool for_reading(std::string_view path) {
  if (path.starts_with("examples/") || lies_in(path, "tests/golden") ||
      path.find("/data/") != std::string_view::npos) {
    return false;
  }
  constexpr std::array<std::string_view, 7> kEnds{".h",     ".cc", ".md", ".txt",
                                                  ".cmake", ".ts", ".css"};
  const bool plain =
      path.find('.') == std::string_view::npos && path != "LICENSE";  // scripts have no ending
  return plain || std::ranges::any_of(kEnds, [&](std::string_view e) { return path.ends_with(e); });
}

/// Reads what follows an opening bracket: "fuel.1)", "fuel.1, fuel.2)", "fuel.1 to fuel.4)".
class TagList {
 public:
  explicit TagList(std::string_view rest) : rest_(rest) {}

  /// The names; none if the bracket holds anything but tags.
  std::vector<std::string> read() {
    std::vector<std::string> names;
    do {
      std::optional<std::string> name = tag();
      if (!name) return {};
      names.push_back(*std::move(name));
    } while (skip(", ") || skip(" and ") || skip(" to "));
    return skip(")") ? names : std::vector<std::string>{};
  }

 private:
  static bool is_small(char c) { return (c >= 'a' && c <= 'z') || c == '_'; }
  static bool is_digit(char c) { return c >= '0' && c <= '9'; }

  /// Small letters, a point, digits, perhaps one more letter: "fuel.12b".
  std::optional<std::string> tag() {
    std::size_t n = 0;
    const auto at = [&](std::size_t i) { return i < rest_.size() ? rest_[i] : ' '; };
    while (is_small(at(n))) ++n;
    if (n == 0 || at(n) != '.' || !is_digit(at(n + 1))) return std::nullopt;
    ++n;
    while (is_digit(at(n))) ++n;
    if (is_small(at(n))) ++n;
    std::string name(rest_.substr(0, n));
    rest_.remove_prefix(n);
    return name;
  }

  bool skip(std::string_view word) {
    if (!rest_.starts_with(word)) return false;
    rest_.remove_prefix(word.size());
    return true;
  }

  std::string_view rest_;
};

std::string folder_of(const std::string& path) { return path.substr(0, path.rfind('/')); }

}  // namespace

std::vector<Tag> tags_of(std::string_view text) {
  std::vector<Tag> tags;
  int number = 0;
  for (const std::string_view line : lines_of(text)) {
    ++number;
    for (std::size_t at = line.find('('); at != std::string_view::npos;
         at = line.find('(', at + 1)) {
      for (std::string& name : TagList(line.substr(at + 1)).read())
        tags.push_back({std::move(name), number});
    }
  }
  return tags;
}

std::vector<Breach> unknown_tags(const std::vector<SourceFile>& tree) {
  std::set<std::string> known;
  for (const SourceFile& page : tree) {
    if (!page.path.starts_with("docs/theory/") || !page.path.ends_with(".md")) continue;
    for (Tag& tag : tags_of(page.text)) known.insert(std::move(tag.name));
  }
  std::vector<Breach> breaches;
  for (const SourceFile& file : tree) {
    if (!file.path.starts_with("src/") || !is_cpp(file.path)) continue;
    for (const Tag& tag : tags_of(file.text)) {
      if (!known.contains(tag.name)) {
        breaches.push_back(
            {file.path, tag.line, "(" + tag.name + ") stands on no page of docs/theory"});
      }
    }
  }
  return breaches;
}

std::vector<Breach> machine_paths(const SourceFile& file) {
  return line_by_line(file, [&](std::string_view line) -> std::string {
    for (const std::string& path : kMachinePaths) {
      // "docs/home/x" goes on from a name and is a path inside the tree; "a ../x" and "'/x" are
      // not.
      if (!stands_alone(line, path,
                        [](char c) { return is_name(c) || c == '.' || c == '}' || c == ')'; }))
        continue;
      const bool data_of_ci = file.path == ".ci/run" && path.starts_with("..");
      if (!data_of_ci) return "a path of one machine: " + path;
    }
    return "";
  });
}

std::vector<Breach> unfinished_marks(const SourceFile& file) {
  return line_by_line(file, [](std::string_view line) -> std::string {
    for (const std::string& mark : kUnfinished) {
      if (stands_alone(line, mark, is_name)) return "unfinished work: " + mark;
    }
    return "";
  });
}

std::vector<Breach> too_long(const SourceFile& file) {
  const auto lines = static_cast<int>(lines_of(file.text).size());
  if (!for_reading(file.path) || lines <= kMostLines) return {};
  return {{file.path, 0, std::to_string(lines) + " lines; at most " + std::to_string(kMostLines)}};
}

std::vector<Breach> module_readmes(const std::vector<SourceFile>& tree) {
  std::vector<Breach> breaches;
  for (const SourceFile& file : tree) {
    const bool module = file.path.starts_with("src/") && file.path.ends_with("/CMakeLists.txt") &&
                        file.text.find("fuelwright_module(") != std::string::npos;
    if (!module) continue;
    const std::string readme = folder_of(file.path) + "/README.md";
    const auto found = std::ranges::find(tree, readme, &SourceFile::path);
    if (found == tree.end()) {
      breaches.push_back({readme, 0, "is missing"});
      continue;
    }
    const auto lines = static_cast<int>(lines_of(found->text).size());
    if (lines < 1 || lines > kMostReadmeLines) {
      breaches.push_back(
          {readme, 0, std::to_string(lines) + " lines; 1 to " + std::to_string(kMostReadmeLines)});
    }
    if (found->text.find("Not here") == std::string::npos)
      breaches.push_back({readme, 0, "does not say what is \"Not here\""});
  }
  return breaches;
}

std::vector<Breach> header_opening(const SourceFile& file) {
  std::vector<Breach> breaches;
  if (!file.path.ends_with(".h")) return breaches;
  if (!file.text.starts_with("//"))
    breaches.push_back({file.path, 1, "does not open with what it is"});
  if (file.text.find("#pragma once") == std::string::npos)
    breaches.push_back({file.path, 0, "has no #pragma once"});
  return breaches;
}

}  // namespace fuelwright::house
