/// A finding: which sensor, what was seen, how sure that is, why it matters, what to do.
///
///   for (const Finding& f : report.findings) say(name_of(f.grade), f.seen, f.why, f.what_to_do);
///
/// Where noise decides, `evidence` carries a likelihood ratio and the chance of a false alarm;
/// where a thing is simply counted (a step of 2 kPa between neighbouring values), it is certain.
#pragma once

#include <cmath>
#include <span>
#include <string>
#include <vector>

#include "base/units/quantity.h"
#include "signals/channels/quantity.h"

namespace fuelwright::advice {

enum class Grade {
  fine,   ///< looked at, nothing against it
  doubt,  ///< may be used, with care; parts may be masked
  stop,   ///< do not drive on, or learn from, this before it is put right
};
const char* name_of(Grade grade);

/// Everything that is looked at, one name each.
enum class Check {
  // key on, engine off
  ambient_pressure,    ///< MAP against the pressure of the place
  temperatures_agree,  ///< coolant against intake air after a soak
  throttle_ends,       ///< closed, open, and smooth between
  battery_at_rest,
  mixture_in_free_air,
  fuel_pressure_static,
  fuel_pressure_decay,
  // the recording itself
  clock_gaps,
  clock_jitter,
  rate,       ///< rows too far apart
  polled,     ///< values taken in turn, some stale
  dropouts,   ///< blank cells
  spikes,     ///< one row far off and back
  stuck,      ///< one value while the engine moved
  quantised,  ///< coarse steps
  saturated,  ///< the end of a sensor's range
  // running
  noise,
  noise_with_speed,  ///< that follows crank rotation: ignition, a poor earth
  pulsation,         ///< of manifold pressure at idle, a big cam
  trigger,           ///< lost or added teeth
  map_offset,
  map_follows,       ///< in part only
  throttle_and_map,  ///< throttle against manifold pressure and speed
  coolant_steps,
  coolant_warms,
  intake_steps,
  heat_soak,
  voltage,
  fuel_demand,     ///< rail against what is asked
  regulator,       ///< rail off everywhere
  mixture_in_cut,  ///< a fuel cut must read full lean
  mixture_slow,    ///< sensor
  exhaust_slow,    ///< pipes
  mixture_cold,    ///< sensor not warm
  mixture_dead,
  misfire,
  overlap_idle,  ///< idle reads lean by dilution
  exhaust_leak,
  level_step,  ///< all of a sudden more or less fuel everywhere
  level_drift,
  standing_correction,
  banks,
};
inline constexpr int kChecks = 42;

struct CheckWords {
  Check check;
  const char* name;        ///< "map_offset", in JSON
  const char* label;       ///< "manifold pressure offset", for people
  const char* why;         ///< why it matters
  const char* what_to_do;  ///< next
};
std::span<const CheckWords> all_checks();
const CheckWords& words_of(Check check);

/// What speaks for a fault (sensor_checks.1, .2).
struct Evidence {
  double size = NAN;       ///< what was measured, in the check's own unit (see its finding)
  double sd = 0;           ///< of `size` in a healthy car, one standard deviation; 0: counted
  double ln_ratio = 0;     ///< ln of likelihood with the fault over without it
  double chance = 0;       ///< of the fault, 0..1, with the prior of the check
  double false_alarm = 1;  ///< chance that a healthy car shows as much
};

struct Finding {
  Check check = Check::rate;
  signals::Quantity sensor = signals::Quantity::other;
  int bank = 1;
  Grade grade = Grade::fine;
  std::string seen;    ///< a sentence with figures
  Duration from{};     ///< first moment; 0 without time
  Duration seconds{};  ///< of recording concerned; 0 without time
  long count = 0;      ///< rows or events
  Evidence evidence;
  std::string why, what_to_do;
};

/// A check that could not be made.
struct NotChecked {
  Check check = Check::rate;
  std::string because;
};

}  // namespace fuelwright::advice
