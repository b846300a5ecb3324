/// Limits beside the fuel: how fast the engine may turn, what its pressure sensor must reach, what
/// the alternator must carry.
///
///   piston   n = v/(2 stroke), v mean piston speed: 21 m/s street, 25 m/s racing        (limits.1)
///   breathing: where power has fallen 5 % below its peak: nothing is gained beyond      (limits.2)
///   valves: by the kind of tappet, less with more lift                                  (limits.3)
///
/// All three are common practice of the trade (no source); (limits.2) is computed from the torque
/// that the engine model gives. The least of them is suggested, never above what the owner stated;
/// a stated limit is kept as it is, and told which bounds it exceeds. Theory:
/// docs/theory/limits.md.
#pragma once

#include <optional>
#include <span>
#include <vector>

#include "base/units/electric.h"
#include "car/build/sheet.h"
#include "physics/ensemble/ensemble.h"

namespace fuelwright::physics::limits {

enum class LimitBy : std::uint8_t { piston_speed, breathing, valve_train, wish };
const char* name_of(LimitBy by);

struct Bound {
  LimitBy by{};
  physics::Interval rpm;  ///< low, middle, high [1/min]
};

struct RevLimit {
  EngineSpeed hard, soft;     ///< suggested
  LimitBy by{};               ///< which bound `hard` comes from; wish: the stated one is least
  std::vector<Bound> bounds;  ///< those that exist, lowest first
  Speed piston_speed;         ///< mean, at `hard`
  std::optional<EngineSpeed> stated;
  Speed stated_piston_speed{};      ///< mean, at `stated`
  bool beyond_racing = false;       ///< stated: above 25 m/s of mean piston speed
  bool beyond_valve_train = false;  ///< stated: above the upper end of what such tappets follow
  bool beyond_breathing = false;    ///< stated: where power has long fallen
  /// What was stated lies above what is suggested.
  bool stated_less_safe() const { return stated && *stated > hard; }
};

/// Mean piston speed to engine speed (limits.1); stroke above 0.
EngineSpeed speed_at_piston(Length stroke, Speed mean);
/// (limits.2) of one engine: none while power still stands within 5 % at the last speed. Sizes
/// equal, speeds increasing, 3 or more.
std::optional<EngineSpeed> breathes_to(std::span<const EngineSpeed> speeds,
                                       std::span<const Power> power);
/// (limits.3)
physics::Interval valve_train_rpm(const car::Cam& cam);
/// power[engine][speed]; empty: breathing is left out. The soft limit stands 3 % below the hard
/// one, 150 to 300 rpm, in whole fifties.
RevLimit rev_limit(const car::Sheet& sheet, std::span<const EngineSpeed> speeds,
                   const std::vector<std::vector<Power>>& power);

/// Does the manifold-pressure sensor reach what will be there? Expected: from deep overrun to
/// ambient and boost, with 5 % for gusts, altitude and overshoot (boost: 10 %).
struct SensorRange {
  AbsolutePressure expected_low, expected_high;
  bool low_enough = true, high_enough = true;
  AbsolutePressure needs_high;  ///< upper end of the smallest sensor that is sold for it
  PressureStep lost{};          ///< range that will never be used: a coarser reading
};
SensorRange map_range(const car::Sheet& sheet, PressureStep boost, AbsolutePressure overrun);

/// Electric load, and what the alternator gives at idle and at speed.
struct Loads {
  Current fuel_pump{};
  int injectors = 0;
  double duty = 0;  ///< at full throttle
  int cylinders = 0;
  Volume displacement{};
  EngineSpeed speed{}, idle{};
  Current others = 35.0 * ampere;  ///< lamps, fan, blower, control unit (practice)
  Voltage volts = 13.8 * volt;
  std::optional<Current> alternator;  ///< as rated; unknown: only the need is told
};
struct Electric {
  Current full, idle;            ///< drawn
  Current rated_needed;          ///< smallest alternator that carries both, with a tenth in hand
  Current battery_needed;        ///< cold cranking: 1 A a cubic inch (common practice, no source)
  std::optional<double> margin;  ///< of the alternator, the worse of both [-]
};
/// One injector coil 1 A while open, one spark 0.10 J from the battery, an alternator gives half of
/// its rating at idle (from memory).
Electric electric_load(const Loads& loads);

}  // namespace fuelwright::physics::limits
