/// The ladder of an outlook whose nodes are judged already.
#pragma once

#include "advice/outlook/outlook.h"
#include "advice/proposal/carried.h"

namespace fuelwright::advice::internal {

/// Half-width of 95 %, in standard deviations.
inline constexpr double kTo95 = 1.959964;

/// Load share of a row of the table.
double share_of_row(const car::Grid& grid, std::size_t iy, const car::Sheet& sheet);

Ladder climb(const Outlook& judged, const Carried& known, const car::Sheet& sheet);

}  // namespace fuelwright::advice::internal
