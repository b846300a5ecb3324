/// Where a plan may go: high load only where the mixture there was predicted and found safe.
#pragma once

#include "advice/drive_plan/drive_plan.h"

namespace fuelwright::advice::internal {

class Allowed {
 public:
  explicit Allowed(const PlanInput& input) : input_(input) {}
  /// `ladder`: the place belongs to a step of the ladder that may be tried.
  bool at(EngineSpeed n, AbsolutePressure p, bool ladder = false) const;
  double share(AbsolutePressure p) const;
  bool high(AbsolutePressure p) const { return share(p) >= kHighLoad; }

  static constexpr double kHighLoad = 0.80;  // as SafeLimit::high_load
  static constexpr double kTouches = 0.20;   // a node's share from which it counts

 private:
  const PlanInput& input_;
};

}  // namespace fuelwright::advice::internal
