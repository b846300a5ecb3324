// Section cam: keys, limits and the typical values of a cam of this duration.
// Every typical value here is common practice, no source. Durations are tied to the intake duration
// at 0.050 in, the one number that everybody has.
#include <algorithm>

#include "car/build/derived.h"
#include "car/build/internal/bind.h"

namespace fuelwright::car {
namespace {

double intake_050(const Sheet& s) { return s.cam.intake_duration_050.value.degrees(); }
double exhaust_050(const Sheet& s) { return s.cam.exhaust_duration_050.value.degrees(); }

bool pushrods(const Sheet& s) { return s.cam.tappet.value != Tappet::direct; }
bool hydraulic(const Sheet& s) {
  return s.cam.tappet.value == Tappet::hydraulic_flat ||
         s.cam.tappet.value == Tappet::hydraulic_roller;
}
bool roller(const Sheet& s) {
  return s.cam.tappet.value == Tappet::hydraulic_roller ||
         s.cam.tappet.value == Tappet::solid_roller;
}

Guess tappet(const Filling& f) {
  if (two_valves(f.sheet) && cylinder_volume(f.sheet).in(litre) > 0.55) {
    return guess_text("hydraulic_flat",
                      "large two-valve street engines mostly have hydraulic tappets and pushrods");
  }
  return guess_text("direct", "small engines mostly have the cam above the valves");
}

Guess rocker_ratio(const Filling& f) {
  if (pushrods(f.sheet)) return guess(1.55, 0.12, "pushrod rockers are 1.5 to 1.7");
  return guess(1.0, 0.05, "a cam directly above its valve has no rocker");
}

// Advertised (0.006 in) minus 0.050 in duration.
double ramp(const Sheet& s) { return roller(s) ? 48 : 54; }
constexpr double kRampSpread = 12;

Guess exhaust_duration_050(const Filling& f) {
  if (f.has("cam.exhaust_advertised")) {
    const double advertised = f.sheet.cam.exhaust_advertised.value.degrees();
    return guess(std::max(150.0, advertised - ramp(f.sheet)), kRampSpread,
                 "advertised duration less the usual ramps");
  }
  if (two_valves(f.sheet))
    return guess(intake_050(f.sheet) + 5, 6, "street cams give the exhaust 0 to 10 degrees more");
  return guess(intake_050(f.sheet), 8, "with paired valves both lobes are much alike");
}

Guess intake_advertised(const Filling& f) {
  return guess(intake_050(f.sheet) + ramp(f.sheet), kRampSpread,
               "ramps add 40 to 65 degrees to the 0.050 in duration");
}
Guess exhaust_advertised(const Filling& f) {
  return guess(exhaust_050(f.sheet) + ramp(f.sheet), kRampSpread,
               "ramps add 40 to 65 degrees to the 0.050 in duration");
}

// 0.050 in minus 0.200 in duration: rollers open faster.
double flank(const Sheet& s) { return roller(s) ? 77 : 90; }
constexpr double kFlankSpread = 16;

Guess intake_duration_200(const Filling& f) {
  return guess(std::max(30.0, intake_050(f.sheet) - flank(f.sheet)), kFlankSpread,
               "0.200 in durations are 70 to 105 degrees shorter than those at 0.050 in");
}
Guess exhaust_duration_200(const Filling& f) {
  return guess(std::max(30.0, exhaust_050(f.sheet) - flank(f.sheet)), kFlankSpread,
               "0.200 in durations are 70 to 105 degrees shorter than those at 0.050 in");
}

// Lift over valve diameter grows a little with duration.
Guess lift(const Filling& f, double diameter_mm, double duration) {
  const double base = two_valves(f.sheet) ? 0.224 : 0.285;
  const double ratio = std::clamp(base + 0.0011 * (duration - 214), 0.17, 0.36);
  return guess(std::max(3.0, ratio * diameter_mm), 0.035 * diameter_mm,
               "cams of this duration lift the valve by about a quarter of its diameter");
}
Guess intake_lift(const Filling& f) {
  return lift(f, f.sheet.heads.intake_valve.value.in(mm), intake_050(f.sheet));
}
Guess exhaust_lift(const Filling& f) {
  const double l = f.sheet.cam.intake_lift.value.in(mm);
  return guess(l, 0.08 * l, "the exhaust valve is lifted much as the intake valve is");
}

Guess lobe_separation(const Filling& f) {
  return guess(std::clamp(113 - 0.14 * (intake_050(f.sheet) - 214), 104.0, 117.0), 4,
               "street cams: 114 degrees when mild, 110 when big");
}

Guess intake_centreline(const Filling& f) {
  const double separation = f.sheet.cam.lobe_separation.value.degrees();
  if (pushrods(f.sheet))
    return guess(separation - 4, 4, "pushrod cams are mostly ground 4 degrees advanced");
  return guess(separation, 6, "overhead cams are timed near the middle of the overlap");
}

Guess lash(const Filling& f, double direct_mm) {
  if (hydraulic(f.sheet)) return guess(0, 0, "hydraulic tappets take up the clearance");
  if (f.sheet.cam.tappet.value == Tappet::direct) {
    return guess(direct_mm, 0.08,
                 "direct tappets are set to 0.15 to 0.35 mm, or adjust themselves");
  }
  return guess(0.5, 0.12, "solid street cams are set to 0.016 to 0.024 in at the valve");
}
Guess intake_lash(const Filling& f) { return lash(f, 0.20); }
Guess exhaust_lash(const Filling& f) { return lash(f, 0.28); }

constexpr DefaultTolerance kCardDegrees{.step = 2};  // between a cam card and the cam
constexpr DefaultTolerance kCardLift{.share = 0.01};

Key degrees(const char* key, const char* about, Binding at, double low, double high,
            Guess (*rule)(const Filling&)) {
  return {.section = "cam",
          .key = key,
          .about = about,
          .at = at,
          .kind = Kind::crank_angle,
          .unit = "deg",
          .low = low,
          .high = high,
          .tolerance = kCardDegrees,
          .typical = rule};
}
Key millimetres(const char* key, const char* about, Binding at, double low, double high,
                DefaultTolerance tolerance, Guess (*rule)(const Filling&)) {
  return {.section = "cam",
          .key = key,
          .about = about,
          .at = at,
          .kind = Kind::length,
          .unit = "mm",
          .low = low,
          .high = high,
          .tolerance = tolerance,
          .typical = rule};
}

}  // namespace

std::span<const Key> cam_keys() {
  using namespace bind;
  constexpr auto kCam = &Sheet::cam;
  static const Key kKeys[] = {
      {.section = "cam",
       .key = "tappet",
       .about = "kind of tappet",
       .at = choice<kCam, &Cam::tappet>(),
       .typical = tappet,
       .choices = names(Tappet{})},
      {.section = "cam",
       .key = "rocker_ratio",
       .about = "valve lift over tappet lift",
       .at = number<kCam, &Cam::rocker_ratio>(),
       .kind = Kind::ratio,
       .low = 0.8,
       .high = 2.2,
       .tolerance = {.share = 0.02},
       .typical = rocker_ratio},
      degrees("intake_duration_050", "intake duration at 0.050 in tappet lift",
              number<kCam, &Cam::intake_duration_050>(), 150, 330, nullptr),
      degrees("exhaust_duration_050", "exhaust duration at 0.050 in tappet lift",
              number<kCam, &Cam::exhaust_duration_050>(), 150, 340, exhaust_duration_050),
      degrees("intake_advertised", "advertised intake duration (0.006 in)",
              number<kCam, &Cam::intake_advertised>(), 180, 420, intake_advertised),
      degrees("exhaust_advertised", "advertised exhaust duration (0.006 in)",
              number<kCam, &Cam::exhaust_advertised>(), 180, 420, exhaust_advertised),
      degrees("intake_duration_200", "intake duration at 0.200 in tappet lift",
              number<kCam, &Cam::intake_duration_200>(), 20, 290, intake_duration_200),
      degrees("exhaust_duration_200", "exhaust duration at 0.200 in tappet lift",
              number<kCam, &Cam::exhaust_duration_200>(), 20, 290, exhaust_duration_200),
      millimetres("intake_lift", "intake lift at the valve", number<kCam, &Cam::intake_lift>(), 3,
                  25, kCardLift, intake_lift),
      millimetres("exhaust_lift", "exhaust lift at the valve", number<kCam, &Cam::exhaust_lift>(),
                  3, 25, kCardLift, exhaust_lift),
      degrees("lobe_separation", "angle between the lobe centres (cam degrees)",
              number<kCam, &Cam::lobe_separation>(), 90, 130, lobe_separation),
      degrees("intake_centreline", "intake lobe centre after top dead centre",
              number<kCam, &Cam::intake_centreline>(), 80, 140, intake_centreline),
      millimetres("intake_lash", "intake clearance at the valve", number<kCam, &Cam::intake_lash>(),
                  0, 1.5, {.step = 0.03}, intake_lash),
      millimetres("exhaust_lash", "exhaust clearance at the valve",
                  number<kCam, &Cam::exhaust_lash>(), 0, 1.5, {.step = 0.03}, exhaust_lash),
  };
  return kKeys;
}

}  // namespace fuelwright::car
