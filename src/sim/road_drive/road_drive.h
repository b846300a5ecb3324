/// A drive of an invented car, as its recorder would have written it: truth in, CSV text out.
///
///   Truth truth = invent_truth(7, 5.0 * litre, 8);
///   car::Surface found = table_as_found(truth, grid, 7);
///   std::string csv = drive(truth, found, {.seed = 7, .minutes = 10});
///
/// A driver follows invented roads in a car with a manual gearbox; a speed-density engine computer
/// meters fuel by the table in force; film, exhaust and sensor stand between that fuel and the
/// reading. Same inputs, same bytes. Theory: docs/theory/road_drive.md.
#pragma once

#include <cstdint>
#include <optional>
#include <string>

#include "sim/road_drive/truth.h"

namespace fuelwright::sim {

/// The settings of the engine computer besides its VE table.
struct EngineComputer {
  double lambda_idle = 0.93;                    ///< wish below about 1000 rpm at light load [-]
  double lambda_cruise = 0.98;                  ///< [-]
  double lambda_full = 0.86;                    ///< from about 90 kPa [-]
  std::optional<car::Surface> lambda_target{};  ///< if given, in place of the three wishes
  bool closed_loop = true;
  AbsolutePressure closed_loop_below = absolute(80.0 * kPa);
  double correction_limit = 0.20;  ///< of the correction, either way [-]
  double correction_gain = 0.5;    ///< share of correction per share of error and second [1/s]
  double warm_up = 0.22;           ///< more fuel at 20 degC, none from 75 degC [-]
  double tip_in = 0.10;            ///< more fuel for a pressure rising at 100 kPa/s [-]
  bool fuel_cut = true;            ///< on the overrun
};

/// Which roads, and how they are driven.
struct Driver {
  bool road = true;     ///< 35..55 mph with firm accelerations
  bool highway = true;  ///< 55..75 mph
  bool hills = true;    ///< grades of up to about 5 %
  double firm_accelerations =
      0.15;       ///< share of the stretches begun at full throttle, to middling speed [-]
  int pulls = 0;  ///< full-throttle pulls to the redline, spread over the warm part of the drive
};

/// What is written down.
struct Columns {
  bool correction = true;
  bool afr_target = true;
  bool pulse_width = true;
  bool throttle = true;
  bool warm_up = false;      ///< "Warm-up (%)": the fuel added while cold
  bool metered_air = false;  ///< "MAF (g/s)", with the gain error of the truth
};

struct DriveOptions {
  std::uint64_t seed = 1;                      ///< of the roads, the driver and the noise
  double minutes = 10;                         ///< 0.1..600
  double rows_per_second = 20;                 ///< 1..100
  Temperature coolant_at_start = celsius(20);  ///< -40..110 degC
  double gauge_constant = 14.7;  ///< AFR shown = lambda times this, whatever the fuel [-]
  EngineComputer computer{};
  Driver driver{};
  Columns columns{};
};

/// The recording. Columns, in this order, those left out by options excepted:
///   Time (s),RPM,MAP (kPa),Throttle (%),Coolant (degF),Intake air (degF),AFR,AFR target,Correction
///   (%), Warm-up (%),Pulse width (ms),MAF (g/s),Battery (V),Speed (mph)
/// During a fuel cut the pulse width is 0 and the reading stands at its lean stop (lambda 1.55).
/// Options out of their range are a broken contract; so is a table without an engine-speed axis.
/// Cost: about 0.2 s of CPU for ten minutes (road_drive_bench.cc); memory goes with the text.
std::string drive(const Truth& truth, const car::Surface& ve_in_force, const DriveOptions& options);

}  // namespace fuelwright::sim
