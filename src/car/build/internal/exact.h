/// Numbers as text that reads back to the very same double: the shortest decimal, in the unit that
/// makes it shortest.
#pragma once

#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "base/units/number.h"

namespace fuelwright::car {

/// The shortest text of a number near `guess` for which convert(number) is exactly `target`; none
/// if no double near the guess does it.
std::optional<std::string> exact_text(double guess, double target,
                                      const std::function<double(double)>& convert);

struct InUnit {
  std::string number;
  std::string unit;  ///< empty for plain numbers
};
/// `si` as a point or amount of this kind, in the unit with the shortest exact text.
InUnit exact_in_unit(double si, Kind kind);
/// `step` as a tolerance of this kind (a temperature's is a temperature step).
InUnit exact_step(double step, Kind kind, const std::string& preferred_unit);
/// All of a list in one unit, if one makes them all exact.
std::optional<std::vector<InUnit>> exact_list(const std::vector<double>& si, Kind kind);

}  // namespace fuelwright::car
