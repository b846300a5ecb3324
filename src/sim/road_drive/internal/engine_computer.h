/// The engine computer of the invented car: speed density, bilinear table, warm-up, tip-in, overrun
/// cut, closed loop.
#pragma once

#include "sim/road_drive/road_drive.h"

namespace fuelwright::sim {

/// What the computer's own sensors tell it at one moment.
struct Sensed {
  double seconds = 0;  ///< since the recording began
  double rpm = 0;
  double map_pa = 0;
  double throttle = 0;  ///< 0..1
  double coolant_k = 0;
  double intake_k = 0;
  double battery_v = 0;
  double lambda = 1;  ///< last reading
};

/// What it does about it.
struct Command {
  double lambda_target = 1;
  double correction = 0;     ///< share added by the closed loop
  double warm_up = 0;        ///< share added while cold
  double pulse_width_s = 0;  ///< dead time included; 0 in a fuel cut
  bool cut = false;
};

class ComputerAtWork {
 public:
  /// Keeps a reference to all three.
  ComputerAtWork(const Truth& truth, const car::Surface& ve, const EngineComputer& settings);
  Command step(const Sensed& now, double dt_s);

 private:
  double target(const car::OperatingPoint& at) const;
  bool cutting(const Sensed& now, double dt_s);
  double closed_loop(const Sensed& now, double target, double dt_s);
  double fuel_per_cycle_kg(const Sensed& now, const car::OperatingPoint& at, double target) const;

  const Truth& truth_;
  const car::Surface& ve_;
  const EngineComputer& settings_;
  bool cut_ = false;
  double shut_for_s_ = 0;
  double since_cut_s_ = 1e3;
  double since_moving_s_ = 1e3;
  double correction_ = 0;
  double map_before_pa_ = -1;
  double map_rise_pa_s_ = 0;
};

/// Temperature of the charge at the valve (road_drive.3): intake air warmed by the ports, less so
/// at high flow.
double charge_temperature_k(double intake_k, double coolant_k, double heating, double rpm,
                            double map_pa);

/// True fuel of one pulse [kg].
double true_fuel_of_pulse_kg(const Injection& injection, double pulse_width_s, double battery_v);

}  // namespace fuelwright::sim
