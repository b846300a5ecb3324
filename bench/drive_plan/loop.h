/// The loop of a technician with one car: plan, drive it, estimate, load what is proposed, plan
/// again; beside it the same car in ordinary driving.
#pragma once

#include <vector>

#include "bench/full_estimate/compare.h"

namespace fuelwright::bench {

struct Mark {
  double minutes = 0;   ///< driven so far
  double rms = 0;       ///< over 40 minutes of ordinary driving
  double part = 0;      ///< the same, below full throttle and where burnt gas does not spoil it
  double within = 0;    ///< share of it within 3 %
  double said_rms = 0;  ///< before it was driven
  double said_within = 0;
  int steps = 0;
  int cut_short = 0;  ///< steps not driven to their end
  int pulls = 0;      ///< steps at full throttle
};

/// Minutes of the plans, one after another, each made from what the drives before taught.
struct LoopOptions {
  std::vector<double> plans{0.75, 1.0, 1.5, 1.5, 2, 3, 5, 5, 5};
  bool true_sensor = false;  ///< gain 1 and no pressure error, as the material was driven
};
std::vector<Mark> by_plan(const Material& m, const LoopOptions& options);
std::vector<Mark> by_ordinary_driving(const Material& m, const std::vector<double>& minutes);

/// The first minutes from which it (Mark::rms or Mark::part) stays at or below it, between marks by
/// a straight line; none: not reached.
std::optional<double> minutes_to(const std::vector<Mark>& marks, double Mark::*what, double rms);

}  // namespace fuelwright::bench
