/// The layers of docs/layers.txt, and whether a file keeps to them.
#pragma once

#include <map>
#include <set>
#include <string>
#include <string_view>
#include <vector>

#include "base/result.h"
#include "source_tree.h"

namespace fuelwright::house {

using Names = std::set<std::string, std::less<>>;
using NameLists = std::map<std::string, Names, std::less<>>;

struct Layers {
  NameLists groups;    ///< group -> the groups it may include
  NameLists in_tests;  ///< group -> what its tests may include besides
  NameLists things;    ///< "clock" -> headers and names that bring it in
  NameLists only;      ///< "clock" -> places where it may stand
};

/// Reads docs/layers.txt. Errors: bad_input naming the line: not "WORD NAME : LIST", an unknown
/// word or group, a name given twice, groups that include each other in a circle, or a thing
/// without an `only` line.
Result<Layers> parse_layers(std::string_view text);

/// Every breach in one C++ file: an arrow that points up or sideways, another module's internal
/// header, a thing that may not stand here. `beside`: the names of files in the same folder, which
/// may be included by bare name.
std::vector<Breach> check_layers(const Layers& layers, const SourceFile& file, const Names& beside);

}  // namespace fuelwright::house
