/// Engine, clutch or converter, gears, wheels, road: what torque does to the speeds
/// (virtual_car.15) to (virtual_car.17). SI throughout.
#pragma once

#include "sim/virtual_car/truth.h"

namespace fuelwright::sim::virtual_car {

/// Force against the car at this speed on this grade [N]: air drag, rolling and weight
/// (virtual_car.15). Rolling is none at rest.
double road_load_n(const Vehicle& car, double air_density, double speed_m_s, double grade);
/// Density of the weather's air, as dry [kg/m3].
double air_density(const Weather& weather);

class Drivetrain {
 public:
  Drivetrain(const Truth& truth, double idle_rpm);

  struct Feet {
    int gear = 0;        ///< 0 is the first gear
    double clutch = 0;   ///< torque that the clutch can carry, 0..1 of all it can (manual)
    double brake_n = 0;  ///< at the wheels
    bool drive = true;   ///< automatic: in gear
  };
  void step(double torque_nm, const Feet& feet, double grade, double dt_s);

  double rpm() const;
  double speed_m_s() const { return speed_; }
  double distance_m() const { return distance_; }
  bool locked() const { return locked_; }
  /// Engine speed over car speed with the clutch shut [rad/m].
  double ratio(int gear) const;
  /// Torque an engine can put through the converter now, and its multiplication.
  double converter_nm(double engine_rad_s, double turbine_rad_s) const;
  static double multiplication(double speed_ratio);

 private:
  double holding(double brake_n) const;
  double resistance(double grade, double brake_n, double driving_n) const;
  void roll(double force_n, double extra_mass_kg, double grade, double brake_n, double dt_s);
  void manual(double torque_nm, const Feet& feet, double grade, double dt_s);
  void automatic(double torque_nm, const Feet& feet, double grade, double dt_s);

  const Truth& truth_;
  double density_;
  double full_clutch_nm_;
  double converter_;  ///< torque over speed squared at rest
  double slowest_rad_s_;
  double engine_rad_s_, speed_ = 0, distance_ = 0;
  bool locked_ = false;
};

}  // namespace fuelwright::sim::virtual_car
