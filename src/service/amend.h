/// A table amended by hand, node by node.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "base/result.h"
#include "base/units/number.h"
#include "car/tables/difference.h"

namespace fuelwright::service {

struct NodeValue {
  std::size_t ix = 0, iy = 0;
  double value = 0;
};

struct AmendRequest {
  std::string job;
  car::TableWhat table = car::TableWhat::ve;
  std::optional<std::vector<double>> values;  ///< of all nodes, [y][x]; else `nodes`
  std::vector<NodeValue> nodes;
  int seen = 0;  ///< the revision that was looked at
  bool dry_run = false;
  std::string why;  ///< for the journal; needed unless dry_run
  std::string who, when;
};
/// A node that is set beyond what driving allows there.
struct BeyondEvidence {
  std::size_t ix = 0, iy = 0;
  double leaner = 0;  ///< by how much it would run lean, a share; negative: rich
  std::string says;
};
struct AmendReply {
  std::string sentence;
  UnitSystem units = UnitSystem::metric;
  int parent = 0;
  std::optional<int> revision;  ///< none: a dry run, or nothing changes
  std::vector<car::TableDifference> tables;
  /// Changed nodes outside the 95 % interval of the evidence, where there is one about this table
  /// on its axes and the node is no mere guess; those that would run lean first, the worst of them
  /// first.
  std::vector<BeyondEvidence> mind = {};
};
/// The change becomes a new revision, in force. Errors: not_found for a table or a node that is not
/// there; out_of_range naming the node; usage without a reason; conflict if `seen` is not in force.
Result<AmendReply> amend(const AmendRequest& request);

}  // namespace fuelwright::service
