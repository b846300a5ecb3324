/// The engine computer: a real unit's habits with a calibration, on what its sensors say
/// (virtual_car.8).
#pragma once

#include "base/result.h"
#include "car/build/sheet.h"
#include "car/tables/calibration.h"
#include "sim/virtual_car/truth.h"

namespace fuelwright::sim::virtual_car {

/// What the unit has been told of the engine.
struct Told {
  double displacement_m3, stoichiometric, injectors, squirts_per_cycle;
  double flow_kg_s, flow_pressure_pa, rail_pa;
  double dead_time_s;  ///< at 14 V, if the calibration has no curve for it
  bool to_manifold, above_throttle;
  double idle_rpm, limit_rpm;
  double lambda_idle, lambda_cruise, lambda_full;
  double baro_pa;  ///< read at key-on
  /// Effective openings that it takes its throttle stop and its idle valve to have.
  double stop_m2, idle_valve_m2;
};
Told told(const car::Sheet& sheet, const car::Calibration& calibration, const Truth& truth);

struct Sensed {
  double seconds = 0, rpm = 0, map_pa = 0, throttle = 0, coolant_k = 0, intake_k = 0;
  double battery_v = 14, lambda = 1, speed_m_s = 0;
  bool has_lambda = true;
};

/// Where a unit that meters by throttle keeps its idle valve, as a share of its opening: its table
/// would not know of more air.
inline constexpr double kIdleValveByThrottle = 0.18;

struct Command {
  double pulse_s = 0, spark_deg = 10, idle_valve = 0;  ///< idle valve 0..1
  double lambda_target = 1, correction = 0, enrichment = 0;
  double ve = 0;  ///< looked up, with what the unit has learned
  bool cut = false;
};

class ComputerAtWork {
 public:
  ComputerAtWork(const Truth& truth, const Told& told, const car::Calibration& calibration);
  /// Call at every instant of Computer::update; dt_s since the last.
  Command update(const Sensed& sensed, double dt_s);
  /// The factors it has learned over its VE table [-]; 1 everywhere unless it corrects itself.
  const car::Surface& learned() const { return learned_; }

 private:
  double setting(car::SettingWhat what, double otherwise) const;
  double curve(car::CurveWhat what, double x, double otherwise) const;
  double target(const car::OperatingPoint& at) const;
  double spark(const Sensed& s, const car::OperatingPoint& at) const;
  double soft_limit_deg(const Sensed& s) const;
  double usual_idle_opening(double coolant_k) const;
  double enrichment(const Sensed& s) const;
  double tip_in(const Sensed& s, double dt_s);
  double idle_valve(const Sensed& s, double dt_s);
  bool overrun(const Sensed& s, double dt_s);
  bool over_the_limit(const Sensed& s);
  void closed_loop(const Sensed& s, double lambda_target, double dt_s);
  void learn(const car::OperatingPoint& at, double dt_s);
  double pulse_s(const Sensed& s, double fuel_kg) const;

  const Computer& habits_;
  const Told told_;
  const car::Calibration& calibration_;
  const car::Surface& ve_;
  const bool by_throttle_;
  car::Surface learned_;
  double correction_ = 0, tip_in_ = 0, idle_ = 0;
  double map_before_pa_ = -1, rise_pa_s_ = 0;
  double shut_s_ = 0, since_cut_s_ = 100, since_moving_s_ = 100, since_step_s_ = 0;
  bool cut_ = false, limited_ = false, active_ = false;
};

}  // namespace fuelwright::sim::virtual_car
