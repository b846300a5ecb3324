#include "physics/breathing/internal/lobe.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace fuelwright::physics {
namespace {

constexpr double kLift006_m = 0.006 * 0.0254;
constexpr double kLift050_m = 0.050 * 0.0254;
constexpr double kLift200_m = 0.200 * 0.0254;
constexpr double kRamp_deg =
    30;  // of crank, from 0.006 in to the base circle (0.0004 in/deg at its top)
constexpr double kUsualSharpness = 2;  // n of the core
constexpr double kSharpestSharpness = 8;
constexpr double kRoundNose = 2;                    // m of a parabolic nose
constexpr double kFlatNose = 3.5;                   // flatter only if a stated duration says so
constexpr double kLeastNose = 1.3, kMostNose = 12;  // of stated durations
constexpr double kLeastFlank_deg = 4;               // from 0.050 to 0.006 in, one side

Error wrong(const LobeCard& card, const char* key, std::string message) {
  return {ErrorCode::out_of_range, fmt::format("cam.{}_{}", card.side, key), std::move(message)};
}

// 1 - r^(1/n): how far the core has come down, as (x/xe)^m.
double fallen(double share_of_lift, double n) { return 1 - std::pow(share_of_lift, 1 / n); }

// m of the core through both durations, for this n.
double nose(double share_050, double share_200, double half_050, double half_200, double n) {
  return std::log(fallen(share_050, n) / fallen(share_200, n)) / std::log(half_050 / half_200);
}

// The smallest n from `usual` on that gives a round nose; nose() grows with n.
double sharpness_for_round_nose(double share_050, double share_200, double half_050,
                                double half_200, double usual) {
  double low = usual, high = kSharpestSharpness;
  for (int i = 0; i < 40; ++i) {
    const double n = (low + high) / 2;
    (nose(share_050, share_200, half_050, half_200, n) < kRoundNose ? low : high) = n;
  }
  return high;
}

struct Exponents {
  double m, n;
};

Result<Exponents> exponents(const LobeCard& card, double tappet_lift_m) {
  const double usual = kUsualSharpness * std::pow(1.3, -std::clamp(card.shape, -2.0, 2.0));
  const double share_050 = kLift050_m / tappet_lift_m;
  const double share_200 = kLift200_m / tappet_lift_m;
  constexpr double kJustReached = 0.995;
  if (share_200 >= kJustReached) {
    if (!card.knows_200) return Exponents{kRoundNose, usual};
    return wrong(
        card, "duration_200",
        fmt::format(
            "{:.4g} deg at 0.200 in, but the tappet rises {:.4g} in only (lift over rocker ratio)",
            card.at_200_deg, tappet_lift_m / 0.0254));
  }
  const double half_050 = card.at_050_deg / 2, half_200 = card.at_200_deg / 2;
  if (!(half_200 > 0 && half_200 < half_050)) {
    if (!card.knows_200) return Exponents{kRoundNose, usual};
    return wrong(card, "duration_200",
                 fmt::format("{:.4g} deg at 0.200 in is not below the {:.4g} deg at 0.050 in",
                             card.at_200_deg, card.at_050_deg));
  }
  double n = usual;
  double m = nose(share_050, share_200, half_050, half_200, n);
  if (!card.knows_200) return Exponents{std::clamp(m, kRoundNose, kFlatNose), n};
  if (m < kRoundNose) {
    n = sharpness_for_round_nose(share_050, share_200, half_050, half_200, usual);
    m = nose(share_050, share_200, half_050, half_200, n);
  }
  if (m >= kLeastNose && m <= kMostNose) return Exponents{m, n};
  return wrong(
      card, "duration_200",
      fmt::format(
          "{:.4g} deg at 0.200 in with {:.4g} deg at 0.050 in and {:.4g} in of tappet lift is no "
          "lobe that can be ground",
          card.at_200_deg, card.at_050_deg, tappet_lift_m / 0.0254));
}

Status check(const LobeCard& card, double tappet_lift_m) {
  constexpr double kBarely = 1.02;
  if (!(tappet_lift_m >= kBarely * kLift050_m)) {
    return wrong(
        card, "lift",
        fmt::format(
            "{:.4g} mm at the valve is {:.3g} in at the tappet; its duration is stated at 0.050 in",
            card.valve_lift_m * 1e3, tappet_lift_m / 0.0254));
  }
  if (!(card.at_006_deg >= card.at_050_deg + 2 * kLeastFlank_deg)) {
    return wrong(
        card, "advertised",
        fmt::format(
            "{:.4g} deg at 0.006 in with {:.4g} deg at 0.050 in; expected {:.0f} deg more at least",
            card.at_006_deg, card.at_050_deg, 2 * kLeastFlank_deg));
  }
  if (!(card.at_006_deg <= 480 && card.at_050_deg >= 60)) {
    return wrong(card, "advertised",
                 fmt::format("{:.4g} deg is no duration of a lobe", card.at_006_deg));
  }
  if (!(card.valve_lift_m - card.lash_m - card.lost_m > 0.1 * card.valve_lift_m)) {
    return wrong(
        card, "lash",
        fmt::format(
            "{:.3g} mm, with {:.3g} mm of lost motion, leaves nothing of a lift of {:.4g} mm",
            card.lash_m * 1e3, card.lost_m * 1e3, card.valve_lift_m * 1e3));
  }
  return Done{};
}

LobeCard card_of(const car::Sheet& sheet, const Unstated& unstated) {
  LobeCard out;
  out.rocker = sheet.cam.rocker_ratio.value;
  const bool direct = sheet.cam.tappet.value == car::Tappet::direct;
  out.lost_m = std::max(0.0, unstated.lost_motion_m) * (direct ? 0.5 : 1);
  out.shape = unstated.lobe_shape;
  return out;
}

}  // namespace

