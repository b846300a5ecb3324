/// What happened in the demo, and how it is told at its end.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "demo_car.h"
#include "service/check.h"
#include "service/service.h"

namespace fuelwright::apps {

/// What the plan said before it was driven, and what came.
struct SaidAndCame {
  double good = 0;                   ///< what "within" means, share
  double minutes = 0;                ///< of the plan
  std::size_t steps = 0;             ///< of the plan
  std::vector<int> cut_short;        ///< of its steps
  Apart before;                      ///< the estimate before it was driven, by the truth
  double said_sd = 0, said_within = 0;
  Apart came;                        ///< the estimate after it, by the truth
};

struct Story {
  int first_revision = 0;   ///< in the unit during the first drive
  std::string begins_with;  ///< "the computed table"
  DemoDrive ordinary, planned;
  std::optional<car::Evidence> before_plan;  ///< what was known when it was made
  SaidAndCame plan;
  DemoDrive use_before, use_after;  ///< the owner's roads with the first revision and the last
  Off new_road_before, new_road_after;
  service::EstimateReply last;
  service::PlanReply next;  ///< what would be driven then
  std::string table;        ///< where it was written
};

/// One line, then those that are no "fine".
std::string in_short(const service::CheckReply& check);
/// What was planned, and how far it was followed.
std::string followed(const SaidAndCame& plan);
std::string before_and_after(const Story& story, const Road& use, const Road& fresh);
std::string story_json(const Story& story);

}  // namespace fuelwright::apps
