/// The first calibration: every table, curve and setting of an engine that has never run, from its
/// build sheet and from what the engine model computed of it, each with how it came about.
///
///   FW_TRY(const FirstCalibration first, first_calibration(sheet, prediction));
///   first.calibration.find(car::SettingWhat::idle_spark);     // 24 deg
///   first.calibration.origin(car::SettingWhat::idle_spark)->reason;
///
/// Where the prediction cannot tell (no clean burn, wide spread) a value is a safe start on the
/// rich side and says so. Pure rules: nothing is simulated here. Theory:
/// docs/theory/first_calibration.md.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "advice/first_calibration/breakpoints.h"
#include "base/result.h"
#include "car/build/sheet.h"
#include "car/tables/calibration.h"

namespace fuelwright::advice {

/// What an engine model says of one engine, as first_calibration() needs it. Whoever computes it
/// fills every member; arrays over nodes are [y][x], row-major, over `grid`.
struct AirPrediction {
  car::Grid grid;  ///< of the unit's tables: car::table_grid(sheet)

  std::vector<double> map_pa;  ///< manifold pressure at the node, whatever the load axis
  std::vector<double> ve;      ///< mean over the ensemble, referred to manifold and intake air [-]
  std::vector<double> sd_log;  ///< standard deviation of ln VE, discrepancy included [-]
  std::vector<double> residual;   ///< mean burnt share of the charge [-]
  std::vector<double> reachable;  ///< share of the members that burn there, 0..1 [-]
  std::vector<double> mbt_deg;    ///< spark of best torque, before top dead centre
  std::vector<double> knock_deg;  ///< largest spark without knock on this fuel; 90 if it never does

  /// Full throttle, mean over the ensemble; increasing speeds.
  std::vector<double> full_speed_rpm;
  std::vector<double> full_torque_nm;

  /// Warm idle at the wished speed: manifold pressure and air, with their standard deviations.
  AbsolutePressure idle_map;
  PressureStep idle_map_sd;
  MassFlow idle_air;
  MassFlow idle_air_sd;

  AbsolutePressure ambient;
  Temperature intake_air;  ///< in the plenum while it was computed
  /// Air goes with (intake temperature)^-n at constant manifold pressure; n and its spread [-]. 1
  /// is the gas law alone, 0.5 a charge that is warmed fully by the walls.
  double charge_exponent = 0.75;
  double charge_exponent_sd = 0.1;

  /// VE on a finer grid over the same kinds of axes, for the breakpoints; none: none are proposed.
  std::optional<car::Surface> fine_ve;
};

struct FirstCalibration {
  car::Calibration calibration;       ///< complete: every curve and setting, ve, lambda and spark
  std::vector<std::string> lines;     ///< how each came about, in the order a person sets them
  std::vector<std::string> cautions;  ///< what to watch or to decide before the first start
  std::optional<ProposedAxes> axes;   ///< breakpoints that lose less than the present ones
};

/// Errors: out_of_range naming what of the prediction is no number or cannot be (a VE outside
/// 0.02..2.5 at a node that burns, a negative spread, a full-throttle curve without points).
Result<FirstCalibration> first_calibration(const car::Sheet& sheet, const AirPrediction& air);

}  // namespace fuelwright::advice
