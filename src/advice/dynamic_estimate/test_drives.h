/// Invented cars and their drives for the tests of this module (drives_test.cc makes them). Their
/// air is a formula, so that nothing takes long.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "advice/dynamic_estimate/dynamic_estimate.h"
#include "car/plan/plan.h"
#include "car/tables/calibration.h"

namespace fuelwright::advice {

struct TestCar {
  car::Sheet sheet;
  std::uint64_t seed = 1;
  std::string truth;  ///< keys of a truth file, dotted, one a line: "sensor.lag_s = 0.7\n"
  bool ideal = false;
  car::Calibration calibration;
  const car::Surface& found() const { return calibration.tables.at(car::TableWhat::ve); }
  void drive_with(car::Surface ve) { calibration.tables.at(car::TableWhat::ve) = std::move(ve); }
};

/// A warm V8 with everything drawn from the seed that `truth` does not say; its table is 5 to 15 %
/// off.
TestCar invent(std::uint64_t seed, const std::string& truth = "");
/// VE 0.88 everywhere and 0.80 in the table; nothing else is off, and nothing but time stands
/// between table and reading.
TestCar ten_percent_lean(const std::string& truth = "");
car::Sheet v8_sheet();

/// Town, road and fast road, round and round: 20 rows a second, unless the truth says otherwise.
signals::Recording drive(const TestCar& c, std::uint64_t seed, double minutes);
signals::Recording drive(const TestCar& c, std::uint64_t seed, const car::Plan& plan);

/// ln(what the table must say / what it said) along another drive of the car, where it was steady
/// for a second: there the film is near balance, and what went in is what was asked for.
struct Judge {
  std::vector<car::OperatingPoint> at;
  std::vector<double> off;
};
Judge judge_of(const TestCar& c, std::uint64_t seed, double minutes);

struct Score {
  double rms = 0;
  double held = 0;  ///< share inside 95 %
};
Score score(const MapEstimate& e, const Judge& j);

DynamicOptions options_for(const car::Sheet& sheet);

}  // namespace fuelwright::advice
