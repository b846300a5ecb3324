#include "car/plan/plan.h"

#include <fmt/format.h>

#include <cmath>

namespace fuelwright::car {
namespace {

constexpr double kLongest_s = 3600;
constexpr double kSlowest_rpm = 300, kFastest_rpm = 20000;
constexpr double kLowest_pa = 10e3, kHighest_pa = 400e3;
constexpr int kMostGears = 10;

bool can_be(EngineSpeed n) { return n.rpm >= kSlowest_rpm && n.rpm <= kFastest_rpm; }

}  // namespace

std::string problem_of(const PlanStep& s) {
  const bool lasts = s.kind == PlanStepKind::idle || s.kind == PlanStepKind::hold;
  if (lasts && !(s.time.si >= 0 && s.time.si <= kLongest_s)) {
    return fmt::format("lasts {} s; expected 0 to {}", s.time.si, kLongest_s);
  }
  if (s.kind == PlanStepKind::idle) return "";
  if (s.gear < 1 || s.gear > kMostGears) {
    return fmt::format("gear {} came; expected 1 to {}", s.gear, kMostGears);
  }
  if (!can_be(s.from) || (s.kind != PlanStepKind::hold && !can_be(s.until))) {
    return fmt::format("an engine speed lies outside {} to {} rpm", kSlowest_rpm, kFastest_rpm);
  }
  const bool sweeps = s.map ? s.until != s.from : s.until > s.from;
  if (s.kind == PlanStepKind::sweep && !sweeps) {
    return fmt::format("a sweep from {} to {} rpm does not rise", s.from.rpm, s.until.rpm);
  }
  if (s.kind == PlanStepKind::coast && !(s.until < s.from)) {
    return fmt::format("coasting from {} to {} rpm does not fall", s.from.rpm, s.until.rpm);
  }
  if (s.map && !(s.map->from_zero.si >= kLowest_pa && s.map->from_zero.si <= kHighest_pa)) {
    return fmt::format("{:.0f} kPa came; expected 10 to 400", s.map->from_zero.in(kPa));
  }
  return "";
}

PlanStep idle_for(Duration time) { return {.kind = PlanStepKind::idle, .time = time}; }

PlanStep hold_at(EngineSpeed speed, int gear, Duration time, std::optional<AbsolutePressure> map) {
  return {.kind = PlanStepKind::hold, .time = time, .from = speed, .gear = gear, .map = map};
}

PlanStep sweep(EngineSpeed from, EngineSpeed until, int gear, std::optional<AbsolutePressure> map) {
  return {.kind = PlanStepKind::sweep, .from = from, .until = until, .gear = gear, .map = map};
}

PlanStep coast(EngineSpeed from, EngineSpeed until, int gear) {
  return {.kind = PlanStepKind::coast, .from = from, .until = until, .gear = gear};
}

std::string in_words(const PlanStep& s) {
  switch (s.kind) {
    case PlanStepKind::idle:
      return fmt::format("idle for {:.0f} s", s.time.si);
    case PlanStepKind::hold:
      if (s.map) {
        return fmt::format("gear {}: hold {:.0f} rpm at {:.0f} kPa for {:.0f} s, on a dyno", s.gear,
                           s.from.rpm, s.map->from_zero.in(kPa), s.time.si);
      }
      return fmt::format("gear {}: hold {:.0f} rpm for {:.0f} s", s.gear, s.from.rpm, s.time.si);
    case PlanStepKind::sweep:
      return fmt::format("gear {}: {:.0f} {}to {:.0f} rpm at {}", s.gear, s.from.rpm,
                         s.until < s.from ? "down " : "", s.until.rpm,
                         s.map ? fmt::format("{:.0f} kPa", s.map->from_zero.in(kPa))
                               : std::string("full throttle"));
    case PlanStepKind::coast:
      return fmt::format("gear {}: foot off from {:.0f} down to {:.0f} rpm", s.gear, s.from.rpm,
                         s.until.rpm);
  }
  broken_contract("a kind of the list", __FILE__, __LINE__);
}

Status validate(const Plan& plan) {
  if (plan.steps.empty()) {
    return Error{ErrorCode::needs_answer, "plan", "has no step; expected at least one"};
  }
  for (std::size_t i = 0; i < plan.steps.size(); ++i) {
    if (const std::string problem = problem_of(plan.steps[i]); !problem.empty()) {
      return Error{ErrorCode::out_of_range, fmt::format("plan: step {}", i + 1), problem};
    }
  }
  return Done{};
}

}  // namespace fuelwright::car
