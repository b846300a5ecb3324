/// Numbers of the sheet as people read them, in the unit of their key: "102.4 mm", "850 ft", "0.95
/// ms".
#pragma once

#include <string>
#include <vector>

#include "car/build/internal/keys.h"

namespace fuelwright::car {

/// One number with its unit; plain numbers without trailing zeros.
std::string shown(double si, const Key& key, const Sheet& sheet, UnitSystem system);
/// "0.1, 0.2 in": a list with its unit once.
std::string shown_list(const std::vector<double>& si, const Key& key, const Sheet& sheet,
                       UnitSystem system);
/// A tolerance, two digits: a step, so that a temperature's is in K and a pressure's is neither
/// gauge nor absolute.
std::string shown_step(double step, const Key& key, const Sheet& sheet, UnitSystem system);
/// "1.57 to 7.87 in"; empty without limits.
std::string shown_limits(const Key& key, const Sheet& sheet, UnitSystem system);

}  // namespace fuelwright::car
