/// The driver and the car under him: invented roads, pedals, gears, and the motion that follows.
#pragma once

#include <deque>

#include "sim/road_drive/internal/random.h"
#include "sim/road_drive/road_drive.h"

namespace fuelwright::sim {

/// What the engine does at one moment; truth, not readings.
struct Motion {
  double speed_m_s = 0;
  double rpm = 0;
  double map_pa = 0;
  double throttle = 0;       ///< 0..1
  int gear = 0;              ///< 0 = first
  bool clutch_shut = false;  ///< engine and wheels turn together
};

class DriverAtWork {
 public:
  /// Keeps a reference to the truth.
  DriverAtWork(const Truth& truth, const Driver& habits, std::uint64_t seed, double total_s);
  Motion step(double dt_s, double coolant_k);

 private:
  /// One stretch: hold a speed for a time, or full throttle in one gear up to an engine speed.
  struct Stretch {
    bool full = false;
    double speed_m_s = 0;
    double seconds = 0;
    double accel = 1;  ///< at most [m/s2]
    int gear = 0;
    double until_rpm = 0;
  };
  enum class Zone { town, road, highway };

  double engine_per_speed(int gear) const;  ///< rpm per m/s
  void plan_next(double coolant_k);
  void plan_full_throttle(double from_rpm, double until_rpm, int gear);
  void plan_hold();
  void choose_gear(double wanted_accel);
  void shift_to(int gear);
  double wanted_accel();
  double resistance_n(double dt_s);
  /// Engine speed of the moment; says in `clutch_shut` whether the wheels hold it.
  void turn_engine(double dt_s, double coolant_k, double wanted_accel);
  void breathe(double dt_s, double coolant_k, double torque_nm);
  void roll(double dt_s, double coolant_k, double wanted_accel, double resistance);

  const Truth& truth_;
  Driver habits_;
  Random random_;
  Random shake_random_;
  Wander foot_, grade_, shake_;
  double pace_;  ///< how much faster than a large engine this one is turned
  double pull_every_s_ = 0;
  double next_pull_s_ = 1e9;
  double time_s_ = 0;
  double stretch_s_ = 0;
  double zone_left_s_ = 0;
  Zone zone_ = Zone::town;
  std::deque<Stretch> ahead_;
  Stretch now_;
  double shift_left_s_ = 0;
  double since_shift_s_ = 0;
  double smooth_accel_ = 0;
  Motion motion_;
};

}  // namespace fuelwright::sim
