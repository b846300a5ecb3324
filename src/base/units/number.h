/// Numbers with units, in and out: "4.030 in", "43 psi gauge", "3.5 bar", "228 deg", "10.2 +- 0.2".
///
/// The one table of units that people write is here. Everything that comes from outside (a build
/// sheet, a recording's header, the command line) passes through parse_number(), which converts
/// once to SI; an unknown unit is an error with the nearest known one, never a guess.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "base/result.h"

namespace fuelwright {

/// What a number measures. The kind decides which units fit and what SI unit stands inside.
enum class Kind {
  ratio,   ///< no unit: lambda, compression ratio, axle ratio; "%" is accepted and divided by 100
  count,   ///< whole number
  length,  ///< m
  area,    ///< m2
  volume,  ///< m3
  mass,    ///< kg
  time,    ///< s
  absolute_pressure,  ///< Pa above vacuum; "gauge" is refused
  gauge_pressure,     ///< Pa above ambient; "absolute" is refused
  pressure_step,      ///< Pa, a difference
  temperature,        ///< K, a point
  temperature_step,   ///< K, a difference
  crank_angle,        ///< rad
  speed,              ///< m/s, road speed
  engine_speed,       ///< rpm (kept in rpm, the unit of the whole trade)
  mass_flow,          ///< kg/s
  volume_flow,        ///< m3/s
  density,            ///< kg/m3
  power,              ///< W
  torque,             ///< N m
  voltage,            ///< V
  current,            ///< A
  afr,                ///< mass of air per mass of fuel: always with its scale, never converted here
  angle,              ///< rad, not of the crank (a valve seat, a grade)
  frequency,          ///< Hz
};

/// "an absolute pressure", for messages.
const char* describe(Kind kind);
/// Units that may be written for this kind, commonest first, for messages ("kPa, bar, psi, inHg").
std::string units_of(Kind kind);

/// A number as somebody wrote it, converted.
struct Measured {
  double si = 0;  ///< value in the kind's SI unit
  std::optional<double>
      tolerance;     ///< half-width, same unit: the value lies within +- this, if it was said
  std::string unit;  ///< the unit as written; empty if none was
};

/// Reads "VALUE [UNIT] [+- TOLERANCE [UNIT|%]]".
///
///   parse_number("4.030 in", Kind::length)             0.102362 m
///   parse_number("43 psi gauge", Kind::gauge_pressure)  296,474.6 Pa
///   parse_number("10.2 +- 0.2", Kind::ratio)            10.2, tolerance 0.2
///   parse_number("5.7 l +- 1 %", Kind::volume)          0.0057 m3, tolerance 5.7e-5 m3
///
/// bare_unit: the unit that a number without one has; without it a dimensioned number that has none
/// is refused. A comma is a decimal comma only when no point stands in the number and it cannot be
/// a thousands mark ("0,745"); "1,234" is ambiguous and refused. Errors: bad_input (not a number,
/// NaN, inf), unknown_unit (with the nearest), out_of_range (unit of another kind).
Result<Measured> parse_number(std::string_view text, Kind kind,
                              std::optional<std::string_view> bare_unit = std::nullopt);

/// Plain number to double, locale-free; the whole text must be the number. Rejects NaN and
/// infinity.
std::optional<double> parse_double(std::string_view text);

/// One unit by its written form ("kPa", "psi gauge", "degF", "lb/h"), matched exactly first, then
/// without case.
struct UnitInfo {
  std::string symbol;  ///< as displayed
  Kind kind;
  double factor;  ///< SI = value * factor + offset
  double offset;
};
/// Every kind the text can be a unit of ("deg" is a crank angle or an angle; "psi" may be gauge,
/// absolute or a step).
std::vector<UnitInfo> find_units(std::string_view text);
/// The unit for this kind, if the text is one.
std::optional<UnitInfo> find_unit(std::string_view text, Kind kind);

/// Which family of units a person reads.
enum class UnitSystem { metric, us };

/// "101.3 kPa", "4.030 in": value in the person's unit, with `digits` significant digits.
/// Gauge and absolute pressures say which they are.
std::string format(double si, Kind kind, UnitSystem system, int digits = 4);
/// The unit used for display of this kind.
UnitInfo display_unit(Kind kind, UnitSystem system);

/// The candidate nearest to `word` by edit distance, if one is near enough to be meant (a third of
/// its length).
std::optional<std::string> nearest(std::string_view word,
                                   const std::vector<std::string>& candidates);

}  // namespace fuelwright
