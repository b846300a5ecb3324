/// A grid of a table for the terminal: engine speed along the top, load down the side, high load on
/// top as on paper.
#pragma once

#include <functional>
#include <string>

#include "base/units/number.h"
#include "car/tables/surface.h"

namespace fuelwright::service {

/// One line per load. `cell(ix, iy)` says what stands at a node; columns are as wide as the longest
/// of them.
std::string grid_text(const car::Grid& grid, UnitSystem units,
                      const std::function<std::string(std::size_t, std::size_t)>& cell);

}  // namespace fuelwright::service
