/// What measuring is worth, for a sheet as it stands: from its own ensemble, or, while that is not
/// drawn yet, from the ensemble of the sheet before it, moved to first order:
///
///   ln VE_i' = ln VE_i + sum_k J_k (z_ik (r_k - 1) + d_k),   J_k' = r_k J_k         (ensemble.14)
///
/// r_k: half-width of part k now over what it was; d_k: its change in standard deviations of then.
/// Parts are the sheet's keys by their names ("engine.compression"); what no part stands for (a
/// count, a choice) cannot be moved so, and is said. Theory: docs/theory/ensemble.md.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "base/result.h"
#include "car/build/sheet.h"
#include "physics/ensemble/ensemble.h"
#include "physics/ensemble/what_to_measure.h"
#include "service/job/job.h"
#include "service/sheets.h"

namespace fuelwright::service {

/// Engines that could be this one, of the sheet as it stands or moved to it.
struct EnginesNow {
  std::optional<physics::Ensemble> engines;  ///< none: nothing was ever drawn
  WorthOf of = WorthOf::none;
  std::string says;
};
/// Errors: damaged.
Result<EnginesNow> engines_now(const Job& job, const car::Sheet& sheet);

struct WorthNow {
  std::vector<physics::Worth> worth;
  WorthOf of = WorthOf::none;
  std::string says;
};
/// Errors: damaged.
Result<WorthNow> worth_now(const Job& job, const car::Sheet& sheet);

/// Before the sheet is changed from `old`: it is remembered, if an ensemble of it is kept.
Status keep_for_worth(Job& job, const std::string& old, const By& by);

}  // namespace fuelwright::service
