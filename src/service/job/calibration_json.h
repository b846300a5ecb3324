/// Calibrations and evidence as JSON: axes with their kind and SI points, values row-major [y][x]
/// as in car::Surface.
///
///   {"tables": {"ve": {"x": {"kind": "engine_speed", "points": [800.0, 1200.0]},
///                      "y": {"kind": "map_absolute", "points": [30000.0]},
///                      "values": [0.55, 0.58]}},
///    "curves": {"idle_speed": {"points": [253.0, 363.0], "values": [1300.0, 950.0]}},
///    "settings": {"hard_rev_limit": 6400.0},
///    "origins": {"ve": {"reason": "...", "half_width": [0.05, 0.06]}}}
///   {"what": "ve", "x": ..., "y": ..., "estimate": [...], "sd_log": [...], "seconds": [...],
///   "mark": ["measured", ...]}
///
/// Units as in car/tables: rpm, Pa, 0..1 of throttle, values as fractions of 1, seconds. Every
/// double reads back to the same double. Curves, settings and origins stand only where there are
/// any: a calibration of tables alone is written, and reads, as it always did.
#pragma once

#include <nlohmann/json_fwd.hpp>

#include "base/result.h"
#include "car/tables/calibration.h"
#include "car/tables/evidence.h"

namespace fuelwright::service {

nlohmann::json json_of(const car::Calibration& calibration);
nlohmann::json json_of(const car::Evidence& evidence);

/// Errors: bad_input naming what is missing or of the wrong kind; out_of_range for axes or values
/// that cannot be.
Result<car::Calibration> calibration_from(const nlohmann::json& json);
Result<car::Evidence> evidence_from(const nlohmann::json& json);
/// The same from text; bad_input if it is not JSON.
Result<car::Calibration> read_calibration(std::string_view text);
Result<car::Evidence> read_evidence(std::string_view text);

/// out_of_range naming the node if an array has not one value per node, an estimate is not a
/// positive number, or a standard deviation or a time is not zero or more.
Status validate(const car::Evidence& evidence);

}  // namespace fuelwright::service
