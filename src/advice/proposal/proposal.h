/// From the estimate to the table that is proposed: uncertainty is paid for in fuel.
///
///   FW_TRY(const car::Surface aim, target_mixture(calibration, sheet, table.grid));
///   FW_TRY(const ProposedTable p, propose(estimate, &table, aim, {}));
///   for (const std::string& line : words(p, {units, scale})) ...
///
/// wanted = ln(estimate / in force). What is made of it, node by node:
///
///   rho   = 1 where measured, else min(1, learned / enough_learned)                  (proposal.5)
///   made  = rho wanted                              richer                           (proposal.6)
///   made  = rho min(0, wanted + z sd)               leaner, as far as it is proven   (proposal.7)
///   ln v >= ln estimate + z_c sd - ln(limit / aim)  at high load                     (proposal.8)
///
/// z: lean_proof, z_c: 1 - lean_chance of the normal distribution; sd: of ln(true), discrepancy
/// included. (proposal.8) is P(lambda > limit) <= lean_chance, with lambda = aim true / v. At high
/// load a node that was not measured never goes leaner. The table keeps its axes; values stand in
/// the unit's steps, rounded to the rich side. Theory: docs/theory/proposal.md.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "advice/map_estimate/estimate.h"
#include "advice/proposal/safe_limit.h"
#include "base/units/number.h"

namespace fuelwright::advice {

/// What the engine computer can hold.
struct UnitLimits {
  std::optional<double> lowest;   ///< of a cell, in the table's own quantity; car::limits_of()
  std::optional<double> highest;  ///< else
  double step = 0.001;            ///< 0.1 % of VE; above 0, at most 0.05
  std::size_t most_columns = car::kMaxBreakpoints;
  std::size_t most_rows = car::kMaxBreakpoints;
};

struct ProposalOptions {
  SafeLimit safe;
  /// That a node at high load is leaner than the safe limit. 0.0005 to 0.05.
  double lean_chance = 0.01;
  /// How sure a leaner move must be. 0.80 to 0.999.
  double lean_proof = 0.95;
  /// Share of the prior's variance that driving must take away for a node to move whole: at 0.75
  /// the standard deviation has halved. 0.10 to 1.
  double enough_learned = 0.75;
  /// No node moves by more than this share in one revision. 0.02 to 0.50.
  double most_change = 0.25;
  AbsolutePressure ambient = absolute(101.325 * kPa);
  /// False for an engine outside the family its prior was made for: nodes that are guesses stay.
  bool may_extrapolate = true;
  UnitLimits unit;
};
/// Error out_of_range naming what lies outside its bounds, what came and what was expected.
Status validate(const ProposalOptions& options, car::TableWhat what);

enum class Why {
  unchanged,
  richer,  ///< the driving says so
  leaner,  ///< the driving proves it
  margin,  ///< kept rich at high load because it is not sure enough
};

/// What kept a node from moving as it wanted.
enum class Held {
  no,
  not_proven,    ///< leaner: not sure enough yet
  not_driven,    ///< leaner at high load: never without having been driven there
  thin,          ///< richer: little is known, so the change shrinks
  margin,        ///< the safe limit at high load keeps it richer than its estimate
  most_change,   ///< more than one revision may move
  unit_range,    ///< beyond what the unit can hold
  not_believed,  ///< outside the family, or outside the estimate's axes
  guarded,       ///< leaner: the guard fired there
};

struct NodeChange {
  double wanted = 0;  ///< ln(estimate / in force); 0 without a table in force
  double made = 0;    ///< ln(proposed / in force); against the estimate without one
  double sd = 0;      ///< of ln(true)
  double margin = 0;  ///< ln by which (proposal.8) asks for more than the estimate; 0: not at all
  Why why = Why::unchanged;
  Held held = Held::no;
  /// Chance that the mixture is leaner than the safe limit with the proposed value; none below high
  /// load, or where the estimate is not believed.
  std::optional<double> lean_chance;
};

struct ProposedTable {
  car::TableWhat what = car::TableWhat::ve;
  car::Surface surface;
  bool first = false;             ///< there was no table in force
  std::vector<NodeChange> nodes;  ///< [y][x]
  ProposalOptions options;        ///< as used
  int richer = 0;                 ///< nodes that rise by more than 1 %
  int leaner = 0;                 ///< nodes that fall by more than 1 %
  int held_back = 0;              ///< nodes whose leaner move was cut short by more than 1 %
  int cut = 0;                    ///< nodes that would move by more than most_change
  int kept_rich = 0;              ///< nodes that stand richer than their estimate by (proposal.8)
  int unsafe = 0;          ///< nodes at high load whose lean_chance stays above what was asked for
  int lean_targets = 0;    ///< nodes at high load whose target itself is leaner than the safe limit
  double most_richer = 0;  ///< largest rise, share
  double most_leaner = 0;  ///< largest fall, share, positive
};

/// `in_force`: the table in the unit, none for a first one (then the estimate itself is proposed,
/// with its margin). `aim`: the mixture the unit aims at [lambda], on any axes of the same kinds.
/// Errors: those of validate(); bad_input if axes are of other kinds; out_of_range if the unit
/// cannot hold so many nodes, or the aim is no mixture. `estimate` is of a VE or correction table
/// and complete; values in force are above 0 (broken contracts otherwise).
Result<ProposedTable> propose(const MapEstimate& estimate, const car::Surface* in_force,
                              const car::Surface& aim, const ProposalOptions& options);

/// How a person reads: units, and the scale of the mixture gauge (lambda is always said).
struct Reader {
  UnitSystem units = UnitSystem::metric;
  car::MixtureScale scale;
};

/// One sentence without places, for a journal or a list.
std::string reason(const ProposedTable& proposed);
/// What was changed and why, what was held back and what would release it, and what to do with it.
std::vector<std::string> words(const ProposedTable& proposed, const Reader& reader);

}  // namespace fuelwright::advice
