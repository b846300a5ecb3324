/// Drawn engines and suspects as bytes and back, so that a job keeps what took seconds to compute.
///
///   const std::string bytes = to_bytes(drawn);
///   FW_TRY(const Drawn again, drawn_from_bytes(bytes));      // every number to the float it was
///   computed in
///
/// Little-endian, numbers of maps as 32-bit floats (what the flow is computed in), the rest as it
/// is; a version in front, a checksum behind.
#pragma once

#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "physics/ensemble/drawing.h"
#include "physics/ensemble/ensemble.h"

namespace fuelwright::physics {

std::string to_bytes(const Drawn& drawn);
/// Errors: damaged (too short, not an ensemble, checksum or sizes that do not fit); newer_version.
Result<Drawn> drawn_from_bytes(std::string_view bytes);

/// Suspects of one sheet, all over the same nodes; changes as 32-bit floats.
std::string to_bytes(std::span<const Suspect> suspects);
/// `nodes`: of the places that they were drawn for. Errors: as above.
Result<std::vector<Suspect>> suspects_from_bytes(std::string_view bytes, std::size_t nodes);

}  // namespace fuelwright::physics
