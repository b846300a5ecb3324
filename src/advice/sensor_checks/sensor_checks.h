/// Can the sensors be believed? Key on with the engine off, and from the recording of a drive.
///
///   SensorReport at_rest = check_key_on(recording, {.sheet = sheet, .weather = weather});
///   SensorReport driven  = check_running(recording, {.sheet = sheet, .table = &ve});
///   for (const Finding& f : driven.findings) ...        // worst first
///   driven.masks                                        // what an estimate may use
///   driven.refused()                                    // why nothing of it can be used, if so
///
/// Findings carry a likelihood, not a bare threshold, wherever noise decides: false alarms are kept
/// under 1e-3 a check and recording. Theory and every threshold: docs/theory/sensor_checks.md.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "advice/sensor_checks/finding.h"
#include "advice/sensor_checks/masks.h"
#include "base/units/points.h"
#include "car/build/sheet.h"
#include "car/tables/surface.h"
#include "signals/channels/channel.h"

namespace fuelwright::advice {

/// What is known of the air outside. All of it may be left out; then the sheet's place counts.
struct WeatherReport {
  std::optional<AbsolutePressure> station;    ///< at the place itself: a barometer
  std::optional<AbsolutePressure> sea_level;  ///< as a weather report gives it
  std::optional<Length> altitude;             ///< with sea_level; otherwise the sheet's
  std::optional<Temperature> air;
  std::optional<Duration> stood;  ///< since the engine last ran
};

/// Pressure at the place and how well it is known, one standard deviation: 0.3 kPa by a barometer,
/// 1 kPa otherwise (2 kPa as a 95 % half-width). A report's pressure is brought from sea level to
/// the altitude by the standard atmosphere, p = p0 (1 - L h/T0)^(g/(R L)) (sensor_checks.3)
struct PlacePressure {
  AbsolutePressure pressure;
  PressureStep sd;
  std::string from;  ///< "a barometer", "the weather report at 1500 m", "the sheet's place"
};
PlacePressure place_pressure(const WeatherReport& weather, const car::Sheet& sheet,
                             const signals::Recording* recording = nullptr,
                             UnitSystem units = UnitSystem::metric);

struct CheckedCar {
  const car::Sheet& sheet;
  WeatherReport weather = {};
  const car::Surface* table = nullptr;    ///< of VE, in force while the recording was made
  UnitSystem units = UnitSystem::metric;  ///< of the sentences
};

struct SensorReport {
  std::vector<Finding> findings;  ///< stop first, then doubt, then fine
  std::vector<NotChecked> not_checked;
  Masks masks;             ///< of findings, and of the driving: standing, cold, overrun, cuts
  Masks masks_of_sensors;  ///< of findings alone
  int mixture_sensors = 0;
  Grade worst() const;
  const Finding* find(Check check) const;  ///< the gravest of that check, nullptr if none
  /// Why no estimate may use this recording at all.
  std::optional<std::string> refused() const;
};

/// Rows with the key on and the engine standing: taken from a recording of their own or from the
/// beginning of a drive. The pedal should be pressed slowly to the floor and let go once in them.
SensorReport check_key_on(const signals::Recording& recording, const CheckedCar& car);

/// The drive. Rows with the engine standing are used where they help (free air, ambient pressure).
SensorReport check_running(const signals::Recording& recording, const CheckedCar& car);

}  // namespace fuelwright::advice
