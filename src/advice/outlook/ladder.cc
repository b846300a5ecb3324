#include "advice/outlook/ladder.h"

#include <Eigen/Cholesky>
#include <algorithm>
#include <cmath>

#include "advice/outlook/internal/climb.h"
#include "advice/proposal/safe_limit.h"

namespace fuelwright::advice::internal {
namespace {

using Nodes = std::vector<std::size_t>;

constexpr double kPull_sd = 0.015;        // of a node reached by short pulls only
constexpr double kLowestRung_rpm = 1500;  // below, full throttle lugs (common practice, no source)
constexpr double kAboveIdle = 1.5;
constexpr double kLightFrom = 0.25, kLightTo = 0.70, kLight = 0.50;  // load shares
constexpr double kHighestShare = 1.05;
constexpr double kReading = 1.03;  // a reading within this of what was predicted proves nothing

// What is left of a node's variance, discrepancy included, once `driven` are known to kPull_sd.
double variance_then(const Carried& known, std::size_t i, const Nodes& driven) {
  const double floor = known.floor_sd(i) * known.floor_sd(i);
  double variance = std::max(0.0, known.covariance(i, i));
  const auto n = static_cast<Eigen::Index>(driven.size());
  if (n > 0) {
    Eigen::MatrixXd S(n, n);
    Eigen::VectorXd c(n);
    for (Eigen::Index a = 0; a < n; ++a) {
      const std::size_t na = driven[static_cast<std::size_t>(a)];
      c[a] = known.covariance(i, na);
      for (Eigen::Index b = 0; b < n; ++b) {
        S(a, b) = known.covariance(na, driven[static_cast<std::size_t>(b)]);
      }
      S(a, a) += kPull_sd * kPull_sd;
    }
    variance = std::max(0.0, variance - c.dot(S.ldlt().solve(c)));  // (ladder.1)
  }
  return variance + floor;
}

class Climbing {
 public:
  Climbing(const Outlook& judged, const Carried& known, const car::Sheet& sheet)
      : judged_(judged), known_(known), sheet_(sheet), grid_(judged.grid) {}

  Ladder climb() {
    if (!find_row()) return out_;
    find_light_row();
    find_rungs();
    find_next();
    look_forward();
    return out_;
  }

 private:
  double share(std::size_t iy) const { return share_of_row(grid_, iy, sheet_); }

  // The row nearest to ambient pressure; of several full ones (throttle) the widest open.
  bool find_row() {
    double best = 2;
    for (std::size_t iy = 0; iy < grid_.y.size(); ++iy) {
      const double s = share(iy);
      if (s > kHighestShare || std::abs(s - 1) > best) continue;
      best = std::abs(s - 1);
      out_.row = iy;
    }
    return best < 2 && judged_.options.safe.at(share(out_.row)).has_value();
  }

  void find_light_row() {
    double best = 2;
    for (std::size_t iy = 0; iy < grid_.y.size(); ++iy) {
      const double s = share(iy);
      if (s < kLightFrom || s > kLightTo || std::abs(s - kLight) >= best) continue;
      best = std::abs(s - kLight);
      out_.light_row = iy;
    }
  }

  bool light_known(std::size_t ix) const {
    for (std::size_t iy = 0; iy < grid_.y.size(); ++iy) {
      const double s = share(iy);
      if (s < kLightFrom || s > kLightTo) continue;
      if (known_.mark(grid_.index(ix, iy)) != car::NodeMark::prior_only) return true;
    }
    return false;
  }

  void find_rungs() {
    const double lowest =
        std::max(kLowestRung_rpm, kAboveIdle * sheet_.wishes.idle_speed.value.rpm);
    for (std::size_t ix = 0; ix < grid_.x.size(); ++ix) {
      if (grid_.x[ix] < lowest || grid_.x[ix] > sheet_.wishes.rev_limit.value.rpm) continue;
      Rung r{.ix = ix, .speed = rpm(grid_.x[ix]), .node = grid_.index(ix, out_.row)};
      const NodeOutlook& n = judged_.nodes[r.node];
      r.light_load_known = light_known(ix);
      if (!r.light_load_known) out_.light_missing.push_back(ix);
      r.half_width = kTo95 * n.sd;
      if (n.go == Go::driven) r.step = Step::driven;
      if (n.go == Go::not_predicted) r.step = Step::closed;
      if (n.mixture && n.limit) r.lift_at = lift(*n.mixture, *n.limit);
      out_.rungs.push_back(r);
    }
  }

  // (ladder.2)
  static car::Lambda lift(const MixtureInterval& m, car::Lambda limit) {
    return std::min(limit, std::max(m.lean, car::lambda(kReading * m.middle.value)));
  }

  void find_next() {
    for (std::size_t k = 0; k < out_.rungs.size(); ++k) {
      Rung& r = out_.rungs[k];
      if (r.step == Step::driven) continue;
      if (r.step == Step::closed) return;  // what lies above a closed step stays closed off
      r.step = Step::next;
      const Go go = judged_.nodes[r.node].go;
      r.may_try = r.light_load_known && (go == Go::fine || go == Go::with_care);
      out_.next = k;
      return;
    }
  }

  void look_forward() {
    Nodes driven;
    Nodes light;
    for (const std::size_t ix : out_.light_missing) {
      if (out_.light_row) light.push_back(grid_.index(ix, *out_.light_row));
    }
    double now = 0, with_light = 0;
    int undriven = 0;
    for (Rung& r : out_.rungs) {
      if (out_.light_row && !r.light_load_known) {
        driven.push_back(grid_.index(r.ix, *out_.light_row));
      }
      r.half_width_then = kTo95 * std::sqrt(variance_then(known_, r.node, driven));
      if (r.step == Step::driven) continue;
      driven.push_back(r.node);
      ++undriven;
      now += r.half_width * r.half_width;
      with_light += kTo95 * kTo95 * variance_then(known_, r.node, light);
    }
    if (undriven == 0) return;
    out_.undriven_half_width = std::sqrt(now / undriven);
    out_.with_light_load = std::sqrt(with_light / undriven);
  }

  const Outlook& judged_;
  const Carried& known_;
  const car::Sheet& sheet_;
  const car::Grid& grid_;
  Ladder out_;
};

}  // namespace

double share_of_row(const car::Grid& grid, std::size_t iy, const car::Sheet& sheet) {
  return load_share(grid.y.kind(), grid.y[iy], sheet.place.pressure.value);
}

Ladder climb(const Outlook& judged, const Carried& known, const car::Sheet& sheet) {
  return Climbing(judged, known, sheet).climb();
}

}  // namespace fuelwright::advice::internal
