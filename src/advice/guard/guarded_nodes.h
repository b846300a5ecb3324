/// The nodes of a table that no revision may lean, because the guard fired there.
///
///   for (const GuardedPlaces& p : guarded_places(report, recording, rules, table.grid, ambient)) {
///     keep_from_leaning(proposed, in_force, p.nodes);
///   }
///
/// Only rules about mixture, fuel and knock forbid it: hot coolant or a low battery says nothing
/// about a cell. Theory: docs/theory/guard.md.
#pragma once

#include <vector>

#include "advice/guard/guard_recording.h"
#include "car/tables/surface.h"

namespace fuelwright::advice {

/// Lean under load, knock, fuel pressure below demand, duty.
bool forbids_leaning(RuleKind rule);

/// Where one recording broke one such rule.
struct GuardedPlaces {
  RuleKind rule = RuleKind::lean_under_load;
  std::vector<bool> nodes;  ///< one a node: the table was looked up there
  Duration first{};         ///< when the first of its firings began
  int firings = 0;
  EngineSpeed slowest, fastest;      ///< of the moments
  AbsolutePressure lowest, highest;  ///< of the moments; 0 if no manifold pressure is recorded
};
/// One entry a rule that fired. Moments count from the beginning to the end of a firing; for the
/// mixture from Rule::settled before it, the age of its reading. The axes must not be of throttle
/// unless throttle is recorded: then no node is marked.
std::vector<GuardedPlaces> guarded_places(const GuardReport& report,
                                          const signals::Recording& recording, const Rules& rules,
                                          const car::Grid& grid, AbsolutePressure ambient);

/// Seconds that a recording spent at each node while that rule could have fired; all 0 if it could
/// not (what it watches is not recorded).
std::vector<double> seconds_watched(RuleKind rule, const signals::Recording& recording,
                                    const Rules& rules, const car::Grid& grid,
                                    AbsolutePressure ambient);

/// Where `guarded`, a proposal that needs less fuel than the table in force is put back to it.
/// Returns the number of nodes changed. Tables of fuel (VE, correction): more is richer.
int keep_from_leaning(car::Surface& proposed, const car::Surface& in_force,
                      const std::vector<bool>& guarded);

}  // namespace fuelwright::advice
