/// The whole drive, moment by moment, with its truth beside its readings; what road_drive.cc turns
/// into rows.
#pragma once

#include "sim/road_drive/internal/driver.h"
#include "sim/road_drive/internal/engine_computer.h"
#include "sim/road_drive/internal/gas_path.h"
#include "sim/road_drive/internal/rows.h"

namespace fuelwright::sim {

/// Fuel and air of one internal step [kg].
struct Masses {
  double air_kg = 0;
  double injected_kg = 0;
  double into_cylinders_kg = 0;
  double lost_kg = 0;  ///< never burns: cold engine
};

class DriveAtWork {
 public:
  /// Keeps references to all three.
  DriveAtWork(const Truth& truth, const car::Surface& ve, const DriveOptions& options);
  Row step(double dt_s);

  const Masses& masses() const { return masses_; }
  const Motion& motion() const { return motion_; }
  double puddle_kg() const { return puddle_.mass_kg(); }

 private:
  void warm_engine(double dt_s);
  Sensed sense();
  void burn(const Command& command, const Sensed& sensed, double dt_s);

  const Truth& truth_;
  DriverAtWork driver_;
  ComputerAtWork computer_;
  Puddle puddle_;
  ExhaustPipe pipe_;
  SensorTip tip_;
  Random random_;
  Motion motion_;
  Masses masses_;
  double time_s_ = 0;
  double coolant_k_;
  double intake_k_;
  double battery_v_ = 14.0;
  double lambda_read_ = 1;
};

}  // namespace fuelwright::sim
