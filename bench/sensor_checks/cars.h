/// Invented cars for the bench of the sensor checks: what a garage would be asked to look at.
#pragma once

#include <cstdint>
#include <functional>
#include <string>
#include <vector>

#include "advice/sensor_checks/sensor_checks.h"
#include "car/build/sheet.h"
#include "car/fault/fault.h"
#include "car/tables/calibration.h"
#include "signals/recording/recording.h"
#include "sim/virtual_car/truth.h"

namespace fuelwright::bench {

struct GarageCar {
  std::string name;
  car::Sheet sheet;
  sim::virtual_car::Truth truth;
  car::Calibration found;
  std::uint64_t seed = 0;
};

inline constexpr int kGarageKinds = 6;

/// Car of a kind (0..5) with all that is not on its sheet drawn from the seed. Its air is computed
/// once and kept in `folder` ("" for none). The sheet's place is the weather give or take 0.7 kPa.
GarageCar garage_car(int kind, std::uint64_t seed, const std::string& folder);

struct Trip {
  double minutes = 12;
  std::uint64_t road = 1;  ///< of the cycle, the driver and every noise
  bool cold = false;       ///< from the temperature outside; otherwise from 75 degC
  std::vector<car::Fault> faults = {};
  std::function<void(sim::virtual_car::Truth&)> change = {};  ///< of the truth, before driving
};

/// Idle, town, hard accelerations, motorway and braking, drawn from the road's number.
signals::Recording drive(const GarageCar& car, const Trip& trip);

/// What the checks are told.
advice::CheckedCar told(const GarageCar& car);

}  // namespace fuelwright::bench
