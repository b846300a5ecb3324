/// The driver: follows a speed cycle or a plan with feet, gear lever and human error.
#pragma once

#include <optional>
#include <variant>
#include <vector>

#include "car/plan/plan.h"
#include "sim/virtual_car/cycle.h"
#include "sim/virtual_car/internal/drivetrain.h"
#include "sim/virtual_car/internal/power.h"
#include "sim/virtual_car/internal/random.h"

namespace fuelwright::sim::virtual_car {

class DriverAtWork {
 public:
  using Task = std::variant<Cycle, car::Plan>;
  /// A cycle that ends begins again.
  DriverAtWork(const Truth& truth, const Power& power, const Drivetrain& car, const Task& task,
               double idle_rpm, double limit_rpm, std::uint64_t seed, double dt_s);

  struct Doing {
    double pedal = 0;
    Drivetrain::Feet feet;
    double wanted_m_s = 0;  ///< the speed to be followed; negative where none is
    bool finished = false;  ///< of a plan
  };
  Doing step(double map_pa, double coolant_k, double grade);
  /// Steps of the plan that were not driven to their end, from 1.
  const std::vector<int>& cut_short() const { return cut_short_; }
  std::size_t steps_over() const { return step_; }

 private:
  struct Aim {
    double now_m_s = 0, soon_m_s = 0, later_m_s = 0;
    bool by_foot = false;  ///< pedal is set by map_pa (or all the way), not by a speed
    double map_pa = 0;     ///< 0: full throttle
    bool foot_off = false;
    std::optional<double> dyno_over_m_s{};  ///< by how much the speed that a dyno holds is passed
    int gear = -1;                          ///< to be in, if any
  };
  Aim aim();
  Aim cycle_aim(const Cycle& cycle) const;
  Aim plan_aim(const car::Plan& plan);
  bool in_gear(int gear) const {
    return gear_ == gear && shifting_s_ <= 0 && (car_.locked() || truth_.vehicle.automatic);
  }
  void next_step(bool driven = true);
  void choose_gear(const Aim& aim, double wanted_pa);
  void shift_to(int gear);
  double dyno_n(double over_m_s, double grade);
  double foot(const Aim& aim, double torque_nm, double coolant_k, double map_pa, double unsteady);
  void clutch(const Aim& aim, double force_n, double& torque_nm);

  const Truth& truth_;
  const Power& power_;
  const Drivetrain& car_;
  const Task& task_;
  double idle_rpm_, limit_rpm_, dt_s_;
  Random random_;
  Wander unsteady_;
  double time_s_ = 0, step_s_ = 0, held_s_ = 0;
  std::size_t step_ = 0;
  std::vector<int> cut_short_;
  bool sweeping_ = false, finished_ = false;
  int gear_ = 0;
  double shifting_s_ = 0, since_shift_s_ = 10, labouring_s_ = 0;
  double dyno_integral_m_s2_ = 0;
  double trim_pa_ = 0, integral_ = 0, pedal_ = 0, brake_n_ = 0, clutch_ = 0, most_torque_nm_;
};

}  // namespace fuelwright::sim::virtual_car
