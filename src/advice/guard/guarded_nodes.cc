#include "advice/guard/guarded_nodes.h"

#include <algorithm>
#include <cmath>
#include <optional>

#include "base/contract.h"

namespace fuelwright::advice {
namespace {

using signals::Channel;
using signals::Quantity;
using signals::Recording;

constexpr double kLongestRow_s = 1.0;  // a longer step is a gap
constexpr double kTurns_rpm = 400;     // as the guard's

// Where the table was looked up, row by row.
class Lookups {
 public:
  Lookups(const Recording& r, const car::Grid& grid, AbsolutePressure ambient)
      : speed_(r.find(Quantity::rpm)),
        map_(r.find(Quantity::map)),
        throttle_(r.find(Quantity::throttle)),
        grid_(grid),
        ambient_(ambient) {
    const bool by_throttle = grid.y.kind() == car::AxisKind::throttle;
    known_ = speed_ && (by_throttle ? throttle_ : map_);
  }

  std::optional<car::OperatingPoint> at(std::size_t row) const {
    if (!known_ || !(speed_->si[row] > kTurns_rpm)) return std::nullopt;
    const double p = map_ ? map_->si[row] : NAN, open = throttle_ ? throttle_->si[row] : NAN;
    return car::OperatingPoint{.speed = rpm(speed_->si[row]),
                               .map = std::isnan(p) ? ambient_ : absolute(p * pascal),
                               .ambient = ambient_,
                               .throttle = std::isnan(open) ? 0 : open};
  }
  double map_pa(std::size_t row) const { return map_ ? map_->si[row] : NAN; }
  car::NodeShares shares(const car::OperatingPoint& at) const { return grid_.shares(at); }

 private:
  const Channel *speed_, *map_, *throttle_;
  const car::Grid& grid_;
  AbsolutePressure ambient_;
  bool known_ = false;
};

void widen(GuardedPlaces& p, const car::OperatingPoint& at, double map_pa) {
  const bool first = p.fastest.rpm == 0;
  p.slowest.rpm = first ? at.speed.rpm : std::min(p.slowest.rpm, at.speed.rpm);
  p.fastest.rpm = std::max(p.fastest.rpm, at.speed.rpm);
  if (std::isnan(map_pa)) return;
  const bool none = p.highest.from_zero.si == 0;
  p.lowest.from_zero.si = none ? map_pa : std::min(p.lowest.from_zero.si, map_pa);
  p.highest.from_zero.si = std::max(p.highest.from_zero.si, map_pa);
}

void mark(GuardedPlaces& p, const Firing& f, const Recording& r, const Lookups& lookups,
          double older_s) {
  for (std::size_t i = 0; i < r.rows && i < r.time_s.size(); ++i) {
    const double t = r.time_s[i];
    if (!(t >= f.began.si - older_s && t <= f.until.si)) continue;
    const auto at = lookups.at(i);
    if (!at) continue;
    widen(p, *at, lookups.map_pa(i));
    const car::NodeShares shares = lookups.shares(*at);
    for (std::size_t k = 0; k < static_cast<std::size_t>(shares.count); ++k) {
      if (shares.share[k] > 0) p.nodes[static_cast<std::size_t>(shares.node[k])] = true;
    }
  }
}

// Whether the rule could have fired on what is read in a row.
bool watches(RuleKind rule, const Rules& rules, const Moment& m) {
  using S = Signal;
  switch (rule) {
    case RuleKind::lean_under_load:
      return m[S::map] > rules.of(rule).while_above && !(m[S::pulse_width] <= 0) &&
             !(std::isnan(m[S::lambda]) && std::isnan(m[S::lambda_2]));
    case RuleKind::knock:
      return !std::isnan(m[S::knock]);
    case RuleKind::fuel_pressure:
      return !std::isnan(m[S::fuel_pressure]);
    case RuleKind::duty:
      return !std::isnan(m[S::duty]) || !std::isnan(m[S::pulse_width]);
    default:
      return false;
  }
}

}  // namespace

bool forbids_leaning(RuleKind rule) {
  return rule == RuleKind::lean_under_load || rule == RuleKind::knock ||
         rule == RuleKind::fuel_pressure || rule == RuleKind::duty;
}

std::vector<GuardedPlaces> guarded_places(const GuardReport& report, const Recording& r,
                                          const Rules& rules, const car::Grid& grid,
                                          AbsolutePressure ambient) {
  const Lookups lookups(r, grid, ambient);
  std::vector<GuardedPlaces> out;
  for (const Firing& f : report.firings) {
    if (!forbids_leaning(f.rule)) continue;
    auto place = std::ranges::find(out, f.rule, &GuardedPlaces::rule);
    if (place == out.end()) {
      out.push_back(
          {.rule = f.rule, .nodes = std::vector<bool>(grid.size(), false), .first = f.began});
      place = out.end() - 1;
    }
    ++place->firings;
    mark(*place, f, r, lookups, rules.of(f.rule).settled.si);
  }
  return out;
}

std::vector<double> seconds_watched(RuleKind rule, const Recording& r, const Rules& rules,
                                    const car::Grid& grid, AbsolutePressure ambient) {
  std::vector<double> out(grid.size(), 0.0);
  if (r.time_s.size() < r.rows || !rules.of(rule).on) return out;
  const Lookups lookups(r, grid, ambient);
  const Moments moments(r);
  Moment now;
  for (std::size_t i = 1; i < r.rows; ++i) {
    const double step = r.time_s[i] - r.time_s[i - 1];
    if (!(step > 0 && step < kLongestRow_s)) continue;
    moments.get(i, now);
    const auto at = lookups.at(i);
    if (!at || !watches(rule, rules, now)) continue;
    const car::NodeShares shares = lookups.shares(*at);
    for (std::size_t k = 0; k < static_cast<std::size_t>(shares.count); ++k) {
      out[static_cast<std::size_t>(shares.node[k])] += shares.share[k] * step;
    }
  }
  return out;
}

int keep_from_leaning(car::Surface& proposed, const car::Surface& in_force,
                      const std::vector<bool>& guarded) {
  EXPECTS(proposed.values.size() == in_force.values.size());
  EXPECTS(guarded.size() == in_force.values.size());
  int changed = 0;
  for (std::size_t i = 0; i < guarded.size(); ++i) {
    if (!guarded[i] || proposed.values[i] >= in_force.values[i]) continue;
    proposed.values[i] = in_force.values[i];
    ++changed;
  }
  return changed;
}

}  // namespace fuelwright::advice
