/// Points on a scale: a temperature, an absolute pressure, an instant, a crank position, an engine
/// speed.
///
/// Two points can be subtracted (that gives an amount) and compared; an amount can be added to a
/// point. Two points cannot be added, and an amount is not a point: 20 degC is not 20 K, and 3 bar
/// on a gauge is not 3 bar absolute. A gauge reading becomes absolute in one place only,
/// from_gauge(), which asks for the ambient pressure.
#pragma once

#include <cmath>
#include <compare>
#include <numbers>

#include "base/units/quantity.h"

namespace fuelwright {

/// A point whose zero is the scale's own zero (absolute zero, vacuum, start of a recording).
template <class Tag, class Step>
struct Point {
  Step from_zero{};

  friend constexpr auto operator<=>(const Point&, const Point&) = default;
  friend constexpr Step operator-(Point a, Point b) { return a.from_zero - b.from_zero; }
  friend constexpr Point operator+(Point a, Step s) { return {a.from_zero + s}; }
  friend constexpr Point operator-(Point a, Step s) { return {a.from_zero - s}; }
};

struct TemperatureTag {};
struct AbsolutePressureTag {};
struct InstantTag {};

using Temperature = Point<TemperatureTag, TemperatureStep>;
using AbsolutePressure = Point<AbsolutePressureTag, PressureStep>;
using Instant = Point<InstantTag, Duration>;

inline constexpr double kZeroCelsius_K = 273.15;  ///< SI, exact

constexpr Temperature celsius(double t) { return {{t + kZeroCelsius_K}}; }
constexpr Temperature fahrenheit(double t) { return {{(t - 32.0) / 1.8 + kZeroCelsius_K}}; }
constexpr Temperature kelvin(double t) { return {{t}}; }
constexpr double in_celsius(Temperature t) { return t.from_zero.si - kZeroCelsius_K; }
constexpr double in_fahrenheit(Temperature t) { return in_celsius(t) * 1.8 + 32.0; }

/// absolute(101.325 * kPa)
constexpr AbsolutePressure absolute(PressureStep above_vacuum) { return {above_vacuum}; }

/// What a gauge shows: pressure above (or, negative, below) the ambient pressure of the moment.
struct GaugePressure {
  PressureStep above_ambient{};
  friend constexpr auto operator<=>(const GaugePressure&, const GaugePressure&) = default;
};

constexpr GaugePressure gauge(PressureStep above_ambient) { return {above_ambient}; }
constexpr AbsolutePressure from_gauge(GaugePressure reading, AbsolutePressure ambient) {
  return ambient + reading.above_ambient;
}
constexpr GaugePressure to_gauge(AbsolutePressure p, AbsolutePressure ambient) {
  return {p - ambient};
}

/// Crankshaft speed. Kept apart from other frequencies: one revolution is not one cycle.
struct EngineSpeed {
  double rpm = 0;  ///< crankshaft revolutions per minute
  friend constexpr auto operator<=>(const EngineSpeed&, const EngineSpeed&) = default;
  /// Four-stroke working cycles per second, one cylinder.
  constexpr double cycles_per_second() const { return rpm / 120.0; }
};
constexpr EngineSpeed rpm(double n) { return {n}; }

/// A difference of crank positions (a duration, an advance) [rad inside].
struct CrankAngle {
  double rad = 0;
  constexpr double degrees() const { return rad * 180.0 / std::numbers::pi; }
  friend constexpr auto operator<=>(const CrankAngle&, const CrankAngle&) = default;
  friend constexpr CrankAngle operator+(CrankAngle a, CrankAngle b) { return {a.rad + b.rad}; }
  friend constexpr CrankAngle operator-(CrankAngle a, CrankAngle b) { return {a.rad - b.rad}; }
};
constexpr CrankAngle crank_degrees(double deg) { return {deg * std::numbers::pi / 180.0}; }

/// Where the crank stands in the four-stroke cycle: 0..4 pi, zero = firing top dead centre.
struct CrankPosition {
  double rad = 0;
  friend constexpr auto operator<=>(const CrankPosition&, const CrankPosition&) = default;
  friend constexpr CrankAngle operator-(CrankPosition a, CrankPosition b) {
    return {a.rad - b.rad};
  }
  friend CrankPosition operator+(CrankPosition a, CrankAngle step) {
    constexpr double kCycle = 4.0 * std::numbers::pi;
    const double turned = std::fmod(a.rad + step.rad, kCycle);
    return {turned < 0 ? turned + kCycle : turned};
  }
};
constexpr CrankPosition after_firing_tdc(CrankAngle a) { return {a.rad}; }

}  // namespace fuelwright
