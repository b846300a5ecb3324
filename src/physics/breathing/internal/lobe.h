/// A cam lobe from its card: tappet lift against crank angle, and the valve's lift at every degree.
///
/// The card gives the duration at three tappet lifts (0.006, 0.050 and 0.200 in), the largest lift
/// and where the lobe stands. Between them:
///
///   core   l = L (1 - (x/xe)^m)^n        |x| up to half the 0.050 in duration      (breathing.20)
///   flank  a Hermite cubic from 0.050 to 0.006 in, with the core's and the ramp's slopes
///   ramp   l = l006 (1 - u/w)^2 below 0.006 in, u beyond that duration, w = 30 deg 2^-shape
///   valve  max(0, rocker l - lash - lost motion)                                  (breathing.21)
///
/// m and xe reproduce the 0.050 and 0.200 in durations; n = 2 * 1.3^-shape, raised where the nose
/// would come out sharper than a parabola. A 0.200 in duration that nobody stated gives way to a
/// lobe that can be ground (m kept within 2 to 3.5). Limits: symmetrical lobe (except for
/// later_closing_deg), rigid valve train. Source: methods of the trade; ramp and exponents are
/// common practice, no source.
#pragma once

#include <array>

#include "base/result.h"
#include "car/build/sheet.h"
#include "physics/breathing/internal/parts.h"

namespace fuelwright::physics {

/// One side of a cam card in plain numbers.
struct LobeCard {
  const char* side = "intake";  ///< for messages: "cam.<side>_lift"
  double valve_lift_m = 0;      ///< before lash
  double rocker = 1;            ///< valve lift over tappet lift [-]
  double at_006_deg = 0;        ///< advertised duration [crank deg]
  double at_050_deg = 0;
  double at_200_deg = 0;
  bool knows_200 = false;  ///< the 0.200 in duration was stated
  double lash_m = 0;       ///< at the valve
  double lost_m = 0;       ///< lost motion, at the valve
  double centre_deg = 0;   ///< of the lobe, after firing top dead centre
  double later_closing_deg =
      0;             ///< the closing flank is stretched so that 0.006 in comes this much later
  double shape = 0;  ///< fuller (+1) or leaner (-1) flank, -2..2
};

/// The cards of a sheet; lost motion is halved for direct tappets (Unstated::lost_motion_m).
LobeCard intake_card(const car::Sheet& sheet, const Unstated& unstated);
LobeCard exhaust_card(const car::Sheet& sheet, const Unstated& unstated);

class Lobe {
 public:
  /// Errors: out_of_range naming the key, if the card contradicts itself: a lobe lower than 0.050
  /// in, durations that do not fall with lift, a flank steeper than any tappet follows, no lift
  /// left after the lash.
  static Result<Lobe> make(const LobeCard& card);

  /// Tappet lift [m] at x crank degrees after the lobe's centre, -360..360.
  double tappet_m(double x_deg) const;
  /// Valve lift [m] there.
  double valve_m(double x_deg) const;
  /// Half of the crank degrees with the tappet off its base circle, opening and closing side.
  double opens_before_deg() const { return half_006_ + ramp_; }
  double shuts_after_deg() const { return (half_006_ + ramp_) * closing_stretch_; }
  const LobeCard& card() const { return card_; }

 private:
  Lobe() = default;
  double core(double x) const;
  double core_slope(double x) const;  // downwards, positive [m/deg]
  double flank(double x) const;

  LobeCard card_;
  double lift_ = 0;  // at the tappet [m]
  double m_ = 0, n_ = 0, xe_ = 0;
  double half_050_ = 0, half_006_ = 0, ramp_ = 0;
  double closing_stretch_ = 1;
  double slope_050_ = 0, slope_006_ = 0;  // of lift, downwards [m/deg]
};

/// Valve lift [m] at every crank degree after firing top dead centre.
using LiftCurve = std::array<double, kCycleDegrees>;
LiftCurve lift_curve(const Lobe& lobe);

}  // namespace fuelwright::physics
