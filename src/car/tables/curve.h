/// A curve: values over one axis, linear between its points; outside the nearest edge value holds.
///
///   f(x) = (1-s) f_i + s f_i+1                                                         (tables.3)
///
/// s: how far x lies between the two neighbouring breakpoints, 0..1. What a calibration has curves
/// for stands in CurveWhat. Source: linear interpolation as engine computers do it (common
/// practice, no source); docs/theory/tables.md.
#pragma once

#include <span>
#include <vector>

#include "car/tables/axis.h"
#include "car/tables/value_unit.h"

namespace fuelwright::car {

/// A range of values that can be meant.
struct Limits {
  double lowest;
  double highest;
};

enum class CurveWhat {
  cranking_fuel,       ///< fuel per cylinder and cycle while the starter turns [kg], over coolant
  after_start_fuel,    ///< extra share of fuel just after the start [-], over coolant
  after_start_time,    ///< in which it fades to nothing [s], over coolant
  warm_up_fuel,        ///< extra share of fuel [-], over coolant
  idle_speed,          ///< to aim at [rpm], over coolant
  idle_air,            ///< that the idle valve or the stop must pass [kg/s], over coolant
  charge_temperature,  ///< factor on the air that the table's VE gives [-], over intake air
  dead_time,           ///< of one injector [s], over battery voltage
  spark_trim_coolant,  ///< added to the spark [deg], over coolant
  spark_trim_intake,   ///< added to the spark [deg], over intake air
  tip_in_fuel,         ///< extra share of fuel while pressure rises [-], over its rise
  tip_in_coolant,      ///< factor on tip_in_fuel [-], over coolant
  tip_in_time,         ///< in which it fades to a third (1/e) [s], over coolant
};
inline constexpr int kCurves = 13;

struct Curve {
  Axis axis;
  std::vector<double> values;  ///< one per breakpoint, in the unit of CurveWhat

  /// (tables.3); x in the axis' SI unit, a number.
  double at(double x_si) const;
  double at(const OperatingPoint& point) const { return at(axis.coordinate(point)); }
  friend bool operator==(const Curve&, const Curve&) = default;
};

std::span<const CurveWhat> all_curves();
/// "warm_up_fuel", as written in files, and back.
const char* name_of(CurveWhat what);
Result<CurveWhat> curve_named(std::string_view name);
/// "warm-up fuel", for people.
const char* label_of(CurveWhat what);
/// The axis such a curve stands over.
AxisKind axis_of(CurveWhat what);
ValueUnit unit_of(CurveWhat what);
Limits limits_of(CurveWhat what);

}  // namespace fuelwright::car
