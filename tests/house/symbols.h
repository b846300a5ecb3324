/// What object files define and use, as `nm -C` prints it, and what two parts of a program share at
/// link level.
///
/// A function that was put into both by the compiler itself (inlined) leaves no name: the headers
/// that both include are looked at beside this.
#pragma once

#include <functional>
#include <set>
#include <string>
#include <string_view>
#include <vector>

namespace fuelwright::house {

/// One object file of a library. Names are whole, with their parameters; those of the language and
/// of other libraries are there too.
struct ObjectFile {
  std::string library;           ///< "sim_virtual_car"
  std::string name;              ///< "film.cc.o"
  std::set<std::string> strong;  ///< defined here, for everybody
  std::set<std::string>
      defines;                 ///< the same, and what every user has a copy of (inline, templates)
  std::set<std::string> uses;  ///< defined elsewhere
  bool has(const std::string& symbol) const {
    return defines.contains(symbol) || uses.contains(symbol);
  }
};

/// The object files of a library, from the text that `nm -C LIBRARY` printed.
std::vector<ObjectFile> objects_in(std::string_view library, std::string_view nm_text);

/// "fuelwright::car::Surface::at" of "fuelwright::car::Surface::at(double, double) const", without
/// the result's type that templates carry and without "vtable for " and the like.
std::string qualified_name(std::string_view symbol);

using Which = std::function<bool(const ObjectFile&)>;

/// Names of namespace fuelwright that object files of both sides define or use, sorted.
std::vector<std::string> shared_names(const std::vector<ObjectFile>& all, const Which& one,
                                      const Which& other);

/// "library/object" of all that a program is linked with that uses everything of `side`: its own
/// object files, those they need, and so on.
std::set<std::string> linked_with(const std::vector<ObjectFile>& all, const Which& side);

}  // namespace fuelwright::house
