/// From the injection to the number on the gauge, one bank (virtual_car.6), (virtual_car.7).
#pragma once

#include <string_view>
#include <vector>

#include "sim/virtual_car/internal/random.h"
#include "sim/virtual_car/truth.h"

namespace fuelwright::sim::virtual_car {

/// A value carried along a growing position (revolutions, grams): put in here, read further back.
class Carried {
 public:
  /// Positions must not fall.
  void put(double position, double value);
  /// The value put in at that position, linear between; positions must not fall either. Before the
  /// first, the first.
  double at(double position);

 private:
  struct Entry {
    double position, value;
  };
  std::vector<Entry> entries_;
  std::size_t from_ = 0;
};

/// Injection, exhaust stroke, plug of gas, mixing, tip: what reaches the sensing element
/// (1/lambda).
class ExhaustPath {
 public:
  ExhaustPath(const Exhaust& exhaust, double tip_delay_s)
      : exhaust_(exhaust), tip_delay_s_(tip_delay_s) {}
  /// `gas_kg` left the valves during the step, `turns` revolutions passed, injected at `richness`;
  /// `leak` is the share of fresh air that comes in before the sensor.
  double step(double gas_kg, double turns, double richness, double leak, double dt_s);

 private:
  Exhaust exhaust_;
  double tip_delay_s_;
  Carried in_cylinder_, in_pipe_, in_tip_;
  double turns_ = 0, gas_kg_ = 0, seconds_ = 0;
  double mixed_ = 0;
  bool started_ = false;
};

/// Lag, gain, pressure error, drift and noise, and the ends of the reading.
class SensorTip {
 public:
  SensorTip(const Sensor& sensor, std::uint64_t seed, std::string_view name, double dt_s);
  /// lambda as read. slower: factor on the lag; leaner: share added by a fault.
  double step(double richness, double exhaust_pa, double slower, double leaner);

 private:
  Sensor sensor_;
  Random random_;
  Wander drift_, grain_;
  double dt_s_;
  double lagged_ = 1;
  bool started_ = false;
};

/// Share of cycles that misfire at this burnt share of the charge [-]: half at the limit
/// (virtual_car.11).
double dilution_misfire(const Sensor& sensor, double residual);

}  // namespace fuelwright::sim::virtual_car
