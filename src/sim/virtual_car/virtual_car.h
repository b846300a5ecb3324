/// A virtual car: a truth, a sheet, a calibration and something to drive in, a recording out.
///
///   Truth truth = drawn_truth(sheet, 7);
///   FW_CHECK(give_air(truth, sheet, 7));
///   const car::Calibration found = calibration_as_found(truth, sheet, 7);
///   FW_TRY(const Drive drive, drive_car(truth, sheet, found, {.task = cycle, .seed = 7}));
///   drive.recording;         // CSV text, as a recorder writes it
///
/// Three things kept apart: what is true (truth.h), what sensors say (the recording), what is
/// recovered (not here). The unit knows the sheet, the calibration and its sensors; never the
/// truth. Same inputs, same bytes. Theory: docs/theory/virtual_car.md.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "base/result.h"
#include "car/build/sheet.h"
#include "car/fault/fault.h"
#include "car/plan/plan.h"
#include "car/tables/calibration.h"
#include "sim/virtual_car/cycle.h"
#include "sim/virtual_car/truth.h"

namespace fuelwright::sim::virtual_car {

struct DriveRequest {
  std::variant<Cycle, car::Plan> task;
  std::vector<car::Fault> faults = {};
  std::uint64_t seed = 1;  ///< of the driver, the road and every noise
  /// A cycle is driven again and again until then; default: once. A plan ends by itself, at the
  /// latest then.
  std::optional<Duration> length = {};  ///< 5 s to 10 h
  bool keep_truth = false;              ///< fill Drive::truth
};

/// What was really so at a row of the recording.
struct TrueMoment {
  Duration time;
  EngineSpeed speed;
  AbsolutePressure map;
  MassFlow air;          ///< dry, into the cylinders
  MassFlow injected;     ///< fuel leaving the injectors
  MassFlow burnt;        ///< fuel into the cylinders less what is lost cold
  Mass film;             ///< on the walls
  double residual = 0;   ///< burnt share of the charge [-]
  double ve = 0;         ///< true_ve() [-]
  double looked_up = 0;  ///< the unit's VE [-]
  double lambda = 1;     ///< of all cylinders together, in this moment
  double correction = 0, enrichment = 0, lambda_target = 1;
  Temperature coolant;
  Speed road, wanted;  ///< wanted is negative where the driver followed no speed
  bool cut = false;    ///< no fuel: overrun or rev limit
};

struct Drive {
  std::string recording;
  std::vector<TrueMoment> truth;  ///< one a row, if asked for
  Length distance;
  Mass fuel;                    ///< injected
  /// Steps of a plan, from 1, that were not driven to their end: the car did not get there, the
  /// rev limit came first, or the length ran out.
  std::vector<int> cut_short;
  double within_tolerance = 1;  ///< share of time within 2 mph of the cycle, 1 s early or late [-]
  std::optional<car::Surface>
      learned;  ///< factors over the VE table, of a unit that corrects itself
};

/// Columns, those absent by truth.recorder.missing excepted; "AFR 2" where two sensors are fitted:
///   Time (s),RPM,MAP (kPa),Throttle (%),Coolant (degF),Intake air (degF),AFR,AFR 2,AFR target,
///   Correction (%),Warm-up (%),Pulse width (ms),MAF (g/s),Battery (V),Fuel pressure (kPa),
///   Speed (mph)
/// During a fuel cut the pulse width is 0. The engine is running when the recording begins;
/// cranking is not driven.
///
/// Errors: needs_answer if the truth has no air or the calibration no VE table; out_of_range for a
/// length or a plan that cannot be; conflict if a unit corrects itself by a sensor that is not
/// fitted. Cost: 1/100 of the time driven or less on one core (virtual_car_bench.cc).
Result<Drive> drive_car(const Truth& truth, const car::Sheet& sheet,
                        const car::Calibration& calibration, const DriveRequest& request);

}  // namespace fuelwright::sim::virtual_car
