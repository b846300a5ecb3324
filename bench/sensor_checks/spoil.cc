#include "spoil.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <random>

#include "base/contract.h"
#include "signals/channels/steadiness.h"

namespace fuelwright::bench {
namespace {

std::vector<double>& of(Recording& r, Quantity q, int bank = 1) {
  for (signals::Channel& c : r.channels) {
    if (c.what == q && c.bank == bank) return c.si;
  }
  broken_contract("a recorded channel", __FILE__, __LINE__);
}

using Random = std::mt19937_64;
double uniform(Random& g) { return std::uniform_real_distribution<>(0, 1)(g); }
double normal(Random& g) { return std::normal_distribution<>()(g); }

}  // namespace

void blank(Recording& r, Quantity q, double rate, std::uint64_t seed) {
  Random g(seed);
  for (double& v : of(r, q)) {
    if (uniform(g) < rate) v = NAN;
  }
}

void spike(Recording& r, Quantity q, double rate, double to, std::uint64_t seed) {
  Random g(seed);
  std::vector<double>& v = of(r, q);
  for (std::size_t i = 1; i + 2 < v.size(); ++i) {
    if (uniform(g) > rate / 1.5) continue;
    v[i] = to;
    if (uniform(g) < 0.5) v[i + 1] = to;
    i += 2;
  }
}

void hold(Recording& r, Quantity q, double for_s, int times, std::uint64_t seed) {
  Random g(seed);
  std::vector<double>& v = of(r, q);
  const std::vector<double>& speed = of(r, Quantity::speed);
  const auto rows = static_cast<std::size_t>(for_s / r.row_step->si + 0.5);
  for (int k = 0; k < times;) {
    const auto at = static_cast<std::size_t>(uniform(g) * static_cast<double>(r.rows - rows - 2));
    // A road speed that changes: driving off, braking, a pull.
    const double before = speed[at];
    const double after = speed[std::min(at + std::max<std::size_t>(rows, 20), r.rows - 1)];
    if (!(std::abs(after - before) > 1.0)) continue;
    for (std::size_t i = at; i < at + rows; ++i) v[i] = v[at];
    ++k;
  }
}

void quantise(Recording& r, Quantity q, double step) {
  for (double& v : of(r, q)) v = std::round(v / step) * step;
}

void limit_top(Recording& r, Quantity q, double top) {
  for (double& v : of(r, q)) v = std::min(v, top);
}

void add(Recording& r, Quantity q, double offset, double from_s) {
  std::vector<double>& v = of(r, q);
  for (std::size_t i = 0; i < v.size(); ++i) {
    if (r.time_s[i] >= from_s) v[i] += offset;
  }
}

void add_noise(Recording& r, Quantity q, double sd, std::uint64_t seed) {
  Random g(seed);
  for (double& v : of(r, q)) v += sd * normal(g);
}

void add_in_step(Recording& r, Quantity q, double amplitude, double order, double fade_rpm) {
  const std::vector<double>& n = of(r, Quantity::rpm);
  std::vector<double>& v = of(r, q);
  double turns = 0;
  for (std::size_t i = 1; i < v.size(); ++i) {
    turns += 0.5 * (n[i] + n[i - 1]) / 60 * (r.time_s[i] - r.time_s[i - 1]);
    const double a = fade_rpm > 0 ? amplitude * std::exp(-n[i] / fade_rpm) : amplitude;
    v[i] += a * std::cos(2 * std::numbers::pi * order * turns);
  }
}

void jitter(Recording& r, double sd_s, std::uint64_t seed) {
  Random g(seed);
  for (double& t : r.time_s) t += sd_s * normal(g);
  for (std::size_t i = 1; i < r.rows; ++i)
    r.time_s[i] = std::max(r.time_s[i], r.time_s[i - 1] + 1e-3);
}

void drop_rows(Recording& r, double for_s, int times, std::uint64_t seed) {
  Random g(seed);
  std::vector<char> gone(r.rows, 0);
  const auto rows = static_cast<std::size_t>(for_s / r.row_step->si + 0.5);
  for (int k = 0; k < times; ++k) {
    const auto at = static_cast<std::size_t>(uniform(g) * static_cast<double>(r.rows - rows - 2));
    std::fill_n(gone.begin() + static_cast<std::ptrdiff_t>(at + 1), rows, 1);
  }
  const auto keep = [&](std::vector<double>& v) {
    std::size_t to = 0;
    for (std::size_t i = 0; i < v.size(); ++i) {
      if (!gone[i]) v[to++] = v[i];
    }
    v.resize(to);
  };
  for (signals::Channel& c : r.channels) keep(c.si);
  keep(r.time_s);
  r.rows = r.time_s.size();
  r.segments.assign(1, {0, r.rows, "1"});
}

void poll(Recording& r, int round) {
  for (std::size_t k = 0; k < r.channels.size(); ++k) {
    std::vector<double>& v = r.channels[k].si;
    for (std::size_t i = 1; i < v.size(); ++i) {
      if (i % static_cast<std::size_t>(round) != k % static_cast<std::size_t>(round))
        v[i] = v[i - 1];
    }
  }
}

void lose_teeth(Recording& r, double rate, std::uint64_t seed) {
  Random g(seed);
  for (double& n : of(r, Quantity::rpm)) {
    int lost = 0;
    for (int tooth = 0; tooth < 9; ++tooth) lost += uniform(g) < rate;
    n *= 9.0 / (9 + lost);
  }
}

void shorten_lean(Recording& r, double gain, std::uint64_t seed) {
  Random g(seed);
  for (double& v : of(r, Quantity::lambda)) {
    if (v > 1) v = 1 + gain * (v - 1);
    v *= 1 + 0.005 * normal(g);
  }
}

void cold_sensor(Recording& r, double for_s, double at) {
  std::vector<double>& v = of(r, Quantity::lambda);
  for (std::size_t i = 0; i < v.size() && r.time_s[i] < for_s; ++i) v[i] = at;
}

void slow_mixture(Recording& r, double lag_s) {
  std::vector<double>& v = of(r, Quantity::lambda);
  double phi = 1 / v[0];
  for (std::size_t i = 1; i < v.size(); ++i) {
    const double keep = std::exp(-(r.time_s[i] - r.time_s[i - 1]) / lag_s);
    phi = keep * phi + (1 - keep) / v[i];
    v[i] = 1 / phi;
  }
}

void judge(Recording& r) { signals::judge_simultaneity(r); }

}  // namespace fuelwright::bench
