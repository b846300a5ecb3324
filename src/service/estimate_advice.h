/// What follows from an estimate: the table to load next, what to expect where the car was not
/// driven yet, and whether more driving would help.
#pragma once

#include <optional>

#include "physics/ensemble/condition.h"
#include "service/estimate_witnesses.h"
#include "service/service.h"

namespace fuelwright::service {

/// Error out_of_range, naming the option, its bounds and what came.
Status check(const EstimateRequest& request);

/// Fills proposed, reason, change, outlook and stopping of the reply. `in_force`: the table that is
/// compared with. Errors: out_of_range for options outside their bounds; those of propose() and
/// look_ahead().
Status advise(const Ground& ground, const Task& task, const Witnesses& witnesses,
              const advice::MapEstimate& estimate, const std::optional<physics::FamilyTest>& family,
              const EstimateRequest& request, EstimateReply& reply);

}  // namespace fuelwright::service
