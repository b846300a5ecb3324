/// A table that came, laid on a table that is there: whole, in part, or from other axes.
///
/// A breakpoint that came is one of the table's if it lies nearer than 2 % of the way to the next
/// one: spreadsheets show rounded numbers. If every breakpoint is one of the table's, values go to
/// their nodes as they are. If not, the nodes within the axes that came take the value between the
/// nodes that came (tables.1), which loses the corners that fall between; that is done only when
/// asked for. Nodes outside the axes that came keep their value: nothing is extrapolated.
/// Theory: docs/theory/tables.md.
#pragma once

#include <optional>
#include <vector>

#include "car/tables/surface.h"

namespace fuelwright::car {

/// The breakpoint that x_si means; nullopt if it is none of the axis.
std::optional<std::size_t> breakpoint_at(const Axis& axis, double x_si);

enum class AxesThatCame {
  same,   ///< the table's own
  part,   ///< some of the table's own
  other,  ///< other ones: interpolated
};

struct Placed {
  Surface surface;  ///< on the table's own axes
  AxesThatCame axes = AxesThatCame::same;
  std::vector<int> nodes;    ///< those that took a value, in increasing order
  double largest_loss = 0;   ///< max |surface(a node that came) - its value| (tables.2)
  double largest_shift = 0;  ///< how far, as a share of the way to the next breakpoint, 0..0.02
};

/// Errors: bad_input if the axes are of other kinds; needs_answer if the axes are other ones and
/// `interpolate` is false, saying what interpolation would lose (`percent`: in % of 1);
/// out_of_range if no node lies within the axes that came.
Result<Placed> place(const Surface& came, const Surface& onto, bool interpolate, bool percent);

}  // namespace fuelwright::car
