/// The estimate itself, from witnesses, for whoever needs it: `estimate` and `plan` make it alike.
#pragma once

#include <optional>

#include "advice/dynamic_estimate/dynamic_estimate.h"
#include "physics/ensemble/family.h"
#include "service/estimate_witnesses.h"

namespace fuelwright::service {

struct EstimatedMap {
  advice::MapEstimate map;
  /// Where a recording showed them; none: by steady driving.
  std::optional<advice::DynamicEstimate> dynamic;
  advice::DynamicsPrior dynamics_prior;
};
struct LearnedMap {
  Task task;  ///< with the prior that the map was weighed against
  EstimatedMap by;
  /// Of the engines computed from the parts, where these were believed before driving.
  std::optional<physics::FamilyTest> family;
};
/// With dynamics where a recording shows them, else by steady driving. An engine outside the family
/// of those computed is estimated again with their table as a start only, believed no more than any
/// table made for an engine like it: what lies near the driven places may still follow from them.
LearnedMap learn_map(const Ground& ground, Task task, const Witnesses& witnesses);

/// What the only instrument's own level leaves open, however long one drives, of ln [-].
double shared_sd(const Witnesses& witnesses);

}  // namespace fuelwright::service
