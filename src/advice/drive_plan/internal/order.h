/// The order of a drive, and the time it takes.
#pragma once

#include <vector>

#include "advice/drive_plan/internal/candidates.h"

namespace fuelwright::advice::internal {

/// Idle first (everything is warm and still), then light load, moderate load, coasting, high load,
/// full throttle from the lowest step up; within each the nearest speed and gear next, of those
/// alike the higher engine speed.
std::vector<const Candidate*> in_order(const std::vector<const Candidate*>& picked, bool dyno);

/// The steps with their change-overs, and whether the gear is another.
std::vector<PlannedStep> timed(const std::vector<const Candidate*>& ordered, bool dyno);
Duration time_of(const std::vector<PlannedStep>& steps);

}  // namespace fuelwright::advice::internal
