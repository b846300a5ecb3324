#include "source_tree.h"

#include <algorithm>
#include <cctype>
#include <filesystem>
#include <fstream>
#include <iterator>

namespace fuelwright::house {
namespace {

namespace fs = std::filesystem;

/// What is fetched or made: git's and npm's own anywhere, the others at the root only
/// (src/car/build is ours).
bool not_ours(std::string_view name, int depth) {
  if (name == ".git" || name == "node_modules") return true;
  return depth == 0 && (name == "build" || name == "demo");
}

/// Walks over C++ text and blanks what is not code.
class Blanker {
 public:
  explicit Blanker(std::string_view text) : in_(text), out_(text) {}

  std::string run() {
    while (i_ < in_.size()) step();
    return out_;
  }

 private:
  void step() {
    const std::string_view rest = in_.substr(i_);
    if (rest.starts_with("//")) {
      blank_to(in_.find('\n', i_));
    } else if (rest.starts_with("/*")) {
      blank_to(past("*/", i_ + 2));
    } else if (rest.starts_with("R\"") && (i_ == 0 || !is_name(in_[i_ - 1]))) {
      const std::size_t open = in_.find('(', i_);
      if (open == std::string_view::npos) return blank_to(open);
      blank_to(past(")" + std::string(in_.substr(i_ + 2, open - i_ - 2)) + "\"", open));
    } else if (rest[0] == '"' || (rest[0] == '\'' && (i_ == 0 || !is_name(in_[i_ - 1])))) {
      blank_to(end_of_literal());
    } else {
      ++i_;
    }
  }

  std::size_t past(const std::string& mark, std::size_t from) const {
    const std::size_t at = in_.find(mark, from);
    return at == std::string_view::npos ? at : at + mark.size();
  }

  std::size_t end_of_literal() const {
    const char quote = in_[i_];
    std::size_t k = i_ + 1;
    while (k < in_.size() && in_[k] != quote && in_[k] != '\n') k += in_[k] == '\\' ? 2 : 1;
    return k + 1;
  }

  void blank_to(std::size_t end) {
    end = std::min(end, in_.size());
    for (; i_ < end; ++i_) {
      if (out_[i_] != '\n') out_[i_] = ' ';
    }
  }

  std::string_view in_;
  std::string out_;
  std::size_t i_ = 0;
};

}  // namespace

bool is_name(char c) { return std::isalnum(static_cast<unsigned char>(c)) != 0 || c == '_'; }

std::string Breach::text() const {
  return path + (line > 0 ? ":" + std::to_string(line) : "") + ": " + message;
}

std::vector<SourceFile> read_tree(const std::string& root) {
  std::vector<SourceFile> files;
  for (auto it = fs::recursive_directory_iterator(root); it != fs::recursive_directory_iterator();
       ++it) {
    if (not_ours(it->path().filename().string(), it.depth())) {
      if (it->is_directory()) it.disable_recursion_pending();
      continue;
    }
    if (!it->is_regular_file()) continue;
    std::ifstream in(it->path(), std::ios::binary);
    std::string text{std::istreambuf_iterator<char>(in), {}};
    if (text.find('\0') != std::string::npos) continue;
    files.push_back({fs::relative(it->path(), root).generic_string(), std::move(text)});
  }
  std::ranges::sort(files, {}, &SourceFile::path);
  return files;
}

bool is_cpp(std::string_view path) { return path.ends_with(".h") || path.ends_with(".cc"); }

bool is_test(std::string_view path) {
  return path.ends_with("_test.cc") || path.ends_with("_bench.cc");
}

bool lies_in(std::string_view path, std::string_view folder) {
  return path.starts_with(folder) && (path.size() == folder.size() || path[folder.size()] == '/');
}

std::string_view include_path(std::string_view path) {
  return path.starts_with("src/") ? path.substr(4) : path;
}

std::vector<std::string_view> lines_of(std::string_view text) {
  std::vector<std::string_view> lines;
  while (!text.empty()) {
    const std::size_t end = std::min(text.find('\n'), text.size());
    lines.push_back(text.substr(0, end));
    text.remove_prefix(std::min(end + 1, text.size()));
  }
  return lines;
}

std::string code_only(std::string_view text) { return Blanker(text).run(); }

std::vector<Include> includes_of(std::string_view text) {
  const std::string code = code_only(text);
  const auto code_lines = lines_of(code);
  const auto lines = lines_of(text);
  std::vector<Include> found;
  for (std::size_t i = 0; i < lines.size(); ++i) {
    std::string squeezed;
    std::ranges::copy_if(code_lines[i], std::back_inserter(squeezed),
                         [](char c) { return c != ' ' && c != '\t'; });
    if (!squeezed.starts_with("#include")) continue;
    const std::size_t open = lines[i].find_first_of("<\"");
    if (open == std::string_view::npos) continue;
    const bool angle = lines[i][open] == '<';
    const std::size_t close = lines[i].find(angle ? '>' : '"', open + 1);
    if (close == std::string_view::npos) continue;
    found.push_back(
        {static_cast<int>(i) + 1, angle, std::string(lines[i].substr(open + 1, close - open - 1))});
  }
  return found;
}

std::string list(const std::vector<Breach>& breaches) {
  std::string all;
  for (const Breach& b : breaches) all += "\n  " + b.text();
  return all;
}

}  // namespace fuelwright::house
