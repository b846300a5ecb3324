/// The tree as text: every file that belongs to the project, and what in a C++ file is code rather
/// than comment.
#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace fuelwright::house {

struct SourceFile {
  std::string path;  ///< from the root, with '/': "src/base/result.h"
  std::string text;
};

/// One rule broken in one place.
struct Breach {
  std::string path;
  int line = 0;  ///< 1 is the first; 0: the file as a whole
  std::string message;
  /// "src/base/result.h:12: message", for people.
  std::string text() const;
};

/// Every text file below root, sorted by path; what is built or fetched (build, .git, node_modules)
/// is left out.
std::vector<SourceFile> read_tree(const std::string& root);

/// True for .h and .cc.
bool is_cpp(std::string_view path);
/// True for *_test.cc and *_bench.cc.
bool is_test(std::string_view path);
/// True if `path` is `folder` or lies in it.
bool lies_in(std::string_view path, std::string_view folder);
/// The path as #include writes it: "src/" left out.
std::string_view include_path(std::string_view path);

/// A letter, a digit or an underscore: what a name in C++ is made of.
bool is_name(char c);
std::vector<std::string_view> lines_of(std::string_view text);

/// The same text with comments and the insides of string and character literals turned into blanks;
/// lines stay lines.
std::string code_only(std::string_view text);

struct Include {
  int line;
  bool angle;        ///< <x> rather than "x"
  std::string what;  ///< between the marks
};
/// Every #include that the compiler would see; one in a comment or in a raw string is none.
std::vector<Include> includes_of(std::string_view text);

/// All breaches, one a line, for a failing test's message.
std::string list(const std::vector<Breach>& breaches);

}  // namespace fuelwright::house
