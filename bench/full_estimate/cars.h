/// Invented cars to be scored on: sheet, truth, the table they came with, and what they drive.
///
/// A car's number decides its kind and every draw. 101 to 124 are for choosing settings, 301 to 312
/// for scoring (201 to 212 were scored before 113 to 124 were looked at); every twelve hold all eight
/// kinds, of them three injected above the throttle on a wet manifold and three with much overlap.
#pragma once

#include <cstdint>
#include <functional>
#include <string>
#include <vector>

#include "car/build/sheet.h"
#include "car/plan/plan.h"
#include "car/tables/calibration.h"
#include "sim/virtual_car/virtual_car.h"

namespace fuelwright::bench {

inline constexpr std::uint64_t kFirstTuningCar = 101;
inline constexpr std::uint64_t kFirstScoredCar = 301;
inline constexpr int kCars = 12;

/// Where costly things are kept between runs; empty: nowhere.
struct Keep {
  std::string folder;
  /// The text of that name: as kept, or made and kept.
  std::string text(const std::string& name, const std::function<std::string()>& make) const;
};

struct TestCar {
  std::uint64_t number = 0;
  std::string kind;
  bool wet = false;      ///< injected above the throttle, on a wet manifold
  bool big_cam = false;  ///< much overlap
  car::Sheet sheet;
  sim::virtual_car::Truth truth;
  car::Calibration found;

  const car::Surface& table() const { return *found.find(car::TableWhat::ve); }
};

/// With its air, which takes seconds to a minute unless it is kept.
TestCar test_car(std::uint64_t number, const Keep& keep);

/// Gain 1 and no pressure error; noise, drift and what an idle with overlap does to it stay.
sim::virtual_car::Truth with_true_sensor(sim::virtual_car::Truth truth);
/// Other pressure, temperature and humidity of the air, drawn from the seed.
sim::virtual_car::Truth another_day(sim::virtual_car::Truth truth, std::uint64_t seed);

/// Ordinary driving: the four cycles of examples/cycles one after another, from which of them on
/// the car's number says.
sim::virtual_car::Cycle ordinary_driving(std::uint64_t car);
/// Four pulls at full throttle, from a third of the rev limit to nineteen twentieths of it.
car::Plan pulls(const TestCar& car);

/// The recording, as text; the engine is warm when it begins. Ends the program on an error.
std::string recorded(const TestCar& car, const sim::virtual_car::Truth& truth,
                     const std::variant<sim::virtual_car::Cycle, car::Plan>& task,
                     std::uint64_t seed, Duration length);

}  // namespace fuelwright::bench
