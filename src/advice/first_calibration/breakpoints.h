/// Breakpoints for a table of a given size that lose least between nodes where the car is driven.
///
///   loss^2 = sum w (f_table/f - 1)^2 / sum w                                           (first.1)
///
/// over the nodes of a fine surface f, w how much the car is driven there. The best knots of a
/// piecewise linear function are found exactly by dynamic programming, along x and along y; their
/// product is the grid. Source: segmented least squares (Bellman; from memory).
#pragma once

#include <optional>
#include <vector>

#include "car/tables/surface.h"

namespace fuelwright::advice {

/// The best `count` of `points`, first and last among them, for all rows at once: their indices.
/// `rows[r][i]` is the value at points[i], `weights` the same. `must`: indices that are kept.
/// 2 <= count; if there are no more points than that, all are taken.
std::vector<std::size_t> best_knots(const std::vector<double>& points,
                                    const std::vector<std::vector<double>>& rows,
                                    const std::vector<std::vector<double>>& weights,
                                    std::size_t count, const std::vector<std::size_t>& must);

struct ProposedAxes {
  car::Grid grid;
  double loss = 0;          ///< (first.1) of the proposed axes [-]
  double present_loss = 0;  ///< of the present ones
  double worst = 0;         ///< largest |f_table/f - 1| where the car is driven (w above 0.2)
  double present_worst = 0;
};

/// `weights`: one per node of `fine`, 0 or more, not all 0. `idle`: the fine nodes next to it are
/// kept on both axes. Values of `fine` must be above 0.
ProposedAxes propose_breakpoints(const car::Surface& fine, const std::vector<double>& weights,
                                 const car::Grid& present,
                                 std::optional<std::pair<double, double>> idle_si);

}  // namespace fuelwright::advice
