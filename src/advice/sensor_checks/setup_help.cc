#include "advice/sensor_checks/setup_help.h"

#include <fmt/format.h>

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>

#include "advice/sensor_checks/internal/numbers.h"

namespace fuelwright::advice {
namespace {

constexpr double kLeastOhm = 1, kMostOhm = 1e7;
constexpr double kColdest_k = 213.15, kHottest_k = 473.15;
constexpr double kNearest_k = 3;

Error wrong(ErrorCode code, const char* where, std::string message) {
  return {code, where, std::move(message)};
}

// Least squares of y = gain x + offset.
struct Line {
  double gain = 0, offset = 0, sd = 0;
};
Line fit(std::span<const double> x, std::span<const double> y) {
  double sx = 0, sy = 0;
  const double n = static_cast<double>(x.size());
  for (std::size_t i = 0; i < x.size(); ++i) {
    sx += x[i];
    sy += y[i];
  }
  double xx = 0, xy = 0;
  for (std::size_t i = 0; i < x.size(); ++i) {
    xx += (x[i] - sx / n) * (x[i] - sx / n);
    xy += (x[i] - sx / n) * (y[i] - sy / n);
  }
  Line l;
  l.gain = xx > 0 ? xy / xx : 0;
  l.offset = (sy - l.gain * sx) / n;
  double ss = 0;
  for (std::size_t i = 0; i < x.size(); ++i) {
    const double d = y[i] - l.gain * x[i] - l.offset;
    ss += d * d;
  }
  l.sd = std::sqrt(ss / std::max(n - 2, 1.0));
  return l;
}

}  // namespace

Temperature ThermistorCurve::at(double ohm) const {
  const double x = std::log(ohm);
  return kelvin(1 / (a + b * x + c * x * x * x));  // (sensor_checks.14)
}

double ThermistorCurve::ohm_at(Temperature t) const {
  double low = std::log(kLeastOhm), high = std::log(kMostOhm);
  for (int i = 0; i < 60; ++i) {
    const double mid = 0.5 * (low + high);
    const double inverse = a + b * mid + c * mid * mid * mid;
    (inverse > 1 / t.from_zero.si ? high : low) = mid;
  }
  return std::exp(0.5 * (low + high));
}

Result<ThermistorCurve> thermistor_curve(const std::array<ThermistorPoint, 3>& points) {
  auto p = points;
  std::ranges::sort(p, {}, [](const ThermistorPoint& x) { return x.temperature.from_zero.si; });
  Eigen::Matrix3d m;
  Eigen::Vector3d v;
  for (std::size_t i = 0; i < 3; ++i) {
    const double t = p[i].temperature.from_zero.si;
    if (!(t >= kColdest_k && t <= kHottest_k) || !(p[i].ohm >= kLeastOhm && p[i].ohm <= kMostOhm)) {
      return wrong(
          ErrorCode::out_of_range, "thermistor",
          fmt::format("{:.1f} degC at {} ohm came; expected -60 to 200 degC and 1 ohm to 10 "
                      "Mohm",
                      in_celsius(p[i].temperature), p[i].ohm));
    }
    if (i > 0 && t - p[i - 1].temperature.from_zero.si < kNearest_k) {
      return wrong(ErrorCode::out_of_range, "thermistor",
                   fmt::format("two points at {:.1f} and {:.1f} degC; expected 3 K or more between",
                               in_celsius(p[i - 1].temperature), in_celsius(p[i].temperature)));
    }
    if (i > 0 && p[i].ohm >= p[i - 1].ohm) {
      return wrong(
          ErrorCode::out_of_range, "thermistor",
          fmt::format("{} ohm at {:.1f} degC and {} ohm at {:.1f} degC; expected it to fall "
                      "with temperature",
                      p[i - 1].ohm, in_celsius(p[i - 1].temperature), p[i].ohm,
                      in_celsius(p[i].temperature)));
    }
    const double x = std::log(p[i].ohm);
    m.row(static_cast<Eigen::Index>(i)) << 1, x, x * x * x;
    v[static_cast<Eigen::Index>(i)] = 1 / t;
  }
  const Eigen::Vector3d k = m.colPivHouseholderQr().solve(v);
  return ThermistorCurve{k[0], k[1], k[2]};
}

Result<Transfer> transfer(const std::array<TransferPoint, 2>& p) {
  const double dx = p[1].reading - p[0].reading;
  const double dy = p[1].value - p[0].value;
  if (!std::isfinite(dx) || !std::isfinite(dy) || dx == 0 || dy == 0) {
    return wrong(ErrorCode::out_of_range, "transfer",
                 fmt::format("({}, {}) and ({}, {}) came; expected two different readings with two "
                             "different values",
                             p[0].reading, p[0].value, p[1].reading, p[1].value));
  }
  const double gain = dy / dx;
  return Transfer{gain, p[0].value - gain * p[0].reading};
}

Result<ThrottleEnds> throttle_ends(std::span<const double> raw) {
  std::vector<double> v(raw.begin(), raw.end());
  std::erase_if(v, [](double x) { return !std::isfinite(x); });
  if (v.size() < 20) {
    return wrong(ErrorCode::bad_input, "throttle",
                 fmt::format("{} readings came; expected 20 or more", v.size()));
  }
  const std::vector<double> rest(v.begin(),
                                 v.begin() + static_cast<std::ptrdiff_t>(v.size() / 10 + 5));
  ThrottleEnds e;
  e.closed = median(rest);
  std::vector<double> d;
  for (std::size_t i = 1; i < rest.size(); ++i)
    d.push_back((rest[i] - rest[i - 1]) / std::sqrt(2.0));
  e.noise = robust_sd(d);
  const double top = quantile(v, 0.99);
  const double bottom = quantile(v, 0.01);
  e.open = std::abs(top - e.closed) > std::abs(bottom - e.closed) ? top : bottom;
  if (!(std::abs(e.open - e.closed) > 10 * e.noise) || e.open == e.closed) {
    return wrong(
        ErrorCode::out_of_range, "throttle",
        fmt::format("closed {:.3g}, open {:.3g}; expected the pedal to be pressed to the floor "
                    "and let go",
                    e.closed, e.open));
  }
  return e;
}

Result<AnalogueAgainstDigital> analogue_against_digital(std::span<const double> analogue,
                                                        std::span<const double> digital,
                                                        Duration row_step) {
  if (analogue.size() != digital.size()) {
    return wrong(ErrorCode::bad_input, "analogue against digital",
                 fmt::format("{} and {} rows came; expected as many of each", analogue.size(),
                             digital.size()));
  }
  // The shift at which they fit best, up to a second.
  const std::size_t most =
      row_step.si > 0 ? static_cast<std::size_t>(std::min(1.0 / row_step.si, 50.0)) : 0;
  AnalogueAgainstDigital best;
  double least = INFINITY;
  for (std::size_t shift = 0; shift <= most; ++shift) {
    std::vector<double> x, y;
    for (std::size_t i = most; i < analogue.size(); ++i) {
      if (!std::isfinite(analogue[i]) || !std::isfinite(digital[i - shift])) continue;
      x.push_back(digital[i - shift]);
      y.push_back(analogue[i]);
    }
    if (x.size() < 30) {
      return wrong(ErrorCode::bad_input, "analogue against digital",
                   fmt::format("{} rows with both came; expected 30 or more", x.size()));
    }
    const auto [low, high] = std::ranges::minmax_element(x);
    if (*high < 1.03 * *low) {
      return wrong(ErrorCode::out_of_range, "analogue against digital",
                   fmt::format("lambda {:.3f} to {:.3f} came; expected it to move by 3 % or more",
                               *low, *high));
    }
    const Line l = fit(x, y);
    if (!(l.sd < least) || l.gain == 0) continue;
    least = l.sd;
    const double middle = 0.5 * (*low + *high);
    best.gain = l.gain;
    best.offset = l.gain * middle + l.offset - middle;
    best.sd = l.sd;
    best.correction = {1 / l.gain, -l.offset / l.gain};
    best.late = static_cast<double>(shift) * row_step;
    const auto off = [&](double d) { return std::abs((l.gain * d + l.offset) / d - 1); };
    best.agree = std::max(off(*low), off(*high)) < 0.005;
  }
  return best;
}

}  // namespace fuelwright::advice
