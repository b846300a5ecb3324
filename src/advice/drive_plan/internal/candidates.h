/// What a driver can do on this road with this car, and the places that each of it visits.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "advice/drive_plan/drive_plan.h"

namespace fuelwright::advice::internal {

struct Candidate {
  PlannedStep planned;
  std::vector<Visit> visits;
  int after = -1;  ///< a step of the ladder: that candidate must be driven before; -1: none
};

struct Candidates {
  std::vector<Candidate> all;
  std::vector<std::string> left_out;  ///< kinds that are not there, and why
};
Candidates candidates_of(const PlanInput& input, const PlanOptions& options);

/// Seconds from the end of one step to the beginning of another: to gain or lose speed, to change
/// gear, to be told what comes next and to settle.
Duration change_over(const PlannedStep* from, const PlannedStep& to, bool dyno);

}  // namespace fuelwright::advice::internal
