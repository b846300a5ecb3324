/// Plans as files, in TOML or JSON: the same names and the same numbers with units in both.
///
///   format = "fuelwright plan 1"
///   [[steps]]
///   kind = "sweep"            # idle, hold, sweep or coast
///   gear = 3
///   from = "2000 rpm"
///   until = "4500 rpm"
///   pressure = "60 kPa"       # left out: full throttle, which rises; of a hold: as the road asks
///
///   FW_TRY(const Plan plan, read_plan(text, "evening.toml"));
///   write_plan(plan);         // TOML, which read_plan() takes back to the last bit
///
/// idle has `time`; hold has `gear`, `speed`, `time` and, on a dyno, `pressure`; sweep has `gear`,
/// `from`, `until` and perhaps `pressure`; coast has `gear`, `from` and `until`. JSON holds
/// {"format": ..., "steps": [{...}]}.
#pragma once

#include <string>
#include <string_view>

#include "base/result.h"
#include "car/plan/plan.h"

namespace fuelwright::car {

enum class PlanForm { toml, json };

/// A text that begins with { is read as JSON, any other as TOML. `file_name` is for messages only;
/// no file is opened.
///
/// Errors, one line with the file, the line (TOML), the step and the key: bad_input (neither form,
/// an unknown kind or key, a number that is none), unknown_unit, needs_answer (a key that the step
/// needs, a plan without a step), out_of_range (a step that validate() refuses), too_large (above
/// 1 MiB or 1000 steps).
Result<Plan> read_plan(std::string_view text, std::string_view file_name);

/// The plan in full, each step with its words beside it (TOML). Times in s, speeds in rpm,
/// pressures in kPa. Needs a plan that validate() takes (a broken contract otherwise).
std::string write_plan(const Plan& plan, PlanForm form = PlanForm::toml);

}  // namespace fuelwright::car
