/// Habits of the house that a program can check, each on plain text so that its own test can break
/// it on purpose.
#pragma once

#include <set>
#include <string>
#include <string_view>
#include <vector>

#include "source_tree.h"

namespace fuelwright::house {

inline constexpr int kMostLines = 450;       ///< of a file that a person reads
inline constexpr int kMostReadmeLines = 20;  ///< of a module's README.md

/// A formula's tag with its line: "fuel.1" for "(fuel.1)"; "(fuel.1, fuel.2)" and "(fuel.1 to
/// fuel.4)" name both.
struct Tag {
  std::string name;
  int line;
};
std::vector<Tag> tags_of(std::string_view text);

/// Tags in the C++ files below src/ that no page of docs/theory/ has.
std::vector<Breach> unknown_tags(const std::vector<SourceFile>& tree);

/// Paths that exist on one machine only (somebody's home, a temporary folder, a folder beside the
/// repository). The one exception is the outside data's place in .ci/run.
std::vector<Breach> machine_paths(const SourceFile& file);

/// Marks of work left undone.
std::vector<Breach> unfinished_marks(const SourceFile& file);

/// Code, scripts and pages longer than kMostLines. Data, examples and the licence may be as long as
/// they are.
std::vector<Breach> too_long(const SourceFile& file);

/// Module folders (their CMakeLists.txt calls fuelwright_module) below src/ without a README.md of
/// 1 to kMostReadmeLines lines that also says what is "Not here".
std::vector<Breach> module_readmes(const std::vector<SourceFile>& tree);

/// Headers without #pragma once, and headers that do not open with a comment that says what they
/// are.
std::vector<Breach> header_opening(const SourceFile& file);

}  // namespace fuelwright::house
