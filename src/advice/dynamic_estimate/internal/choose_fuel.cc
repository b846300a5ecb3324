// Which recordings have dynamics, and what their fuel is taken from.
#include <fmt/format.h>

#include <cmath>

#include "advice/dynamic_estimate/internal/driving_maker.h"

namespace fuelwright::advice {
namespace {

using signals::Pace;
using signals::Quantity;
using signals::Recording;

constexpr double kSlowestStep_s = 0.13;  // slower rows cannot show a sensor lag of a tenth
constexpr double kJitter = 0.25;         // of a step, that a step may be off by ...
constexpr double kSameRow = 1.5;         // renewed in nearly every row
constexpr double kJittery = 0.02;        // ... in at most this share of the rows

Error no_dynamics(const std::string& name, const std::string& why) {
  return {ErrorCode::not_found, name, why + ": film and sensor cannot be told from it"};
}

// Are the quantities whose moment counts renewed in different rows? Others may step rarely: a
// correction does when the unit acts, not when it is asked.
bool polled_in_turn(const Recording& r) {
  for (const Quantity q : {Quantity::rpm, Quantity::map, Quantity::lambda, Quantity::pulse_width}) {
    const signals::Channel* c = r.find(q);
    if (c && c->refresh.rows.value_or(1) > kSameRow) return true;
  }
  return false;
}

}  // namespace

void RegularClock::add(double interval_s, double step_s) {
  ++rows_;
  irregular_ += !(std::abs(interval_s - step_s) < kJitter * step_s);
}

bool RegularClock::regular() const {
  return static_cast<double>(irregular_) <= kJittery * static_cast<double>(rows_ + 1);
}

Error irregular_clock(const std::string& name) {
  return no_dynamics(name, "rows do not come regularly");
}

Status check_pace(const Recording& r) {
  if ((r.pace != Pace::timed && r.pace != Pace::stated_rate) || !r.row_step || r.time_s.empty()) {
    return no_dynamics(r.name, "no clock in it");
  }
  const double step = r.row_step->si;
  if (!(step > 0) || step > kSlowestStep_s) {
    return no_dynamics(r.name, fmt::format("rows come every {:.2f} s, {:.2f} s or less is needed",
                                           step, kSlowestStep_s));
  }
  if (polled_in_turn(r)) return no_dynamics(r.name, "channels polled in turn");
  return Done{};
}

Result<FuelFrom> choose_fuel(const Recording& r, const ObserveOptions& o, const car::Grid& grid) {
  const auto has = [&](Quantity q) { return r.find(q) != nullptr; };
  const auto missing = [&](const char* what) {
    return Error{ErrorCode::not_found, r.name, fmt::format("{} not recorded", what)};
  };
  if (o.way && *o.way != Way::correction && *o.way != Way::pulse_width) {
    return Error{ErrorCode::not_found, r.name,
                 fmt::format("{} has no dynamics to estimate", describe(*o.way))};
  }
  if (!has(Quantity::rpm)) return missing("engine speed");
  if (!has(Quantity::map)) return missing("MAP");
  if (!has(Quantity::lambda)) return missing("a mixture sensor");
  if (grid.y.kind() == car::AxisKind::throttle && !has(Quantity::throttle)) {
    return missing("throttle");
  }
  const bool known_loop = has(Quantity::correction) || o.open_loop;
  const bool relative = has(Quantity::target) && known_loop && o.way != Way::pulse_width;
  const bool pulse = has(Quantity::pulse_width) && has(Quantity::intake_air);
  if (relative && pulse) return FuelFrom::pulse_width_and_target;
  if (relative) return FuelFrom::target;
  if (o.way == Way::correction) {
    return has(Quantity::target)
               ? Error{ErrorCode::needs_answer, r.name,
                       "the closed-loop correction is not recorded; say --open-loop if the unit "
                       "ran without it"}
               : missing("the mixture target");
  }
  if (pulse) return FuelFrom::pulse_width;
  return missing(has(Quantity::pulse_width) ? "intake air temperature" : "the pulse width");
}

}  // namespace fuelwright::advice
