/// What the true engine of an invented car breathes: every cylinder computed, with parts that
/// differ from the sheet within their tolerances, and a smooth error that no model of it contains.
#pragma once

#include <cstdint>

#include "base/result.h"
#include "car/build/sheet.h"
#include "sim/road_drive/truth.h"

namespace fuelwright::sim {

struct EngineAirOptions {
  double model_error =
      0.02;  ///< one standard deviation of ln VE that the flow model is made wrong by [-]
  int threads = 1;
};

/// True VE over speed and manifold pressure, finer than any unit's table, for truth.surroundings
/// (referred to the charge temperature there, as true_ve() is). Takes seconds. Errors: those of
/// engine_model().
Result<car::Surface> engine_air(const car::Sheet& sheet, const Truth& truth, std::uint64_t seed,
                                const EngineAirOptions& options = {});

}  // namespace fuelwright::sim
