/// Build sheets as files: read TOML, write it back, list it for people.
///
///   [engine]
///   bore = "4.030 in"
///   compression = { value = "10.2 +- 0.2", source = "measured" }
///
/// Five answers are enough: displacement (or bore and stroke), cylinders, intake duration at 0.050
/// in, injector flow at its pressure, fuel. Everything else is filled from the spread of such
/// engines and marked typical. docs/sheet.md lists every key.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "base/result.h"
#include "base/units/number.h"
#include "car/build/sheet.h"

namespace fuelwright::car {

/// The complete sheet that a text stands for. `file_name` is for messages only; no file is opened.
///
/// Errors name file, line, key, what came and what is allowed ("sheet.toml:14: engine.bore: "20 mm"
/// is outside 40 to 200 mm"): bad_input (no TOML, unknown key with the nearest valid one,
/// contradictions), unknown_unit, out_of_range, needs_answer (one of the five, or a scale, axis or
/// condition that must not be guessed), conflict (stated twice), too_large (above 1 MiB). With
/// several problems the one that stands first in the file is returned.
Result<Sheet> read_sheet(std::string_view toml_text, std::string_view file_name);

/// Every problem of a text, in the order of its lines; empty if read_sheet() would take it.
std::vector<Error> problems_of(std::string_view toml_text, std::string_view file_name);

/// The sheet as TOML, complete: given values with tolerance and source; typical and computed ones
/// as comments with their rule, ready to be filled in. read_sheet() of it gives an equal sheet.
std::string write_sheet(const Sheet& sheet);

/// A text as a TOML basic string.
std::string quoted(std::string_view text);

/// One line of a sheet for people and for JSON.
struct Line {
  std::string section;    ///< "engine", "sensors.mixture.1"
  std::string key;        ///< "bore"
  std::string about;      ///< "cylinder bore"
  std::string value;      ///< "102.4 mm", with its unit
  std::string tolerance;  ///< "0.05 mm", "3 %" for lists; empty if it has none
  Source source;
  std::string reason;       ///< the rule of a typical or computed value, or the note of a given one
  Kind kind;                ///< of `si`
  std::vector<double> si;   ///< the numbers in SI; empty for choices and names
  double tolerance_si = 0;  ///< SI step; for lists a share
  /// tolerance_si as it would be if the value were left out; none where it cannot be left out.
  std::optional<double> usual_tolerance_si = {};
  std::vector<std::string> choices = {};  ///< the words it may be; empty for numbers and names
  std::string allowed = {};               ///< "40 to 200 mm"; empty if it has no limits
};
std::vector<Line> describe(const Sheet& sheet, UnitSystem system);

}  // namespace fuelwright::car
