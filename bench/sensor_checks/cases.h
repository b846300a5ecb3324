/// The faults of the bench: each at three severities, each beside the healthy recording that looks
/// most like it.
#pragma once

#include <array>
#include <functional>
#include <string>
#include <vector>

#include "advice/sensor_checks/sensor_checks.h"
#include "cars.h"

namespace fuelwright::bench {

using advice::Check;

struct FaultCase {
  std::string name;
  bool key_on = false;
  bool grave = false;        ///< of stop grade: at the middle severity it must not be missed
  std::vector<Check> names;  ///< the checks that name it
  std::array<double, 3> severity{};
  std::string unit;  ///< of the severity
  std::function<signals::Recording(const GarageCar&, double severity, std::uint64_t seed)> sick;
  std::string like;  ///< the healthy look-alike
  std::function<signals::Recording(const GarageCar&, std::uint64_t seed)> healthy;
  /// What the checks are told of the sick car, and of the healthy one, if more than usual.
  std::function<void(advice::CheckedCar&)> say = {}, say_healthy = {};
};

void key_on(std::vector<FaultCase>& list);
void of_the_recording(std::vector<FaultCase>& list);
void of_noise(std::vector<FaultCase>& list);
void of_pressure(std::vector<FaultCase>& list);
void of_mixture(std::vector<FaultCase>& list);
std::vector<FaultCase> all_faults_of_the_bench();

}  // namespace fuelwright::bench
