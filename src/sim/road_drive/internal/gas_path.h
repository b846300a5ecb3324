/// What happens to fuel and exhaust between the injector and the gauge: wall film, transport,
/// sensor.
///
/// Plain doubles in SI; used by road_drive.cc alone and tested by themselves.
#pragma once

#include <vector>

#include "sim/road_drive/internal/random.h"
#include "sim/road_drive/truth.h"

namespace fuelwright::sim {

/// One puddle on the wall (road_drive.4), solved exactly for a constant inflow over each step:
///
///   dm/dt = X u - m/tau,     cylinder: (1 - X) u + m/tau
///
/// so that fuel injected = fuel into the cylinders + growth of the puddle, to rounding.
class Puddle {
 public:
  explicit Puddle(const WallFilm& film) : film_(film) {}
  /// Fuel into the cylinders during the step [kg], from `injected_kg` during it. The first step
  /// starts in equilibrium.
  double step(double injected_kg, double dt_s, double map_pa, double coolant_k);
  double mass_kg() const { return mass_kg_; }

 private:
  WallFilm film_;
  double mass_kg_ = 0;
  bool started_ = false;
};

/// The plug of gas between valves and sensor (road_drive.5): M(t - tip) - M(t_e) = pipe gas gives
/// the exhaust stroke, R(t_e) - R(t_d) = revolutions the injection whose mixture arrives now.
class ExhaustPipe {
 public:
  explicit ExhaustPipe(const MixtureSensor& sensor) : sensor_(sensor) {}
  /// What reaches the sensor at the end of this step: 1/lambda.
  double step(double gas_kg, double revolutions, double richness, double dt_s);

 private:
  /// Index (with its fraction) at which a growing series reached `value`, looking forward from
  /// `from`.
  static double find(const std::vector<double>& series, double value, double from);
  static double at(const std::vector<double>& series, double index);
  void forget();  ///< drops what no sensor will see any more

  MixtureSensor sensor_;
  std::vector<double> gas_kg_, turns_,
      richness_;  // cumulative, cumulative, momentary; one entry a step
  double exhaust_index_ = 0, injection_index_ = 0;
};

/// Lag, wandering, noise, misfires, and the limits of what a sensor can say (road_drive.6).
class SensorTip {
 public:
  SensorTip(const MixtureSensor& sensor, std::uint64_t seed);
  /// The lambda that is read. lean_bias: steady lean reading of the moment, share.
  double step(double richness, double lean_bias, double dt_s);

 private:
  MixtureSensor sensor_;
  Random noise_random_, misfire_random_;
  Wander grain_, drift_;
  double lagged_ = 1;
  bool started_ = false;
  double misfire_left_s_ = 0, misfire_depth_ = 0;
};

}  // namespace fuelwright::sim
