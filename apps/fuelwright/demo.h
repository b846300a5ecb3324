/// The built-in example: an invented V8, the sheet of examples/street_v8.toml, what is true of it,
/// examples/street_v8_truth.toml, and the roads it is driven on, those of examples/cycles.
#pragma once

namespace fuelwright::apps {

/// The text of the sheet.
const char* demo_sheet();

/// The text of the truth: one car that the sheet's tolerances allow, drawn by `fuelwright car` with
/// seed 1 and its air computed, so that it need not be computed again.
const char* demo_truth();

enum class DemoCycle { town, country, motorway, brisk, ring };
/// The text of the cycle.
const char* demo_cycle(DemoCycle cycle);

}  // namespace fuelwright::apps
