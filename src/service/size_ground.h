/// What a size stands on: the sheet with what was measured since, the engines, a recorded pull.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "service/job/job.h"
#include "service/size.h"
#include "signals/recording/recording.h"

namespace fuelwright::service {

/// The values kept in the job, with these in their place or beside them; journaled where anything
/// changes. Errors: damaged if what is kept cannot be read.
Result<std::vector<MeasuredValue>> keep_measured(Job& job, const SizeRequest& request);
/// Those kept. Errors: damaged.
Result<std::vector<MeasuredValue>> kept_measured(const Job& job);

/// The sheet as it would be if its section [supply] said these. Errors: not_found for a key that is
/// not there, naming the nearest; those of car::read_sheet().
Result<car::Sheet> with_measured(const car::Sheet& sheet, const std::vector<MeasuredValue>& values);

/// The pull at full throttle in a recording that spans most of the speeds, with its rail pressure;
/// none: rail pressure, speed or load was not recorded, or 500 rpm are not spanned.
std::optional<physics::supply::RailTrace> rail_trace_of(const signals::Recording& recording,
                                                        const car::Sheet& sheet);

/// The newest pull at full throttle in which rail pressure was recorded; none if there is none.
struct Pull {
  physics::supply::RailTrace trace;
  PullUsed used;
};
Result<std::optional<Pull>> recorded_pull(const Job& job, const car::Sheet& sheet);

}  // namespace fuelwright::service
