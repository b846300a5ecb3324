/// Every number of the truth: its key in files with the unit, its limits, where it lies in Truth,
/// and what is drawn for a car whose file is silent.
#pragma once

#include <cstdint>
#include <span>
#include <string>

#include "sim/virtual_car/truth.h"

namespace fuelwright::sim::virtual_car {

/// A value and its 95 % half-width, from a sheet or from general knowledge.
struct Typical {
  double si;
  double half_width = 0;
};

struct Parameter {
  const char* section;
  const char* key;         ///< with its unit: "fast_time_s"
  double unit;             ///< one of that unit in SI
  double zero;             ///< SI value of the unit's zero (degC: 273.15)
  double lowest, highest;  ///< in the unit
  bool whole;              ///< a whole number
  double (*get)(const Truth&);
  void (*set)(Truth&, double si);
  Typical (*typical)(const car::Sheet&);
  bool as_factor;  ///< half_width is of the logarithm
};

std::span<const Parameter> all_parameters();
/// Effective opening that lets in air for idle, as such engines have it [m2]: about 0.22 g/s a
/// litre at 0.40 of ambient pressure (from memory); what the stop leaks and the idle valve opens go
/// with it.
double usual_idle_area_m2(const car::Sheet& sheet);
inline constexpr double kStopPerIdleArea = 2.2, kIdleValvePerIdleArea = 10;

/// Normal about the typical value, held within 1.28 half-widths (2.5 standard deviations) and the
/// limits; rounded to six digits in its unit, so that a file holds it exactly.
double drawn(const Parameter& parameter, const car::Sheet& sheet, std::uint64_t seed);
/// `shown` in the unit as SI, and back so that the first gives the same double again.
double to_si(const Parameter& parameter, double shown);
std::string shown(const Parameter& parameter, double si);

}  // namespace fuelwright::sim::virtual_car
