#include "physics/supply/margins.h"

#include <algorithm>
#include <cmath>
#include <limits>

#include "base/contract.h"

namespace fuelwright::physics::supply {
namespace {

constexpr double kAmple = 1e3;

double over(double can, double needed) {
  return needed > 0 ? std::min(kAmple, can / needed - 1) : kAmple;  // (supply.20)
}

double lift_can(const System& s) {
  if (s.lift.flow.si <= 0) return std::numeric_limits<double>::infinity();
  return s.tank_density().si * (s.lift.flow.si + s.lift.surge.si / kLongestPull.si);
}

}  // namespace

const char* name_of(Weak part) {
  constexpr const char* kNames[] = {"none",   "injectors", "one_injector", "regulator",
                                    "pump",   "wiring",    "charging",     "hose",
                                    "filter", "inlet",     "lift_pump"};
  return kNames[static_cast<std::size_t>(part)];
}

Side Margins::tightest() const {
  return kSides[static_cast<std::size_t>(std::min_element(of.begin(), of.end()) - of.begin())];
}

Margins margins_at(const System& s, const Need& need) {
  const Most most = most_at(s, need.speed, need.manifold);
  const double m = need.fuel.si;
  return {{over(most.injectors.si, m), over(most.pump.si, m), over(lift_can(s), m)}};
}

Tightest tightest_of(const System& s, std::span<const Need> needs) {
  Tightest out;
  out.margins.of.fill(kAmple);
  for (std::size_t i = 0; i < needs.size(); ++i) {
    const Margins here = margins_at(s, needs[i]);
    for (std::size_t k = 0; k < here.of.size(); ++k) {
      if (here.of[k] >= out.margins.of[k]) continue;
      out.margins.of[k] = here.of[k];
      out.at[k] = i;
    }
  }
  return out;
}

std::optional<EngineSpeed> runs_out(std::span<const Need> needs, std::span<const Margins> margins,
                                    Side side, double goal) {
  EXPECTS(needs.size() == margins.size());
  for (std::size_t i = 0; i < needs.size(); ++i) {
    const double here = margins[i][side] - goal;
    if (here >= 0) continue;
    if (i == 0) return needs[0].speed;
    const double before = margins[i - 1][side] - goal;
    const double t = before / (before - here);
    return rpm(needs[i - 1].speed.rpm + t * (needs[i].speed.rpm - needs[i - 1].speed.rpm));
  }
  return std::nullopt;
}

}  // namespace fuelwright::physics::supply
