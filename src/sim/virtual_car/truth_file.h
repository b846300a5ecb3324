/// The truth as a TOML text, complete, with its unit in every key; and back, by hand or not.
///
///   FW_TRY(Truth truth, truth_in("[film]\nfast_share = 0.3\n", "car.toml", sheet, seed));
///   const std::string text = truth_out(truth);
///
/// What a text does not say is drawn from the seed about the sheet, each key from a stream of its
/// own: stating one leaves all others as they were. docs/theory/virtual_car.md lists the sections.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>

#include "base/result.h"
#include "sim/virtual_car/truth.h"

namespace fuelwright::sim::virtual_car {

/// `file_name` is for messages only. The air stays without tables unless the text has them (all of
/// speed_rpm, map_kpa, ve and residual, and the reference state): see give_air().
///
/// Errors, one line with file, line and key: bad_input (no TOML, unknown section or key, a value
/// that is no number, tables whose sizes do not fit), out_of_range with the limits, too_large
/// (above 1 MiB).
Result<Truth> truth_in(std::string_view toml_text, std::string_view file_name,
                       const car::Sheet& sheet, std::uint64_t seed);
/// truth_in() of it gives the same truth to the last bit, whatever the sheet and the seed.
std::string truth_out(const Truth& truth);
/// A car of the sheet with all that is not on it drawn from the seed; without air tables.
Truth drawn_truth(const car::Sheet& sheet, std::uint64_t seed);

}  // namespace fuelwright::sim::virtual_car
