/// The calibration a virtual car came with: of a canned sort, wrong by a smooth error.
#pragma once

#include <cstdint>

#include "car/build/sheet.h"
#include "car/tables/calibration.h"
#include "sim/virtual_car/truth.h"

namespace fuelwright::sim::virtual_car {

/// VE on the sheet's axes: the truth times e^(a level, a tilt and long waves) with an rms drawn
/// from 5..15 % over the nodes, rounded to 0.001; on a throttle axis referred to ambient pressure.
/// Mixture targets of the sheet's wishes and a spark table beside it; everything else is left to
/// the unit's habits. Needs truth.has_air() (a broken contract otherwise).
car::Calibration calibration_as_found(const Truth& truth, const car::Sheet& sheet,
                                      std::uint64_t seed);

/// VE that a table with this load axis must hold for this car, without any error in the injectors:
/// what a perfect table would say. For a throttle axis the pressure that the opening gives is found
/// first.
car::Surface true_table(const Truth& truth, const car::Grid& grid);

}  // namespace fuelwright::sim::virtual_car
