/// A plan: the next drive as an ordered list of things a driver does. A plain value: whoever makes
/// one and whoever drives it need not know each other.
///
///   Plan plan{{idle_for(20.0 * second), hold_at(rpm(2400), 3, 15.0 * second),
///              sweep(rpm(2000), rpm(4500), 3, absolute(60.0 * kPa))}};
///   for (const PlanStep& s : plan.steps) say(in_words(s));
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "base/result.h"
#include "base/units/points.h"

namespace fuelwright::car {

enum class PlanStepKind {
  idle,  ///< standing, in neutral
  /// One engine speed in one gear, at the load that the road asks for; with a pressure, on a dyno
  /// that holds the load: it keeps the speed while the foot keeps the pressure.
  hold,
  /// From one engine speed up to another in one gear, the foot keeping manifold pressure; at a
  /// pressure below that of the road also down to another: easing off.
  sweep,
  coast,  ///< foot off in gear, from one engine speed down to another
};

struct PlanStep {
  PlanStepKind kind = PlanStepKind::idle;
  Duration time{};      ///< of idle and hold
  EngineSpeed from{};   ///< hold: the speed; sweep and coast: where it begins
  EngineSpeed until{};  ///< sweep and coast: where it ends
  int gear = 1;         ///< 1 is the first gear
  /// To be kept: during a sweep (none: full throttle), during a hold on a dyno (none: on the road).
  std::optional<AbsolutePressure> map{};
  friend bool operator==(const PlanStep&, const PlanStep&) = default;
};

struct Plan {
  std::vector<PlanStep> steps;
  friend bool operator==(const Plan&, const Plan&) = default;
};

PlanStep idle_for(Duration time);
/// On a dyno with a pressure.
PlanStep hold_at(EngineSpeed speed, int gear, Duration time,
                 std::optional<AbsolutePressure> map = {});
/// Full throttle without a pressure.
PlanStep sweep(EngineSpeed from, EngineSpeed until, int gear,
               std::optional<AbsolutePressure> map = {});
PlanStep coast(EngineSpeed from, EngineSpeed until, int gear);

/// "gear 3: 2000 to 4500 rpm at 60 kPa"; "gear 4: hold 2400 rpm at 60 kPa for 8 s, on a dyno".
std::string in_words(const PlanStep& step);

/// Why a step cannot be driven, in words; empty if it can. The limits are those of validate().
std::string problem_of(const PlanStep& step);

/// Error out_of_range naming the step ("step 3") if a time is not 0..3600 s, a speed not
/// 300..20,000 rpm, a gear not 1..10, a pressure not 10..400 kPa, or a sweep does not rise (at a
/// pressure: stays where it is) or a coast does not fall; needs_answer if there is no step.
Status validate(const Plan& plan);

}  // namespace fuelwright::car
