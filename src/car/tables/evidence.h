/// Evidence: what driving has shown about each node of a table, and how sure it is.
#pragma once

#include <string>
#include <vector>

#include "car/tables/calibration.h"

namespace fuelwright::car {

enum class NodeMark {
  measured,    ///< driven there itself: enough effective seconds, and sure enough
  inferred,    ///< known from its neighbours through the smooth prior
  prior_only,  ///< a guess: nothing driven says more than was known before
};
/// "measured", "inferred", "prior only".
const char* name_of(NodeMark mark);

/// Arrays run over the grid's nodes, [y][x] row-major.
struct Evidence {
  TableWhat what = TableWhat::ve;
  Grid grid;
  std::vector<double> estimate;  ///< the table's own quantity (VE, correction) [-]
  std::vector<double> sd_log;    ///< standard deviation of ln(estimate) [-]: 0.02 is 2 %
  std::vector<double> seconds;   ///< effective seconds of driving behind the node
  std::vector<NodeMark> mark;

  /// Half-width of the 95 % interval at a node, as a share of the estimate.
  double half_width(std::size_t node) const { return 1.959964 * sd_log[node]; }
};

/// How a table that stands on `grid` came about by driving: the reason, and the evidence's
/// half-widths if it is on the same grid.
Origin origin_of(const Evidence& evidence, const Grid& grid, std::string reason);

/// The next revision the evidence supports, not yet accepted.
struct Proposal {
  int parent = 0;           ///< the revision it would replace
  Calibration calibration;  ///< complete, with the proposed table in it
  Evidence evidence;        ///< of the table that changes
  std::string reason;       ///< what changed and why, in words
};

}  // namespace fuelwright::car
