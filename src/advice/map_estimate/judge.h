/// What an estimate is worth: the mark of a node and the verdict on the whole, the same for the
/// static and the dynamic form.
///
///   measured    driven for 2 s or more, and sure to 2.2 % (one standard deviation of ln)
///   inferred    sure to 3.6 % through its neighbours
///   prior only  neither
///
/// The limits are choices of ours, made on cars of an earlier, simpler simulator.
#pragma once

#include "advice/map_estimate/estimate.h"
#include "base/units/quantity.h"

namespace fuelwright::advice {

/// A node that is less sure than this is "prior only": a guess. One standard deviation of ln [-].
inline constexpr double kGuess_sd = 0.036;

/// driven: time that taught this node, by its share in it; sd_log with the discrepancy in it [-].
car::NodeMark mark_of(Duration driven, double sd_log);
/// Verdict and reason from the marks, samples and seconds that stand in `out`.
void judge(MapEstimate& out);

}  // namespace fuelwright::advice
