// Noise on manifold pressure: how much, whether it follows the crank, and whether it is a big
// cam's.
//
// d_i = p_i - (p_{i-1} + p_{i+1})/2 has sqrt(3/2) of the noise and little of the driving. In
// windows of a second with steady speed its part in step with k turns of the crank is
//   z = |sum d_i e^{-j 2 pi k N_i}|^2 / sum d_i^2,  N_i turns since the window began
//   (sensor_checks.5)
// which for white noise is 1 on average, whatever the window.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <complex>
#include <numbers>

#include "advice/sensor_checks/internal/looking.h"
#include "advice/sensor_checks/internal/numbers.h"

namespace fuelwright::advice {
namespace {

using signals::Quantity;

constexpr double kWindow_s = 1.0;
constexpr double kSteadySpeed = 0.02;  // ln, within a window
constexpr double kSteadyLoad_pa = 4e3;
constexpr double kHealthy_pa = 500;  // one standard deviation of a sound sensor with its pulsation
constexpr double kDoubt_pa = 1100;
constexpr double kGrave_pa = 6000;
constexpr double kPasses = 0.3;  // of a swing; below it is not measured
constexpr double kMatters_pa = 300, kGraveSwing_pa = 3000;
constexpr double kSlowTurning = 1.5;  // times idle speed: where a cam's pulsation is worst
constexpr std::array<double, 5> kOrders{0.5, 1.0, 2.0, 3.0, 4.0};

struct Window {
  double speed = 0;
  double sd = 0;  // of the noise [Pa]
  std::array<double, kOrders.size()> z{};
  std::array<double, kOrders.size()> part_pa2{};  // variance of what follows the crank
};

bool steady(const Looking& l, const Column& speed, const Column& map, std::size_t a,
            std::size_t b) {
  for (std::size_t i = a; i <= b; ++i) {
    if (!l.running[i] || std::isnan(map[i]) || std::isnan(speed[i])) return false;
    if (i > a && l.r.time_s[i] - l.r.time_s[i - 1] > 2.5 * l.step_s) return false;
  }
  // Noise is no movement, however large: the halves of the window must agree.
  const auto at = [&](std::size_t i) { return map.begin() + static_cast<std::ptrdiff_t>(i); };
  const std::size_t middle = (a + b) / 2;
  const double moved = std::abs(mean({at(a), at(middle)}) - mean({at(middle), at(b)}));
  return log_spread(speed, a, b) < kSteadySpeed && moved < kSteadyLoad_pa;
}

Window measure(const Looking& l, const Column& speed, const Column& map, std::size_t a,
               std::size_t b) {
  Window w;
  double power = 0;
  double turns = 0;
  std::array<std::complex<double>, kOrders.size()> sum{};
  double rows = 0;
  for (std::size_t i = a + 1; i < b; ++i) {
    turns += 0.5 * (speed[i] + speed[i - 1]) / 60 * (l.r.time_s[i] - l.r.time_s[i - 1]);
    const double d = map[i] - 0.5 * (map[i - 1] + map[i + 1]);
    power += d * d;
    for (std::size_t k = 0; k < kOrders.size(); ++k) {
      sum[k] += d * std::polar(1.0, -2 * std::numbers::pi * kOrders[k] * turns);
    }
    w.speed += speed[i];
    ++rows;
  }
  w.speed /= rows;
  w.sd = std::sqrt(power / rows / 1.5);
  for (std::size_t k = 0; k < kOrders.size(); ++k) {
    w.z[k] = power > 0 ? std::norm(sum[k]) / power : 0;
    // A second difference passes 1 - cos(2 pi f dt) of a swing of frequency f, seen as its alias.
    const double pass = 1 - std::cos(2 * std::numbers::pi * kOrders[k] * w.speed / 60 * l.step_s);
    w.part_pa2[k] = pass > kPasses
                        ? std::max(0.0, std::norm(sum[k]) - power) * 2 / (rows * rows * pass * pass)
                        : NAN;
  }
  return w;
}

std::vector<Window> windows_of(const Looking& l, const Column& speed, const Column& map) {
  std::vector<Window> out;
  const std::size_t d = l.rows_of(kWindow_s);
  for (const signals::Segment& s : l.r.segments) {
    for (std::size_t a = s.first; a + d < s.last; a += d) {
      if (steady(l, speed, map, a, a + d)) out.push_back(measure(l, speed, map, a, a + d));
    }
  }
  return out;
}

// Order that stands out most, with its evidence. The share of the noise that follows the crank
// differs by place; a sum of n exponential variates of mean 1 has mean n and variance n. Second
// differences are not quite white: the mean of the other orders is the measure.
struct Order {
  double order = 0, z = 0, part_pa = 0;
  Evidence e;
};
Order strongest(const std::vector<Window>& w) {
  Order best;
  std::array<double, kOrders.size()> mean_z{};
  for (std::size_t k = 0; k < kOrders.size(); ++k) {
    for (const Window& one : w) mean_z[k] += one.z[k] / static_cast<double>(w.size());
  }
  Column sorted(mean_z.begin(), mean_z.end());
  const double others = std::max(median(sorted), 0.5);
  for (std::size_t k = 0; k < kOrders.size(); ++k) {
    if (mean_z[k] <= best.z) continue;
    best.z = mean_z[k];
    best.order = kOrders[k];
    Column parts;
    for (const Window& one : w) parts.push_back(one.part_pa2[k]);
    const double middle = median(std::move(parts));
    best.part_pa = std::isnan(middle) ? 0 : std::sqrt(middle);
  }
  // Windows are not all alike: twice the spread of exponential variates.
  const double sd = 2.0 * others / std::sqrt(static_cast<double>(w.size()));
  best.e = weigh_level(std::max(best.z - others, 0.0), std::max(sd, 0.15), 3.0,
                       static_cast<double>(kOrders.size()));
  return best;
}

}  // namespace

void look_at_noise(Looking& l) {
  const Column* speed = l.col(Quantity::rpm);
  const Column* map = l.col(Quantity::map);
  const auto skip = [&](const char* why) {
    for (const Check c : {Check::noise, Check::noise_with_speed, Check::pulsation}) l.skip(c, why);
  };
  if (!speed || !map) return skip("no speed or no manifold pressure");
  if (!l.fast || l.step_s > 0.11) return skip("fewer than 9 rows a second");
  const std::vector<Window> all = windows_of(l, *speed, *map);
  if (all.size() < 15) return skip("fewer than 15 steady seconds");
  const double slow = kSlowTurning * l.car.sheet.wishes.idle_speed.si();
  std::vector<Window> idle, moving;
  for (const Window& w : all) (w.speed < slow ? idle : moving).push_back(w);
  const auto level = [](const std::vector<Window>& w) {
    Column sd;
    for (const Window& one : w) sd.push_back(one.sd);
    return w.size() < 8 ? NAN : median(std::move(sd));
  };
  const double at_idle = level(idle);
  const double at_speed = level(moving);
  // Pulsation of a cam dies away with speed; electrical noise does not.
  const double floor = std::isnan(at_speed) ? at_idle : at_speed;
  const Evidence e = weigh_level(std::max(0.0, floor), kHealthy_pa / 2, 4e3);
  const bool noisy = floor > kDoubt_pa;
  l.add(Check::noise, Quantity::map,
        noisy ? (floor > kGrave_pa ? Grade::stop : grade_of(e, false)) : Grade::fine, e,
        fmt::format("noise of {} on manifold pressure over {} steady seconds", l.pressure(floor, 2),
                    all.size()),
        noisy ? static_cast<long>(l.n) : 0);
  if (!std::isnan(at_idle) && !std::isnan(at_speed)) {
    const bool pulses = at_idle > kDoubt_pa && at_idle > 2 * at_speed;
    l.add(Check::pulsation, Quantity::map, pulses ? Grade::doubt : Grade::fine, certain(at_idle),
          fmt::format("at idle manifold pressure swings by {} from row to row, at speed by {}",
                      l.pressure(at_idle, 2), l.pressure(at_speed, 2)),
          pulses ? static_cast<long>(idle.size()) : 0);
  } else {
    l.skip(Check::pulsation, "no steady idle or no steady driving");
  }
  if (moving.size() < 15) {
    l.skip(Check::noise_with_speed, "fewer than 15 steady seconds at speed");
    return;
  }
  const Order o = strongest(moving);
  // Noise that is too small to matter is left alone, whatever it follows.
  const bool matters = o.part_pa > kMatters_pa;
  l.add(Check::noise_with_speed, Quantity::map,
        matters ? grade_of(o.e, o.part_pa > kGraveSwing_pa) : Grade::fine, o.e,
        fmt::format("{} of the noise follow {} turns of the crank (likeness {:.1f}, white "
                    "noise 1)",
                    l.pressure(o.part_pa, 2), o.order, o.z));
}

}  // namespace fuelwright::advice
