/// From the estimate to the table that is proposed: uncertainty is paid for in fuel.
///
/// change = ln(estimate / table in force). Richer moves are taken whole. Leaner moves only as far
/// as they are proven:
///
///   change' = min(0, change + z sd),  z = 1.645 (19 of 20) (proposal.1)
///
/// and not at all at high load (80 % and above) unless the node is measured. Values are rounded to
/// the step of the unit, upwards (rich). Without a table in force (a first VE table) the estimate
/// itself is proposed. Theory: docs/theory/map_estimate.md.
#pragma once

#include <string>

#include "advice/map_estimate/estimate.h"

namespace fuelwright::advice {

struct ProposalOptions {
  double proof_z = 1.645;     ///< how sure a leaner move must be, in standard deviations
  double high_load = 0.80;    ///< load coordinate from which only measured nodes may go leaner
  double most_change = 0.25;  ///< no node moves by more than this share in one revision
  double step = 0.001;        ///< of the unit's table: 0.1 % of VE
};

struct ProposedTable {
  car::Surface surface;
  int richer = 0;          ///< nodes that rise by more than 1 %
  int leaner = 0;          ///< nodes that fall by more than 1 %
  int held_back = 0;       ///< nodes whose leaner move was cut short by more than 1 %
  int cut = 0;             ///< nodes that would move by more than most_change
  double most_richer = 0;  ///< largest rise, share
  double most_leaner = 0;  ///< largest fall, share, positive
  std::string reason;      ///< in words
};

ProposedTable propose(const MapEstimate& estimate, const car::Surface* in_force,
                      const ProposalOptions& options = {});

}  // namespace fuelwright::advice
