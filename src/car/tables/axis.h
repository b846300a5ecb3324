/// The axes of a table: what stands along it, and where its breakpoints are.
///
/// Axes are the user's: 1 to 64 breakpoints, any spacing, engine speed against absolute manifold
/// pressure, against vacuum, or against throttle opening. Decision:
/// docs/decisions/0004-axes-and-edge-rule.md.
#pragma once

#include <span>
#include <string>
#include <vector>

#include "base/result.h"
#include "base/units/number.h"
#include "base/units/points.h"

namespace fuelwright::car {

enum class AxisKind {
  engine_speed,  ///< rpm
  map_absolute,  ///< manifold pressure above vacuum [Pa]
  vacuum,        ///< ambient pressure minus manifold pressure [Pa]
  throttle,      ///< opening, 0..1 of its travel [-]
  // Axes of curves; no table stands over them.
  coolant_temperature,  ///< [K]
  intake_temperature,   ///< of the air in the plenum [K]
  battery_voltage,      ///< [V]
  map_rate,             ///< how quickly manifold pressure rises [Pa/s]
};

inline constexpr std::size_t kMaxBreakpoints = 64;

/// "engine_speed", as written in files.
const char* name_of(AxisKind kind);
/// An axis of a table by its name: engine_speed, map_absolute, vacuum or throttle.
Result<AxisKind> axis_kind_named(std::string_view name);
/// The kind of number on this axis, for units in and out (map_rate: of the pressure in it).
Kind number_kind(AxisKind kind);
/// Whether it is an axis of curves, not of tables.
bool is_of_curves(AxisKind kind);
/// "engine speed", "manifold pressure (absolute)", for people.
const char* label_of(AxisKind kind);

/// Where an engine runs at one moment; enough to find the place in any table.
struct OperatingPoint {
  EngineSpeed speed;
  AbsolutePressure map;
  AbsolutePressure ambient = absolute(101.325 * kPa);
  double throttle = 0;  ///< 0..1
  Temperature coolant = celsius(90);
  Temperature intake_air = celsius(25);
  Voltage battery = 13.5 * volt;
  double map_rate_pa_s = 0;  ///< rise of manifold pressure
};

class Axis {
 public:
  /// Errors: out_of_range if there are none or more than 64 points, or they do not increase, or one
  /// is not a number, or one cannot be (a speed outside 0..20,000 rpm, a pressure outside 0..500
  /// kPa, a vacuum outside -400..105 kPa, a throttle outside 0..1, a coolant outside 200..450 K,
  /// intake air outside 200..500 K, a battery outside 4..20 V, a rise outside 0..5000 kPa/s).
  static Result<Axis> make(AxisKind kind, std::vector<double> points_si);
  /// `count` evenly spaced points; a broken contract if make() would refuse them.
  static Axis even(AxisKind kind, double first_si, double last_si, std::size_t count);

  AxisKind kind() const { return kind_; }
  std::size_t size() const { return points_.size(); }
  double operator[](std::size_t i) const { return points_[i]; }
  std::span<const double> points() const { return points_; }
  /// This axis' coordinate of an operating point, in the axis' SI unit.
  double coordinate(const OperatingPoint& at) const;
  /// "2400 rpm", "60.0 kPa", in the person's unit.
  std::string format_point(std::size_t i, UnitSystem system) const;

  friend bool operator==(const Axis&, const Axis&) = default;

 private:
  Axis(AxisKind kind, std::vector<double> points) : kind_(kind), points_(std::move(points)) {}
  AxisKind kind_;
  std::vector<double> points_;
};

}  // namespace fuelwright::car
