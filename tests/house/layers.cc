#include "layers.h"

#include <algorithm>
#include <cctype>
#include <sstream>

namespace fuelwright::house {
namespace {

Error wrong(int line, const std::string& message) {
  return {ErrorCode::bad_input, "layers.txt:" + std::to_string(line), message};
}

/// True if `group` can be reached from itself.
bool in_circle(const NameLists& groups, const std::string& group) {
  Names seen;
  std::vector<std::string> open{group};
  while (!open.empty()) {
    const auto below = groups.find(open.back());
    open.pop_back();
    if (below == groups.end()) continue;
    for (const std::string& g : below->second) {
      if (g == group) return true;
      if (seen.insert(g).second) open.push_back(g);
    }
  }
  return false;
}

Status check_names(const Layers& layers) {
  for (const NameLists* lists : {&layers.groups, &layers.in_tests}) {
    for (const auto& [group, below] : *lists) {
      if (!layers.groups.contains(group)) return wrong(0, "unknown group '" + group + "'");
      for (const std::string& g : below) {
        if (!layers.groups.contains(g))
          return wrong(0, "unknown group '" + g + "' below '" + group + "'");
      }
      if (in_circle(layers.groups, group))
        return wrong(0, "'" + group + "' includes itself in a circle");
    }
  }
  for (const auto& [thing, how] : layers.things) {
    if (!layers.only.contains(thing))
      return wrong(0, "no line says where '" + thing + "' may stand");
  }
  for (const auto& [thing, where] : layers.only) {
    if (!layers.things.contains(thing)) return wrong(0, "unknown thing '" + thing + "'");
  }
  return Done{};
}

/// Where `token` stands in a line of code as a name of its own: not part of a longer name, not a
/// member of an object.
bool uses(std::string_view code, std::string_view token) {
  for (std::size_t at = code.find(token); at != std::string_view::npos;
       at = code.find(token, at + 1)) {
    const std::string_view before = code.substr(0, at);
    const std::size_t end = at + token.size();
    if (!before.empty() && is_name(before.back())) continue;
    if (before.ends_with('.') || before.ends_with("->")) continue;
    if (is_name(token.back()) && end < code.size() && is_name(code[end])) continue;
    return true;
  }
  return false;
}

/// entry "<chrono>" fits that header, "<netinet/" every header of that folder.
bool brings_in(std::string_view entry, std::string_view header) {
  if (!entry.starts_with('<')) return false;
  entry.remove_prefix(1);
  if (!entry.ends_with('>')) return header.starts_with(entry);
  entry.remove_suffix(1);
  return header == entry;
}

class Checker {
 public:
  Checker(const Layers& layers, const SourceFile& file, const Names& beside)
      : layers_(layers), file_(file), beside_(beside), path_(include_path(file.path)) {}

  std::vector<Breach> run() {
    const std::string group(path_.substr(0, path_.find('/')));
    const auto allowed = layers_.groups.find(group);
    if (allowed == layers_.groups.end()) {
      report(0, "group '" + group + "' is not in docs/layers.txt");
      return breaches_;
    }
    for (const Include& include : includes_of(file_.text)) {
      check_arrow(group, allowed->second, include);
      check_header(include);
    }
    check_code();
    return breaches_;
  }

 private:
  void report(int line, std::string message) {
    breaches_.push_back({file_.path, line, std::move(message)});
  }

  void check_arrow(const std::string& group, const Names& allowed, const Include& include) {
    const std::string_view what = include.what;
    const std::size_t slash = what.find('/');
    const std::string target(what.substr(0, slash));
    if (slash == std::string_view::npos || !layers_.groups.contains(target)) {
      if (!include.angle && !beside_.contains(what)) {
        report(include.line,
               "\"" + include.what + "\" is no header of the tree; others stand in <>");
      }
      return;
    }
    const auto extra = layers_.in_tests.find(group);
    const bool for_test =
        is_test(path_) && extra != layers_.in_tests.end() && extra->second.contains(target);
    if (target != group && !allowed.contains(target) && !for_test) {
      report(include.line, group + " may not include " + include.what);
    }
    const std::size_t inside = what.find("/internal/");
    if (inside != std::string_view::npos && !lies_in(path_, what.substr(0, inside))) {
      report(include.line, include.what + " is internal to " + include.what.substr(0, inside));
    }
  }

  void check_header(const Include& include) {
    for (const auto& [thing, entries] : layers_.things) {
      const bool fits = std::ranges::any_of(
          entries, [&](const std::string& e) { return brings_in(e, include.what); });
      if (fits && !may_stand_here(thing))
        report(include.line, "no " + thing + " here: <" + include.what + ">");
    }
  }

  void check_code() {
    const std::string code = code_only(file_.text);
    const auto lines = lines_of(code);
    for (std::size_t i = 0; i < lines.size(); ++i) {
      if (lines[i].find("#include") != std::string_view::npos) continue;
      for (const auto& [thing, entries] : layers_.things) {
        for (const std::string& entry : entries) {
          if (entry.starts_with('<') || !uses(lines[i], entry) || may_stand_here(thing)) continue;
          report(static_cast<int>(i) + 1, "no " + thing + " here: " + entry);
        }
      }
    }
  }

  bool may_stand_here(const std::string& thing) const {
    const Names& places = layers_.only.find(thing)->second;
    return std::ranges::any_of(places, [&](const std::string& place) {
      return place.starts_with('*') ? path_.ends_with(std::string_view(place).substr(1))
                                    : lies_in(path_, place);
    });
  }

  const Layers& layers_;
  const SourceFile& file_;
  const Names& beside_;
  std::string_view path_;
  std::vector<Breach> breaches_;
};

}  // namespace

Result<Layers> parse_layers(std::string_view text) {
  Layers layers;
  const std::map<std::string, NameLists*> words{{"group", &layers.groups},
                                                {"in-tests", &layers.in_tests},
                                                {"thing", &layers.things},
                                                {"only", &layers.only}};
  int number = 0;
  for (const std::string_view line : lines_of(text)) {
    ++number;
    if (line.empty() || line.starts_with('#')) continue;
    std::istringstream in{std::string(line)};
    std::string word, name, colon;
    in >> word >> name >> colon;
    if (colon != ":")
      return wrong(number, "came '" + std::string(line) + "', expected WORD NAME : LIST");
    const auto lists = words.find(word);
    if (lists == words.end()) return wrong(number, "unknown word '" + word + "'");
    Names names;
    for (std::string item; in >> item;) names.insert(item);
    if (!lists->second->emplace(name, names).second)
      return wrong(number, word + " '" + name + "' is there twice");
  }
  if (Status sound = check_names(layers); !sound) return sound.error();
  return layers;
}

std::vector<Breach> check_layers(const Layers& layers, const SourceFile& file,
                                 const Names& beside) {
  return Checker(layers, file, beside).run();
}

}  // namespace fuelwright::house
