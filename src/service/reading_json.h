/// How a recording was read, as the job keeps it: the user's answers, the revision that was in
/// the car, and what the unit had learned over it.
#pragma once

#include <optional>
#include <string>

#include "base/result.h"
#include "car/tables/surface.h"
#include "signals/recording/recording.h"

namespace fuelwright::service {

struct HowRead {
  signals::Answers answers;
  std::optional<int> driven_with;  ///< revision in the unit while it was driven; none: not known
  /// Factors over its VE table that the unit had learned by itself and was driven with; none: it
  /// had none, as far as is known.
  std::optional<car::Surface> learned = {};
};

std::string json_text(const HowRead& how);
/// Errors: damaged if it is not what json_text() writes.
Result<HowRead> read_how(const std::string& json, const std::string& where);

}  // namespace fuelwright::service
