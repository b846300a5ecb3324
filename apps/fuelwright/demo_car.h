/// The invented car of the demo, and what is known of its mixture because it is invented.
#pragma once

#include <cstdint>
#include <functional>
#include <string>
#include <vector>

#include "base/result.h"
#include "car/build/sheet.h"
#include "car/tables/calibration.h"
#include "demo.h"
#include "sim/virtual_car/truth.h"

namespace fuelwright::apps {

/// Cycles one after the other.
struct Road {
  std::string name;  ///< "town and country"
  std::vector<DemoCycle> cycles;
};

/// How far the mixture is off over the driven time: rms of
///
///   ln(lambda/target) + ln(1 + correction)
///
/// over the rows with warm coolant and no fuel cut within two seconds: what it would be without the
/// closed loop.
struct Off {
  double by_truth = 0;      ///< in the cylinders, the wall film's part included [-]
  double by_injectors = 0;  ///< as it leaves the injectors: what a fuel table can cure [-]
  double by_recorder = 0;   ///< as read at that moment: late, smeared, noisy, one sensor [-]
  double minutes = 0;       ///< counted
};

struct DemoDrive {
  std::string recording;
  double minutes = 0, miles = 0;
  Off off;
};

class DemoCar {
 public:
  /// A car that the sheet's tolerances allow: read from a truth with its air.
  static Result<DemoCar> read(const car::Sheet& sheet, const char* truth, std::uint64_t seed);
  /// The same, drawn from the seed and its engine's air computed, which takes half a minute.
  static Result<DemoCar> invent(const car::Sheet& sheet, std::uint64_t seed,
                                const std::function<void(double share)>& progress);
  /// The calibration it came with: VE wrong by 5 to 15 %.
  car::Calibration as_found() const;
  Result<DemoDrive> drive(const car::Calibration& in_unit, const Road& road,
                          std::uint64_t seed) const;
  /// The AFR that its gauge shows at lambda 1.
  double gauge_constant() const { return truth_.sensor.gauge_constant; }

 private:
  DemoCar(car::Sheet sheet, std::uint64_t seed, sim::virtual_car::Truth truth);
  car::Sheet sheet_;
  std::uint64_t seed_;
  sim::virtual_car::Truth truth_;
};

}  // namespace fuelwright::apps
