/// Seeded random numbers that are the same on every compiler: the standard leaves its distributions
/// open.
///
/// Each subject (driver, sensor, misfire ...) has its own stream, so that switching one off leaves
/// the others alone.
#pragma once

#include <cmath>
#include <cstdint>
#include <numbers>
#include <random>

namespace fuelwright::sim {

class Random {
 public:
  Random(std::uint64_t seed, std::uint64_t stream)
      : engine_(seed * 0x9E3779B97F4A7C15ull + stream * 0xD1B54A32D192ED03ull + 1) {}

  /// 0 <= x < 1.
  double uniform() { return static_cast<double>(engine_() >> 11) * 0x1.0p-53; }
  double uniform(double low, double high) { return low + (high - low) * uniform(); }
  /// Mean 0, standard deviation 1 (Box and Muller).
  double normal() {
    const double radius = std::sqrt(-2.0 * std::log(1.0 - uniform()));
    return radius * std::cos(2.0 * std::numbers::pi * uniform());
  }
  bool chance(double probability) { return uniform() < probability; }

 private:
  std::mt19937_64 engine_;
};

/// A value that wanders about zero and forgets itself over `memory_s` (Ornstein and Uhlenbeck),
/// exact for any step.
class Wander {
 public:
  Wander(double sd, double memory_s) : sd_(sd), memory_s_(memory_s) {}
  double step(double dt_s, Random& random) {
    const double keep = std::exp(-dt_s / memory_s_);
    value_ = keep * value_ + sd_ * std::sqrt(1.0 - keep * keep) * random.normal();
    return value_;
  }

 private:
  double sd_;
  double memory_s_;
  double value_ = 0;
};

}  // namespace fuelwright::sim
