/// Full throttle, climbed as a ladder: speed step by speed step, each predicted before it is tried.
///
/// A step may be tried when every step below was driven, light load at its own speed is known, the
/// outlook allows it and the injectors can feed it. Its prediction is the joint posterior's: what
/// light load and the steps below say through the prior's correlations. What the steps still to be
/// driven will add is computed beforehand: with the nodes o (steps below, light load up to here)
/// driven to an accuracy r,
///
///   C' = C_ii - C_io (C_oo + r^2 I)^-1 C_oi                                           (ladder.1)
///   lift where lambda > min(limit, max(lean end, 1.03 middle))                        (ladder.2)
///
/// r 1.5 %: short pulls. Source: conditioning of a Gaussian (textbook); the ladder itself from a
/// study on computed engines, where it predicted the next step to 1.0-1.4 % with a mild cam and
/// 1.6-2.5 % with a big one. Theory: docs/theory/outlook.md.
#pragma once

#include <optional>
#include <vector>

#include "advice/outlook/fuel_asked.h"
#include "car/fuel/mixture.h"

namespace fuelwright::advice {

enum class Step {
  driven,
  next,    ///< the lowest one not driven yet
  later,   ///< after those below
  closed,  ///< not predicted: outside the family, above a refuted step, beyond the duty
};

struct Rung {
  std::size_t ix = 0;  ///< speed step of the table
  EngineSpeed speed;
  std::size_t node = 0;
  Step step = Step::later;
  bool may_try = false;           ///< only ever the next one
  bool light_load_known = false;  ///< measured or inferred at this speed, a quarter to 70 % load
  double half_width = 0;          ///< 95 %, of ln lambda, now, without fuel delivery
  double half_width_then = 0;     ///< once light load up to here and the steps below are driven
  std::optional<car::Lambda> lift_at;  ///< leaner than this: lift (ladder.2)
};

/// How a step came out that had been predicted (rung.h).
enum class Came { as_predicted, leaner, richer };
struct RungCheck {
  EngineSpeed speed;
  car::Lambda rich, lean;  ///< between them it was expected, the reading's own error allowed for
  car::Lambda read;
  Came came = Came::as_predicted;
  bool refuted() const { return came != Came::as_predicted; }
};

struct Ladder {
  std::size_t row = 0;      ///< the load of the table that is full throttle
  std::vector<Rung> rungs;  ///< by speed; from 1500 rpm or 1.5 times idle on, to the rev limit
  std::optional<std::size_t> next;         ///< of rungs
  std::optional<std::size_t> light_row;    ///< the load nearest to half, the lever
  std::vector<std::size_t> light_missing;  ///< speed steps whose light load is not known yet
  /// 95 % half-width over the rungs not driven (root mean square), now and once light load was
  /// driven at every speed.
  double undriven_half_width = 0;
  double with_light_load = 0;
};

}  // namespace fuelwright::advice
