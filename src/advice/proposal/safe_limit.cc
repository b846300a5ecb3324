#include "advice/proposal/safe_limit.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace fuelwright::advice {
namespace {

constexpr double kFullLoad = 0.90;  // of ambient pressure: from here on it is full throttle
constexpr double kBoosted = 1.10;   // from here on all of the boosted limit holds
constexpr double kThrottleIsOpen = 0.5;

double between(double from, double to, double at_from, double at_to, double x) {
  if (to <= from) return at_to;
  return std::lerp(at_from, at_to, std::clamp((x - from) / (to - from), 0.0, 1.0));
}

}  // namespace

double load_share(car::AxisKind load, double si, AbsolutePressure ambient) {
  switch (load) {  // (proposal.1)
    case car::AxisKind::map_absolute:
      return si / ambient.from_zero.si;
    case car::AxisKind::vacuum:
      return 1.0 - si / ambient.from_zero.si;
    case car::AxisKind::throttle:
      return std::min(1.0, si / kThrottleIsOpen);
    default:
      break;
  }
  broken_contract("a load axis", __FILE__, __LINE__);
}

std::optional<car::Lambda> SafeLimit::at(double load_share) const {
  // A breakpoint that is high load by its name (80.0 kPa of 100) is so by its bits too.
  constexpr double kSame = 1e-9;
  if (load_share < high_load - kSame) return std::nullopt;
  if (load_share > 1)
    return car::lambda(between(1, kBoosted, leanest.value, leanest_boosted.value, load_share));
  return car::lambda(between(high_load, kFullLoad, 1.0, leanest.value, load_share));
}

Status within(const char* what, double value, double low, double high) {
  if (value >= low && value <= high) return Done{};
  return Error{ErrorCode::out_of_range, "",
               fmt::format("{}: came {}, expected {} to {}", what, value, low, high)};
}

Status validate(const SafeLimit& safe) {
  FW_CHECK(within("leanest lambda at full load", safe.leanest.value, 0.80, 1.00));
  FW_CHECK(
      within("leanest lambda with boost", safe.leanest_boosted.value, 0.70, safe.leanest.value));
  return within("load from which the lean limit holds", safe.high_load, 0.60, 0.95);
}

}  // namespace fuelwright::advice