LobeCard intake_card(const car::Sheet& sheet, const Unstated& unstated) {
  const car::Cam& cam = sheet.cam;
  LobeCard out = card_of(sheet, unstated);
  out.side = "intake";
  out.valve_lift_m = cam.intake_lift.value.si;
  out.at_006_deg = cam.intake_advertised.value.degrees();
  out.at_050_deg = cam.intake_duration_050.value.degrees();
  out.at_200_deg = cam.intake_duration_200.value.degrees();
  out.knows_200 = cam.intake_duration_200.source != car::Source::typical;
  out.lash_m = cam.intake_lash.value.si;
  out.centre_deg = 360 + cam.intake_centreline.value.degrees();
  out.later_closing_deg = unstated.inlet_closing_deg;
  return out;
}

LobeCard exhaust_card(const car::Sheet& sheet, const Unstated& unstated) {
  const car::Cam& cam = sheet.cam;
  LobeCard out = card_of(sheet, unstated);
  out.side = "exhaust";
  out.valve_lift_m = cam.exhaust_lift.value.si;
  out.at_006_deg = cam.exhaust_advertised.value.degrees();
  out.at_050_deg = cam.exhaust_duration_050.value.degrees();
  out.at_200_deg = cam.exhaust_duration_200.value.degrees();
  out.knows_200 = cam.exhaust_duration_200.source != car::Source::typical;
  out.lash_m = cam.exhaust_lash.value.si;
  // lobe separation = (intake centre after + exhaust centre before overlap top dead centre) / 2
  const double before =
      2 * cam.lobe_separation.value.degrees() - cam.intake_centreline.value.degrees();
  out.centre_deg = 360 - before;
  return out;
}

Result<Lobe> Lobe::make(const LobeCard& card) {
  Lobe out;
  out.card_ = card;
  out.lift_ = card.valve_lift_m / card.rocker;
  FW_CHECK(check(card, out.lift_));
  FW_TRY(const Exponents e, exponents(card, out.lift_));
  out.m_ = e.m;
  out.n_ = e.n;
  out.half_050_ = card.at_050_deg / 2;
  out.half_006_ = card.at_006_deg / 2;
  out.xe_ = out.half_050_ / std::pow(fallen(kLift050_m / out.lift_, e.n), 1 / e.m);
  out.ramp_ = kRamp_deg * std::pow(2.0, -std::clamp(card.shape, -2.0, 2.0));
  out.slope_006_ = 2 * kLift006_m / out.ramp_;
  out.slope_050_ = out.core_slope(out.half_050_);
  out.closing_stretch_ = 1 + std::clamp(card.later_closing_deg, -30.0, 40.0) / out.half_006_;
  return out;
}

double Lobe::core(double x) const {
  return lift_ * std::pow(1 - std::pow(x / xe_, m_), n_);
}  // (breathing.20)

double Lobe::core_slope(double x) const {
  const double z = x / xe_;
  return lift_ * n_ * m_ / xe_ * std::pow(z, m_ - 1) * std::pow(1 - std::pow(z, m_), n_ - 1);
}

// From 0.006 in (t = 0) up to 0.050 in (t = 1): Hermite where its slopes keep it monotone (the
// circle of radius 3 of Fritsch and Carlson), a power with the same end slopes otherwise.
double Lobe::flank(double x) const {
  const double width = half_006_ - half_050_;
  const double rise = kLift050_m - kLift006_m;
  const double t = (half_006_ - x) / width;
  const double b = slope_050_ * width / rise;
  const double a = std::min(slope_006_ * width / rise, 1.0);
  if (a * a + b * b > 9) {  // b > 2.8, so the power is above 1
    const double p = a < 1 ? (b - a) / (1 - a) : 1;
    return kLift006_m + rise * (a * t + (1 - a) * std::pow(t, p));
  }
  const double t2 = t * t, t3 = t2 * t;
  return kLift006_m + rise * (a * (t3 - 2 * t2 + t) + b * (t3 - t2) + 3 * t2 - 2 * t3);
}

double Lobe::tappet_m(double x_deg) const {
  const double x = x_deg > 0 ? x_deg / closing_stretch_ : -x_deg;
  if (x <= half_050_) return core(x);
  if (x <= half_006_) return flank(x);
  const double left = 1 - (x - half_006_) / ramp_;
  return left > 0 ? kLift006_m * left * left : 0;
}

double Lobe::valve_m(double x_deg) const {
  return std::max(0.0,
                  card_.rocker * tappet_m(x_deg) - card_.lash_m - card_.lost_m);  // (breathing.21)
}

LiftCurve lift_curve(const Lobe& lobe) {
  LiftCurve out{};
  for (int degree = 0; degree < kCycleDegrees; ++degree) {
    double x = std::fmod(degree - lobe.card().centre_deg, kCycleDegrees);
    if (x > kCycleDegrees / 2.0) x -= kCycleDegrees;
    if (x <= -kCycleDegrees / 2.0) x += kCycleDegrees;
    out[static_cast<std::size_t>(degree)] = lobe.valve_m(x);
  }
  return out;
}

}  // namespace fuelwright::physics
