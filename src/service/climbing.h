/// Full throttle as a ladder, over several drives: what was predicted of a step when its table was
/// proposed, kept with the proposal, and how the step then read.
///
///   details["ladder"] = predicted_steps(outlook);         // with the proposal
///   FW_TRY(ground.climbed, climbed(job, ground));         // once a drive has been there
///
/// A step counts where full throttle stood for 0.6 s (the reading is that old), warm, and 0.3 s of
/// readings came at the node; the unit's own correction is taken out, and where the unit aims at
/// another mixture than the table of targets says, the reading is put back to it.
#pragma once

#include <nlohmann/json.hpp>
#include <string>
#include <vector>

#include "advice/outlook/rung.h"
#include "service/estimate_ground.h"

namespace fuelwright::service {

nlohmann::json predicted_steps(const advice::Outlook& outlook);

/// By drive and speed; those before the last "the cause is found" are left out. Errors: damaged.
Result<std::vector<advice::RungCheck>> climbed(const Job& job, const Ground& ground);

/// A refuted step stands no more: its cause is found. For `estimate`; journaled.
Status cause_is_found(Job& job, const Who& who);

/// "Full throttle at 3000 rpm read lambda 0.861, as predicted (0.830 to 0.901)."
std::string says(const advice::RungCheck& check, const advice::Reader& reader);

}  // namespace fuelwright::service
