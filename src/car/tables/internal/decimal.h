/// Numbers of tables as decimal text, exact both ways: what was written reads back to the same
/// double. A unit that is a power of ten is reached by moving the decimal point, never by
/// multiplying.
#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "base/units/number.h"
#include "car/tables/calibration.h"

namespace fuelwright::car::internal {

/// The shortest decimal text of v times 10^shift, without an exponent. v: finite.
std::string shifted(double v, int shift);
/// text times 10^shift, rounded once; nullopt if the text is not a plain number with a point.
std::optional<double> parse_shifted(std::string_view text, int shift);

/// A number of SI in the unit, with as many digits as it takes; and back.
std::string text_in(double si, const UnitInfo& unit);
std::optional<double> parse_in(std::string_view text, const UnitInfo& unit);

/// The unit that `text` is for this axis; error unknown_unit naming those that are known.
Result<UnitInfo> axis_unit_named(AxisKind kind, std::string_view text);
/// Digits by which the values of a table move to be read by people: 2 for %, 0 for lambda and deg.
int percent_shift(TableWhat what);

}  // namespace fuelwright::car::internal
