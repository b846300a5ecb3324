/// How a recording was read, as the job keeps it: the user's answers and the revision that was in
/// the car.
#pragma once

#include <optional>
#include <string>

#include "base/result.h"
#include "signals/recording/recording.h"

namespace fuelwright::service {

struct HowRead {
  signals::Answers answers;
  std::optional<int> driven_with;  ///< revision in the unit while it was driven; none: not known
};

std::string json_text(const HowRead& how);
/// Errors: damaged if it is not what json_text() writes.
Result<HowRead> read_how(const std::string& json, const std::string& where);

}  // namespace fuelwright::service
