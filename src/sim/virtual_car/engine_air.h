/// Air of a virtual car's engine: every cylinder computed, with parts that differ from the sheet's
/// within their tolerances, and a smooth error that no model of the engine contains.
#pragma once

#include <cstdint>
#include <functional>

#include "base/result.h"
#include "sim/virtual_car/truth.h"

namespace fuelwright::sim::virtual_car {

struct AirOptions {
  double model_error = 0.02;  ///< one standard deviation of ln VE beside the flow model [-]
  int speeds = 30;            ///< of the table, 4..60
  int pressures = 18;         ///< 4..40
  int threads = 1;
  std::function<void(double share)> progress = {};  ///< 0..1, from any thread
};

/// Fills truth.air's tables and their reference state (the sheet's place): whole-engine gas
/// exchange at every place, each part drawn within its tolerance, times e^(smooth error)
/// (virtual_car.4). Takes seconds to a minute. Where the engine misfires from dilution the nearest
/// load above that burns sets the level. Errors: those of physics::engine_model().
Status give_air(Truth& truth, const car::Sheet& sheet, std::uint64_t seed,
                const AirOptions& options = {});

}  // namespace fuelwright::sim::virtual_car
