/// Seeded random numbers, the same on every compiler, with a stream for each subject, so that
/// switching one off leaves the others alone.
#pragma once

#include <cmath>
#include <cstdint>
#include <numbers>
#include <string_view>

namespace fuelwright::sim::virtual_car {

/// SplitMix64 (Steele, Lea and Flood 2014; from memory).
class Random {
 public:
  Random(std::uint64_t seed, std::string_view subject) : state_(seed * 0x9E3779B97F4A7C15ull) {
    std::uint64_t hash = 0xCBF29CE484222325ull;  // Fowler, Noll and Vo
    for (const char c : subject) hash = (hash ^ static_cast<unsigned char>(c)) * 0x100000001B3ull;
    state_ ^= hash;
    next();
  }
  /// 0 <= x < 1.
  double uniform() { return static_cast<double>(next() >> 11U) * 0x1.0p-53; }
  double uniform(double low, double high) { return low + (high - low) * uniform(); }
  /// Mean 0, standard deviation 1 (Box and Muller).
  double normal() {
    if (has_spare_) {
      has_spare_ = false;
      return spare_;
    }
    const double radius = std::sqrt(-2.0 * std::log(1.0 - uniform()));
    const double angle = 2.0 * std::numbers::pi * uniform();
    spare_ = radius * std::sin(angle);
    has_spare_ = true;
    return radius * std::cos(angle);
  }
  bool chance(double probability) { return uniform() < probability; }

 private:
  std::uint64_t next() {
    std::uint64_t z = (state_ += 0x9E3779B97F4A7C15ull);
    z = (z ^ (z >> 30U)) * 0xBF58476D1CE4E5B9ull;
    z = (z ^ (z >> 27U)) * 0x94D049BB133111EBull;
    return z ^ (z >> 31U);
  }
  std::uint64_t state_;
  double spare_ = 0;
  bool has_spare_ = false;
};

/// Wanders about zero and forgets itself over `memory_s` (Ornstein and Uhlenbeck), for a fixed
/// step.
class Wander {
 public:
  Wander(double sd, double memory_s, double dt_s)
      : keep_(std::exp(-dt_s / memory_s)), kick_(sd * std::sqrt(1.0 - keep_ * keep_)) {}
  double step(Random& random) { return value_ = keep_ * value_ + kick_ * random.normal(); }

 private:
  double keep_, kick_, value_ = 0;
};

}  // namespace fuelwright::sim::virtual_car
