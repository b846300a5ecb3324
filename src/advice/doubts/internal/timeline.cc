#include "advice/doubts/internal/timeline.h"

#include <algorithm>
#include <cmath>

namespace fuelwright::advice::doubts {
namespace {

using signals::Quantity;

constexpr std::size_t kLongestHold = 32;  // rows
constexpr double kMoving_pa_s = 25e3;     // common practice: faster than this is a transient ...
constexpr double kRising_pa_s = 8e3;      // units add tip-in fuel from 10 to 30 kPa/s (from memory)
constexpr double kNear_s = 0.15;
constexpr double kSmooth_s = 1.0;
constexpr double kLook_s = 0.2;  // ... seen over this time
constexpr double kLearnsAfter_s = 2.0;
constexpr double kLoopAfterCut_s = 2.0;
constexpr double kLoopWarm_k = 333.15;
constexpr double kLoopLoad = 0.8;  // of ambient pressure
constexpr double kLoopRichest = 0.9, kLoopLeanest = 1.1;
constexpr double kErrorHeeded = 0.12;
constexpr double kFreeAir = 1.5;

std::vector<double> held(const signals::Recording& r, Quantity what, double otherwise) {
  const signals::Channel* c = r.find(what);
  if (!c) return std::vector<double>(r.rows, otherwise);
  std::vector<double> out = c->si;
  for (const signals::Segment& s : r.segments) {
    std::size_t age = kLongestHold;
    for (std::size_t i = s.first; i < s.last; ++i) {
      if (!std::isnan(out[i])) {
        age = 0;
      } else if (i > s.first && age++ < kLongestHold) {
        out[i] = out[i - 1];
      }
    }
  }
  return out;
}

// Mean over a second about each row: noise of the reading would pass for a law over voltage.
std::vector<double> smoothed(const signals::Recording& r, std::vector<double> v, double step_s) {
  const auto half = static_cast<std::size_t>(std::round(0.5 * kSmooth_s / step_s));
  std::vector<double> out = v;
  for (const signals::Segment& s : r.segments) {
    for (std::size_t i = s.first; i < s.last; ++i) {
      const std::size_t a = i >= s.first + half ? i - half : s.first;
      const std::size_t b = std::min(i + half + 1, s.last);
      double sum = 0;
      for (std::size_t k = a; k < b; ++k) sum += v[k];
      out[i] = sum / static_cast<double>(b - a);
    }
  }
  return out;
}

}  // namespace

Timeline::Timeline(const signals::Recording& r, const car::Sheet& sheet)
    : recording(r),
      rpm(held(r, Quantity::rpm, NAN)),
      map(held(r, Quantity::map, NAN)),
      coolant(held(r, Quantity::coolant, 363.15)),
      intake(held(r, Quantity::intake_air, 308.15)),
      lambda(held(r, Quantity::lambda, NAN)),
      target(held(r, Quantity::target, NAN)),
      correction(held(r, Quantity::correction, NAN)),
      battery(held(r, Quantity::battery, sheet.injection.dead_time_voltage.si())),
      pulse(held(r, Quantity::pulse_width, NAN)),
      baro(held(r, Quantity::baro, sheet.place.pressure.si())),
      throttle(held(r, Quantity::throttle, 0)),
      maf(held(r, Quantity::maf, NAN)) {
  const bool timed = !r.time_s.empty() && r.row_step && r.pace != signals::Pace::unordered;
  step_s = timed ? r.row_step->si : 0;
  since_moved_s.assign(rows(), 0);
  since_rose_s.assign(rows(), 0);
  since_stirred_s.assign(rows(), 0);
  since_cut_s.assign(rows(), 0);
  if (step_s <= 0) return;
  battery = smoothed(r, std::move(battery), step_s);
  const auto look = static_cast<std::size_t>(std::max(1.0, std::round(kLook_s / step_s)));
  for (const signals::Segment& s : r.segments) {
    double moved = 0, rose = 0, stirred = 0, cut = 1e3;
    for (std::size_t i = s.first; i < s.last; ++i) {
      const std::size_t k = i >= s.first + look ? i - look : s.first;
      const double rate = (map[i] - map[k]) / (static_cast<double>(look) * step_s);
      moved = std::abs(rate) > kMoving_pa_s ? 0 : moved + step_s;
      rose = rate > kRising_pa_s ? 0 : rose + step_s;
      stirred = std::abs(rate) > kRising_pa_s ? 0 : stirred + step_s;
      cut = lambda[i] > kFreeAir || pulse[i] == 0 ? 0 : cut + step_s;
      since_moved_s[i] = moved;
      since_rose_s[i] = rose;
      since_stirred_s[i] = stirred;
      since_cut_s[i] = cut;
    }
  }
}

car::OperatingPoint Timeline::at(std::size_t i) const {
  return {.speed = fuelwright::rpm(rpm[i]),
          .map = absolute(map[i] * pascal),
          .ambient = absolute(baro[i] * pascal),
          .throttle = throttle[i]};
}

car::OperatingPoint Timeline::about(std::size_t i) const {
  if (step_s <= 0) return at(i);
  const signals::Segment& s = recording.segment_of(i);
  const auto near = static_cast<std::size_t>(std::max(1.0, std::round(kNear_s / step_s)));
  double n = 0, pressure = 0, speed = 0;
  const auto take = [&](std::size_t k) {
    if (!(map[k] > 0) || !(rpm[k] > 0)) return;
    n += 1;
    pressure += map[k];
    speed += rpm[k];
  };
  for (std::size_t k = near; k <= 2 * near; ++k) {
    if (i < s.first + k || i + k >= s.last) break;  // as much before as after
    take(i - k);
    take(i + k);
  }
  car::OperatingPoint out = at(i);
  if (n == 0) return out;
  out.map = absolute(pressure / n * pascal);
  out.speed = fuelwright::rpm(speed / n);
  return out;
}

bool Timeline::loop_works(std::size_t i) const {
  return rpm[i] > 0 && coolant[i] > kLoopWarm_k && map[i] < kLoopLoad * baro[i] &&
         target[i] >= kLoopRichest && target[i] <= kLoopLeanest && lambda[i] > 0 &&
         since_cut_s[i] > kLoopAfterCut_s;
}

std::vector<double> integral_in(const Timeline& t, const std::vector<int>& window) {
  std::vector<double> out(t.rows(), 0);
  for (std::size_t i = 1; i < t.rows(); ++i) {
    if (window[i] < 0 || window[i] != window[i - 1]) continue;
    const double error = t.lambda[i] / t.target[i] - 1;
    out[i] = out[i - 1] + t.step_s * std::clamp(error, -kErrorHeeded, kErrorHeeded);
  }
  return out;
}

std::vector<double> learned_column(const Timeline& t, const car::Grid& grid) {
  std::vector<double> out(t.rows(), 0);
  std::vector<double> nodes(grid.size(), 0);
  for (std::size_t i = 0; i < t.rows(); ++i) {
    if (std::isnan(t.rpm[i]) || std::isnan(t.map[i])) continue;
    const car::NodeShares at = grid.shares(t.at(i));
    const bool learns =
        t.loop_works(i) && t.since_moved_s[i] > kLearnsAfter_s && !std::isnan(t.correction[i]);
    for (int k = 0; k < at.count; ++k) {
      double& node = nodes[static_cast<std::size_t>(at.node[k])];
      out[i] += at.share[k] * node;
      if (learns) node += at.share[k] * t.correction[i] * t.step_s / 60;  // (doubts.6)
    }
  }
  return out;
}

}  // namespace fuelwright::advice::doubts
