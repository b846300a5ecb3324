/// MDF 4 reader: the bytes of an ASAM MDF 4 file become a table for the recogniser.
///
/// Every channel with numbers becomes a column, converted as the file says, with its unit, NaN for
/// invalid samples. Groups of different rates share one time base: the union of their time stamps,
/// each row one stamp, NaN where a group has no sample of that very time. Nothing is interpolated.
#pragma once

#include <cstddef>
#include <string_view>

#include "base/result.h"
#include "signals/recording/internal/scan.h"

namespace fuelwright::signals {

/// By the identification bytes "MDF     " or "UnFinMF ", of any version.
bool looks_like_mdf(std::string_view bytes);

inline constexpr std::size_t kMostMdfRows = std::size_t{1} << 26U;
/// Rows times columns: at most kMostMdfCells, and at most kLeastMdfCells + kMdfCellsPerByte for
/// each byte of the file, so that a small file cannot ask for much memory.
inline constexpr std::size_t kMostMdfCells = std::size_t{1} << 28U;
inline constexpr std::size_t kLeastMdfCells = std::size_t{1} << 22U;
inline constexpr std::size_t kMdfCellsPerByte = 64;

/// Errors: bad_input naming the byte (damaged, cut short, not version 4, nothing to read),
/// too_large (beyond the bounds above or those of internal/mdf4_data.h).
Result<CsvTable> read_mdf4(std::string_view bytes, std::string_view name);

}  // namespace fuelwright::signals
