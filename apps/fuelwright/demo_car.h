/// The invented car of the demo, and what is known of its mixture because it is invented.
#pragma once

#include <cstdint>
#include <functional>
#include <string>
#include <vector>

#include "base/result.h"
#include "car/build/sheet.h"
#include "car/plan/plan.h"
#include "car/tables/calibration.h"
#include "demo.h"
#include "sim/virtual_car/truth.h"
#include "sim/virtual_car/virtual_car.h"

namespace fuelwright::apps {

/// Cycles one after the other.
struct Road {
  std::string name;  ///< "town and country"
  std::vector<DemoCycle> cycles;
};

/// Seconds and speeds [m/s] of a road.
Result<std::vector<std::pair<double, double>>> speeds_of(const Road& road);

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

/// The VE that would have given the target mixture at that moment, as it leaves the injectors.
struct Wanted {
  car::OperatingPoint at;
  double ve = 0;
};

struct DemoDrive {
  std::string recording;
  double minutes = 0, miles = 0;
  Off off;
  std::vector<Wanted> wanted;  ///< two a second, warm, no fuel cut
  std::vector<int> cut_short;  ///< steps of a plan that were not driven to their end
};

/// How far a table is from what was wanted: rms of ln, and the share of moments within `good`.
struct Apart {
  double rms = 0, within = 0;
};
Apart apart(const car::Surface& table, const std::vector<Wanted>& wanted, double good);

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
  /// By a plan, the engine still warm from the drive before.
  Result<DemoDrive> drive(const car::Calibration& in_unit, const car::Plan& plan,
                          std::uint64_t seed) const;
  /// A recording with the key on and the engine standing, after a night outside.
  std::string standing(std::uint64_t seed) const;
  /// What a barometer and a thermometer beside the car say.
  AbsolutePressure barometer() const { return truth_.weather.ambient; }
  Temperature air() const { return truth_.weather.air; }
  /// The AFR that its gauge shows at lambda 1.
  double gauge_constant() const { return truth_.sensor.gauge_constant; }

 private:
  DemoCar(car::Sheet sheet, std::uint64_t seed, sim::virtual_car::Truth truth);
  Result<DemoDrive> driven(const sim::virtual_car::Truth& truth, const car::Calibration& in_unit,
                           sim::virtual_car::DriveRequest request) const;
  car::Sheet sheet_;
  std::uint64_t seed_;
  sim::virtual_car::Truth truth_;
};

}  // namespace fuelwright::apps
