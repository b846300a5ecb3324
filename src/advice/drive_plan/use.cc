#include "advice/drive_plan/use.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <map>

#include "base/contract.h"

namespace fuelwright::advice {
namespace {

constexpr double kStanding_m_s = 0.5;
constexpr double kEasyShift = 0.30;  // of the rev limit: an easy driver is in the next gear
constexpr double kOverIdle = 1.35;   // never slower in gear (common practice, no source)
constexpr double kMostHold = 0.90;   // of ambient pressure, before an easy driver changes down
constexpr int kFine = 4;             // parts of a cell, in which places are counted together

/// Places alike are one place: keeps the number small whatever the length of the cycle.
class Counting {
 public:
  explicit Counting(const car::Grid& grid) : grid_(grid) {}

  void add(const car::OperatingPoint& at, double weight) {
    const auto bin = [](const car::Axis& axis, double x) {
      const auto points = axis.points();
      const auto up = std::ranges::upper_bound(points, x);
      if (up == points.begin()) return 0;
      const auto i = static_cast<int>(up - points.begin()) - 1;
      if (up == points.end()) return i * kFine;
      const double low = points[static_cast<std::size_t>(i)];
      return i * kFine + static_cast<int>(kFine * (x - low) / (*up - low));
    };
    const double x = grid_.x.coordinate(at), y = grid_.y.coordinate(at);
    Sum& s = sums_[{bin(grid_.x, x), bin(grid_.y, y)}];
    s.weight += weight;
    s.x += weight * x;
    s.y += weight * y;
    all_ += weight;
  }

  std::vector<Use::Place> places() const {
    std::vector<Use::Place> out;
    for (const auto& [where, s] : sums_) {
      out.push_back({grid_.shares(s.x / s.weight, s.y / s.weight), s.weight / all_});
    }
    return out;
  }

 private:
  struct Sum {
    double weight = 0, x = 0, y = 0;
  };
  const car::Grid& grid_;
  std::map<std::pair<int, int>, Sum> sums_;
  double all_ = 0;
};

/// Standing.
car::OperatingPoint idle_at(const OnRoad& road, AbsolutePressure p) {
  return {.speed = road.sheet().wishes.idle_speed.value, .map = p, .ambient = road.ambient()};
}

/// The place for a speed and an acceleration; none on the overrun, or beyond full throttle.
std::optional<car::OperatingPoint> place_of(const OnRoad& road, double v, double a) {
  const car::Wishes& wishes = road.sheet().wishes;
  const double idle = wishes.idle_speed.value.rpm;
  const double slowest = std::max(kEasyShift * wishes.rev_limit.value.rpm, kOverIdle * idle);
  const double most = kMostHold * road.ambient().from_zero.si;
  std::optional<car::OperatingPoint> out;
  for (int gear = 1; gear <= road.gears(); ++gear) {
    EngineSpeed n = road.engine_speed({v}, gear);
    if (gear > 1 && n.rpm < slowest) break;
    if (n > wishes.rev_limit.value) continue;
    n.rpm = std::max(n.rpm, kOverIdle * idle);  // the clutch slips
    const Torque torque = road.asked(n, gear, a, 0);
    const auto p = road.pressure_for(n, torque);
    if (!p && torque.si <= 0) return std::nullopt;  // in a higher gear no less
    if (out && (!p || p->from_zero.si > most)) break;
    const AbsolutePressure full = absolute(0.98 * road.ambient().from_zero);
    out = car::OperatingPoint{.speed = n, .map = p.value_or(full), .ambient = road.ambient()};
  }
  return out;
}

}  // namespace

Use Use::of_estimate(const MapEstimate& e) {
  Use out;
  if (!(e.seconds > 0) || !(e.usage.sum() > 0)) return out;
  const double all = e.usage.sum();
  for (Eigen::Index i = 0; i < e.usage.size(); ++i) {
    if (!(e.usage[i] > 0)) continue;
    car::NodeShares one;
    one.node[0] = static_cast<int>(i);
    one.share[0] = 1;
    one.count = 1;
    out.places.push_back({one, e.usage[i] / all});
  }
  out.says = fmt::format("the {:.0f} minutes that were recorded", e.seconds / 60);
  return out;
}

Use Use::of_points(const car::Grid& grid, std::span<const car::OperatingPoint> points,
                   std::string says) {
  Counting counting(grid);
  for (const car::OperatingPoint& at : points) counting.add(at, 1);
  return {counting.places(), std::move(says)};
}

Use Use::of_speeds(const OnRoad& road, const car::Grid& grid, std::span<const double> v,
                   std::string says) {
  std::vector<car::OperatingPoint> points;
  const auto idles = road.idle_pressures();
  std::size_t standing = 0;
  for (std::size_t i = 0; i < v.size(); ++i) {
    EXPECTS(v[i] >= 0);
    if (v[i] < kStanding_m_s) {
      points.push_back(idle_at(road, idles[standing++ % idles.size()]));
      continue;
    }
    const std::size_t before = i > 0 ? i - 1 : i, after = std::min(i + 1, v.size() - 1);
    const double a =
        after > before ? (v[after] - v[before]) / static_cast<double>(after - before) : 0;
    if (const auto at = place_of(road, v[i], a)) points.push_back(*at);
  }
  return of_points(grid, points, std::move(says));
}

Use Use::assumed(const OnRoad& road, const car::Grid& grid, Speed top) {
  struct Foot {
    double a, share;
  };
  // Half of the time steady, a tenth standing (common practice, no source).
  constexpr std::array kFeet{Foot{0, 0.5}, Foot{-0.15, 0.15}, Foot{0.3, 0.15}, Foot{0.7, 0.15},
                             Foot{1.2, 0.05}};
  constexpr int kSpeeds = 40;
  constexpr double kStandingShare = 0.1;
  Counting counting(grid);
  const auto idles = road.idle_pressures();
  for (const AbsolutePressure p : idles) {
    counting.add(idle_at(road, p), kStandingShare / static_cast<double>(idles.size()));
  }
  for (int i = 1; i <= kSpeeds; ++i) {
    for (const Foot& foot : kFeet) {
      const auto at = place_of(road, top.si * i / kSpeeds, foot.a);
      if (at) counting.add(*at, (1 - kStandingShare) * foot.share / kSpeeds);
    }
  }
  return {counting.places(),
          "assumed: a tenth of the time standing, the rest at all speeds alike, "
          "half of it steady and half gaining or losing speed gently"};
}

Eigen::MatrixXd Use::weights(std::size_t nodes) const {
  const auto n = static_cast<Eigen::Index>(nodes);
  Eigen::MatrixXd G = Eigen::MatrixXd::Zero(n, n);
  for (const Place& p : places) {
    for (std::size_t a = 0; a < static_cast<std::size_t>(p.shares.count); ++a) {
      for (std::size_t b = 0; b < static_cast<std::size_t>(p.shares.count); ++b) {
        G(p.shares.node[a], p.shares.node[b]) += p.weight * p.shares.share[a] * p.shares.share[b];
      }
    }
  }
  return G;
}

}  // namespace fuelwright::advice
