/// Units of the values of a calibration: the one they stand in, and the one in which people read
/// them.
///
/// Values stand in SI, engine speed in rpm, and ignition angles in degrees of the crank: a table of
/// spark is a bulk array that every unit and every person has in degrees.
#pragma once

#include <string>
#include <string_view>

#include "base/result.h"
#include "base/units/number.h"

namespace fuelwright::car {

struct ValueUnit {
  const char* symbol = "1";  ///< of the doubles themselves, as in files: "1", "deg", "s", "kg/s"
  Kind kind = Kind::ratio;
  const char* shown = "";  ///< for people and CDF: "%", "ms"; empty: that of the kind
  const char* shown_us = "";  ///< instead of it, for people who read US units; empty: the same
};

/// The unit in which people read such a value; value = number * factor + offset.
UnitInfo shown_unit(const ValueUnit& unit, UnitSystem system);
/// The unit that `text` is for such a value. Errors: unknown_unit naming those that are known.
Result<UnitInfo> unit_named(const ValueUnit& unit, std::string_view text);
/// "62.0 %", "34.0 deg", "0.920 ms": at most `digits` significant digits.
std::string format_value(double value, const ValueUnit& unit, UnitSystem system, int digits = 3);

}  // namespace fuelwright::car
