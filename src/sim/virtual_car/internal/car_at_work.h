/// The whole car, moment by moment.
#pragma once

#include "sim/virtual_car/internal/computer.h"
#include "sim/virtual_car/internal/driver.h"
#include "sim/virtual_car/internal/exhaust.h"
#include "sim/virtual_car/internal/faults.h"
#include "sim/virtual_car/internal/film.h"
#include "sim/virtual_car/internal/fuel_supply.h"
#include "sim/virtual_car/internal/rows.h"
#include "sim/virtual_car/virtual_car.h"

namespace fuelwright::sim::virtual_car {

inline constexpr double kStep_s = 0.005;  ///< inner step

class CarAtWork {
 public:
  /// Keeps references to all three.
  CarAtWork(const Truth& truth, const car::Sheet& sheet, const car::Calibration& calibration,
            const DriveRequest& request);
  void step();
  /// What the recorder sees now.
  Row row();
  TrueMoment moment() const;
  bool finished() const { return doing_.finished; }
  const std::vector<int>& cut_short() const { return driver_.cut_short(); }
  std::size_t steps_over() const { return driver_.steps_over(); }
  double distance_m() const { return drivetrain_.distance_m(); }
  double injected_kg() const { return injected_kg_; }
  double into_cylinders_kg() const { return into_cylinders_kg_; }
  const WallFilm& film() const { return film_; }
  const ComputerAtWork& computer() const { return computer_; }

 private:
  Sensed sense();
  void breathe();
  void fuel();
  void smell();
  void push();
  void warm();
  bool has_sensor(int bank) const;

  const Truth& truth_;
  Told told_;
  Faults faults_;
  Power power_;
  Drivetrain drivetrain_;
  DriverAtWork driver_;
  ComputerAtWork computer_;
  FuelSupply supply_;
  WallFilm film_;
  std::vector<ExhaustPath> paths_;
  std::vector<SensorTip> tips_;
  std::vector<double> air_share_, fuel_share_;  // of the banks
  Random random_, fire_random_, road_random_;
  Wander hills_, map_noise_;
  DriverAtWork::Doing doing_;
  Command command_;
  double time_s_ = 0, since_update_s_ = 1;
  double map_pa_, map_filtered_pa_, stuck_pa_ = 0, coolant_k_, intake_k_, battery_v_ = 14;
  double air_kg_s_ = 0, moist_kg_s_ = 0, richness_ = 1, residual_ = 0.1;
  double injected_kg_s_ = 0, burnt_kg_s_ = 0, injected_kg_ = 0, into_cylinders_kg_ = 0;
  double torque_nm_ = 0, misfiring_ = 0, grade_ = 0;
  std::array<double, 2> lambda_{1, 1}, seen_misfire_{0, 0}, cycles_due_{0, 0};
};

}  // namespace fuelwright::sim::virtual_car
