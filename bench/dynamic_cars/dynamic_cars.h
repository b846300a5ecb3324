/// Invented cars of six kinds, driven once and estimated three ways: the trade's averaging, well
/// tuned; the static form; the dynamic form. Judged as bench/invented_cars judges, by a drive of
/// the same car with nothing between table and reading.
#pragma once

#include <array>
#include <cstdint>
#include <functional>
#include <optional>

#include "advice/dynamic_estimate/dynamic_estimate.h"
#include "sim/road_drive/road_drive.h"

namespace fuelwright::bench {

/// Averaging as a careful tuner does it: bilinear shares, only moments whose manifold pressure and
/// speed have been steady, readings taken back by a delay. Settings chosen on cars 1 to 12.
struct AveragingSettings {
  double settle_s = 0.5;
  double delay_s = 0.35;
  double steady_ln = 0.10;  ///< MAP and speed within this over the settle time
};

struct Score {
  double rms = 0;         ///< of the mixture error over driven time [-]
  double within_3 = 0;    ///< share of driven time within 3 %
  double held = 0;        ///< share of driven time in which the 95 % interval holds
  double half_width = 0;  ///< median half-width [-]
};

/// Kind of a car by its number: engine, cam, manifold.
const char* kind_of(std::uint64_t car);
inline constexpr int kKinds = 6;

struct Compared {
  double before = 0;
  Score averaging, fixed, dynamic;
  Score full_fixed, full;  ///< at 85 kPa and above: static and dynamic form
  std::optional<advice::DynamicEstimate> estimate;  ///< always there
  double seconds = 0;  ///< of one core, for the dynamic form, channels to table
};

struct CompareOptions {
  double minutes = 10;
  int pulls = 0;              ///< to the redline at full throttle
  bool another_road = false;  ///< judged on another road than driven
  bool clean_sensor = false;  ///< no drift, no idle bias: what the sensor's errors cost
  advice::FuelFrom from = advice::FuelFrom::pulse_width_and_target;
  AveragingSettings averaging;
  /// Changes settings before estimating; empty: as they are.
  std::function<void(advice::DynamicOptions&)> settings;
};

Compared compare(std::uint64_t car, const CompareOptions& options);

}  // namespace fuelwright::bench
