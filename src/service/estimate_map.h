/// The estimate itself, from witnesses, for whoever needs it: `estimate` and `plan` make it alike.
#pragma once

#include <optional>

#include "advice/dynamic_estimate/dynamic_estimate.h"
#include "service/estimate_witnesses.h"

namespace fuelwright::service {

struct EstimatedMap {
  advice::MapEstimate map;
  /// Where a recording showed them; none: by steady driving.
  std::optional<advice::DynamicEstimate> dynamic;
  advice::DynamicsPrior dynamics_prior;
};
/// With dynamics where a recording shows them, else by steady driving.
EstimatedMap estimate_map(const Ground& ground, const Task& task, const Witnesses& witnesses);

/// What the only instrument's own level leaves open, however long one drives, of ln [-].
double shared_sd(const Witnesses& witnesses);

}  // namespace fuelwright::service
