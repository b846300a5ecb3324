/// A value of the build sheet together with how well it is known and from where.
///
///   Known<Length> bore;     bore.value 102.36 mm, bore.tolerance 0.05 mm, bore.source
///   Source::stated
///
/// tolerance is a 95 % half-width: 19 of 20 such engines (or such measurements) lie within value +-
/// tolerance.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "base/units/points.h"
#include "base/units/quantity.h"
#include "car/fuel/mixture.h"

namespace fuelwright::car {

enum class Source : std::uint8_t {
  measured,  ///< somebody measured it on this car
  stated,    ///< a card, a box, a data plate or the owner says so
  computed,  ///< follows from other values that were given
  typical,   ///< filled in from the spread of such engines
};
/// "measured" and so on, as written in files and JSON.
const char* name_of(Source source);

/// How a type of the sheet maps to one SI double and back, and what a step of it is.
template <class T>
struct Si {  // amounts (Length, Volume, ...): the step is an amount too
  using Step = T;
  static double of(const T& x) { return x.si; }
  static T make(double si) { return T{si}; }
};
template <>
struct Si<double> {
  using Step = double;
  static double of(double x) { return x; }
  static double make(double x) { return x; }
};
template <>
struct Si<int> {
  using Step = double;
  static double of(int x) { return x; }
  static int make(double x) { return static_cast<int>(x < 0 ? x - 0.5 : x + 0.5); }
};
template <>
struct Si<Temperature> {
  using Step = TemperatureStep;
  static double of(Temperature x) { return x.from_zero.si; }
  static Temperature make(double si) { return {{si}}; }
};
template <>
struct Si<AbsolutePressure> {
  using Step = PressureStep;
  static double of(AbsolutePressure x) { return x.from_zero.si; }
  static AbsolutePressure make(double si) { return {{si}}; }
};
template <>
struct Si<GaugePressure> {
  using Step = PressureStep;
  static double of(GaugePressure x) { return x.above_ambient.si; }
  static GaugePressure make(double si) { return {{si}}; }
};
template <>
struct Si<CrankAngle> {
  using Step = CrankAngle;
  static double of(CrankAngle x) { return x.rad; }
  static CrankAngle make(double rad) { return {rad}; }
};
template <>
struct Si<EngineSpeed> {
  using Step = EngineSpeed;
  static double of(EngineSpeed x) { return x.rpm; }
  static EngineSpeed make(double rpm) { return {rpm}; }
};
template <>
struct Si<Lambda> {
  using Step = Lambda;
  static double of(Lambda x) { return x.value; }
  static Lambda make(double value) { return {value}; }
};

/// One number.
template <class T>
struct Known {
  T value{};
  typename Si<T>::Step tolerance{};  ///< 95 % half-width
  Source source = Source::typical;
  std::string reason;  ///< typical, computed: the rule; otherwise the note that was given, if any

  double si() const { return Si<T>::of(value); }
  double tolerance_si() const { return Si<typename Si<T>::Step>::of(tolerance); }
  friend bool operator==(const Known&, const Known&) = default;
};

/// A list of numbers (gears, a flow-bench curve, table axes).
template <class T>
struct Listed {
  std::vector<T> values;
  double tolerance = 0;  ///< 95 % half-width as a share of each value [-]
  Source source = Source::typical;
  std::string reason;
  friend bool operator==(const Listed&, const Listed&) = default;
};

/// A choice or a name: no tolerance.
template <class T>
struct Chosen {
  T value{};
  Source source = Source::typical;
  std::string reason;
  friend bool operator==(const Chosen&, const Chosen&) = default;
};

}  // namespace fuelwright::car
