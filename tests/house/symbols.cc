#include "symbols.h"

#include <algorithm>
#include <array>
#include <map>

#include "source_tree.h"

namespace fuelwright::house {
namespace {

constexpr std::string_view kProject = "fuelwright::";
constexpr std::string_view kStrong = "TDBRGSuC";  // of nm's letters: for everybody
constexpr std::string_view kCopied = "WVwv";      // every user has one

/// "operator<" and the like without their signs, which are no brackets.
std::string without_operators(std::string_view symbol) {
  static constexpr std::array<std::string_view, 12> kSigns{"<=>", "->*", "<<=", ">>=", "()", "->",
                                                           "<<",  ">>",  "<=",  ">=",  "<",  ">"};
  std::string out;
  constexpr std::string_view kWord = "operator";
  for (std::size_t i = 0; i < symbol.size();) {
    if (symbol.substr(i, kWord.size()) != kWord) {
      out += symbol[i++];
      continue;
    }
    out += kWord;
    i += kWord.size();
    for (const std::string_view sign : kSigns) {
      if (symbol.substr(i, sign.size()) == sign) {
        i += sign.size();
        break;
      }
    }
  }
  return out;
}

}  // namespace

std::string qualified_name(std::string_view symbol) {
  for (const std::string_view before :
       {"vtable for ", "typeinfo for ", "typeinfo name for ", "guard variable for ", "VTT for "}) {
    if (symbol.starts_with(before)) symbol.remove_prefix(before.size());
  }
  const std::string text = without_operators(symbol);
  constexpr std::string_view kUnnamed = "(anonymous namespace)";
  int depth = 0;
  std::size_t from = 0, i = 0;
  for (; i < text.size(); ++i) {
    if (std::string_view(text).substr(i, kUnnamed.size()) == kUnnamed) {
      i += kUnnamed.size() - 1;
      continue;
    }
    const char c = text[i];
    if (c == '(' && depth == 0) break;
    if (c == ' ' && depth == 0) from = i + 1;
    if (c == '<' || c == '(' || c == '[' || c == '{') ++depth;
    if (c == '>' || c == ')' || c == ']' || c == '}') --depth;
  }
  return text.substr(from, i - from);
}

std::vector<ObjectFile> objects_in(std::string_view library, std::string_view nm_text) {
  std::vector<ObjectFile> out;
  for (const std::string_view line : lines_of(nm_text)) {
    if (line.ends_with(".o:")) {
      ObjectFile file;
      file.library = library;
      file.name = line.substr(0, line.size() - 1);
      out.push_back(std::move(file));
      continue;
    }
    // "0000000000000000 T name" or "                 U name".
    constexpr std::size_t kLetter = 17;
    if (out.empty() || line.size() < kLetter + 3) continue;
    const char letter = line[kLetter];
    const std::string symbol(line.substr(kLetter + 2));
    if (letter == 'U') out.back().uses.insert(symbol);
    if (kStrong.find(letter) != std::string_view::npos) out.back().strong.insert(symbol);
    if (kStrong.find(letter) != std::string_view::npos ||
        kCopied.find(letter) != std::string_view::npos) {
      out.back().defines.insert(symbol);
    }
  }
  return out;
}

std::vector<std::string> shared_names(const std::vector<ObjectFile>& all, const Which& one,
                                      const Which& other) {
  const auto names = [&all](const Which& side) {
    std::set<std::string> out;
    for (const ObjectFile& file : all) {
      if (!side(file)) continue;
      for (const auto* symbols : {&file.defines, &file.uses}) {
        for (const std::string& symbol : *symbols) {
          std::string name = qualified_name(symbol);
          if (name.starts_with(kProject)) out.insert(std::move(name));
        }
      }
    }
    return out;
  };
  const auto first = names(one), second = names(other);
  std::vector<std::string> out;
  std::ranges::set_intersection(first, second, std::back_inserter(out));
  return out;
}

std::set<std::string> linked_with(const std::vector<ObjectFile>& all, const Which& side) {
  std::map<std::string, const ObjectFile*> where;
  for (const ObjectFile& file : all) {
    for (const std::string& symbol : file.strong) where.emplace(symbol, &file);
  }
  for (const ObjectFile& file : all) {  // copies only where nobody has the thing itself
    for (const std::string& symbol : file.defines) where.emplace(symbol, &file);
  }
  std::set<const ObjectFile*> reached;
  std::vector<const ObjectFile*> next;
  for (const ObjectFile& file : all) {
    if (side(file)) next.push_back(&file);
  }
  while (!next.empty()) {
    const ObjectFile* file = next.back();
    next.pop_back();
    if (!reached.insert(file).second) continue;
    for (const std::string& symbol : file->uses) {
      if (const auto at = where.find(symbol); at != where.end()) next.push_back(at->second);
    }
  }
  std::set<std::string> out;
  for (const ObjectFile* file : reached) out.insert(file->library + "/" + file->name);
  return out;
}

}  // namespace fuelwright::house
