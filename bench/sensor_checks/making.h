/// Makers of sick and healthy recordings, for the lists of faults.
#pragma once

#include <cmath>

#include "cases.h"
#include "key_on_rows.h"
#include "spoil.h"

namespace fuelwright::bench::made {

using signals::Recording;
using Truth = sim::virtual_car::Truth;
using C = Check;
using F = car::FaultKind;

// Drives are long to make: the last healthy one of a car and a road is kept.
inline const Recording& usual(const GarageCar& car, std::uint64_t road) {
  static std::string of;
  static Recording kept;
  const std::string now = car.name + std::to_string(car.seed) + "/" + std::to_string(road);
  if (now != of) {
    kept = drive(car, {.road = road});
    of = now;
  }
  return kept;
}

using Sick = std::function<Recording(const GarageCar&, double, std::uint64_t)>;
using Healthy = std::function<Recording(const GarageCar&, std::uint64_t)>;

inline Sick spoiled(std::function<void(Recording&, double, std::uint64_t)> f) {
  return [f](const GarageCar& car, double severity, std::uint64_t road) {
    Recording r = usual(car, road);
    f(r, severity, road + car.seed);
    judge(r);
    return r;
  };
}
inline Healthy as_is() {
  return [](const GarageCar& car, std::uint64_t road) { return usual(car, road); };
}
inline Healthy looks(std::function<void(Recording&, std::uint64_t)> f) {
  return [f](const GarageCar& car, std::uint64_t road) {
    Recording r = usual(car, road);
    f(r, road + car.seed);
    judge(r);
    return r;
  };
}
inline Sick broken(F kind, double from_s, double per_unit) {
  return [=](const GarageCar& car, double severity, std::uint64_t road) {
    return drive(car, {.road = road, .faults = {{kind, from_s * second, severity * per_unit}}});
  };
}
inline Sick changed(std::function<void(Truth&, double)> f) {
  return [f](const GarageCar& car, double severity, std::uint64_t road) {
    return drive(car, {.road = road, .change = [&](Truth& t) { f(t, severity); }});
  };
}
inline Healthy other(std::function<void(Truth&)> f) {
  return [f](const GarageCar& car, std::uint64_t road) {
    return drive(car, {.road = road, .change = f});
  };
}
inline Sick rest(std::function<void(AtRest&, double)> f) {
  return [f](const GarageCar& car, double severity, std::uint64_t seed) {
    AtRest a;
    f(a, severity);
    return key_on_rows(car, a, seed);
  };
}
inline Healthy at_rest(std::function<void(AtRest&)> f = {}) {
  return [f](const GarageCar& car, std::uint64_t seed) {
    AtRest a;
    if (f) f(a);
    return key_on_rows(car, a, seed);
  };
}

}  // namespace fuelwright::bench::made
