/// Each step of full throttle is itself a test: did it come out as it was predicted?
///
///   FW_TRY(const RungCheck c, check_rung(before, node, read, 0.01));   // `before`: predicted it
///   if (c.refuted()) ...                            // stop: what the steps above stand on is
///   wrong
///
/// With the reading's own standard deviation r beside that of the prediction, sd,
///
///   rich end = middle exp(-2.58 sqrt(sd^2 + r^2))
///   lean end = middle exp(2.58 sqrt(sd^2 + r^2) + a),   a as in (outlook.5)           (ladder.3)
///
/// Light load cannot show what acts at full throttle alone (fuel delivery, an exhaust that is
/// blocked for large flows only, a flap): only this does. 99 % and not 95: there are ten steps to
/// a climb, and a third of the engines that are what their sheet says miss one of ten intervals of
/// 95 %. Lifting (ladder.2) does not wait for it.
#pragma once

#include "advice/outlook/outlook.h"

namespace fuelwright::advice {

/// Errors: bad_input if nothing was predicted at the node, or it was driven already; out_of_range
/// for a reading outside lambda 0.4 to 4 or a sd outside 0.001 to 0.2. The node must be of the
/// grid.
Result<RungCheck> check_rung(const Outlook& before, std::size_t node, car::Lambda read,
                             double reading_sd);

}  // namespace fuelwright::advice
