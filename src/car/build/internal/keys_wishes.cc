// Section wishes: mixtures, speeds and the axes of the unit's tables: keys, limits and typical
// values. Every typical value here is common practice, no source. Mixtures are filled in lambda.
#include <algorithm>
#include <cmath>

#include "car/build/derived.h"
#include "car/build/internal/bind.h"

namespace fuelwright::car {
namespace {

Guess scale(const Filling&) {
  return guess_text("lambda", "no mixture was stated on another scale");
}

// Readings of 13.2-13.8, 13.8-14.3 and 12.4-12.9 on the 14.7 scale.
Guess idle_mixture(const Filling&) {
  return guess(0.92, 0.02, "street engines idle at lambda 0.90 to 0.94");
}
Guess cruise_mixture(const Filling&) {
  return guess(0.957, 0.017, "street engines cruise at lambda 0.94 to 0.97");
}
Guess full_throttle_mixture(const Filling&) {
  return guess(0.861, 0.017, "best power without boost: lambda 0.84 to 0.88");
}

// Bigger cams idle faster.
Guess idle_speed(const Filling& f) {
  const double duration = f.sheet.cam.intake_duration_050.value.degrees();
  const double n = 750 + std::max(0.0, duration - 210) * 6;
  return guess(std::round(std::min(n, 1500.0) / 10) * 10, 100,
               "mild cams idle near 750 rpm, big ones near 900");
}

// Limited by the bottom end (mean piston speed 18 m/s) and by where the cam stops helping.
Guess rev_limit(const Filling& f) {
  const Sheet& s = f.sheet;
  const double duration = s.cam.intake_duration_050.value.degrees();
  const double cam = s.heads.valves_per_cylinder.value <= 2 ? 5700 + 30 * (duration - 210)
                                                            : 6500 + 30 * (duration - 200);
  const double n = std::min(18.0 * 30 / s.engine.stroke.value.si, cam);
  const double lowest = std::max(2500.0, s.wishes.idle_speed.value.rpm + 1500);
  return guess(std::clamp(std::round(n / 50) * 50, lowest, 13000.0), 600,
               "a moderate piston speed, and where such a cam stops helping");
}

Guess load_axis(const Filling& f) {
  if (f.sheet.intake.arrangement.value == IntakeArrangement::individual_throttles) {
    return guess_text("throttle", "individual throttles leave no steady manifold pressure");
  }
  return guess_text("map", "most units work from manifold pressure");
}

Guess speed_points(const Filling& f) {
  constexpr int kPoints = 16;
  const double top = std::floor(f.sheet.wishes.rev_limit.value.rpm / 500) * 500 + 500;
  std::vector<double> out;
  constexpr double kCloserLow = 1.4;  // 1 is even; more puts breakpoints closer at low speed
  for (int i = 0; i < kPoints; ++i) {
    const double share = std::pow(static_cast<double>(i) / (kPoints - 1), kCloserLow);
    out.push_back(500 + std::round((top - 500) * share / 50) * 50);
  }
  return guess_list(out, 0, "16 steps from 500 rpm to above the rev limit, closer around idle");
}

Guess load_points(const Filling& f) {
  std::vector<double> out;
  const LoadAxis load = f.sheet.wishes.load_axis.value;
  if (load == LoadAxis::throttle) {
    out = {0, 2, 4, 6, 9, 12, 16, 20, 25, 30, 40, 50, 60, 70, 85, 100};
    return guess_list(out, 0, "16 steps of throttle opening, finer where it matters");
  }
  for (int i = 0; i < 16; ++i) out.push_back(load == LoadAxis::map ? 25 + 5 * i : 5 * i);
  return guess_list(out, 0, "16 steps of 5 kPa");
}

constexpr auto kWishes = &Sheet::wishes;

Key mixture(const char* key, const char* about, Binding at, Guess (*rule)(const Filling&)) {
  return {.section = "wishes",
          .key = key,
          .about = about,
          .at = at,
          .kind = Kind::ratio,
          .low = 0.6,
          .high = 1.4,
          .tolerance = {.step = 0.01},
          .typical = rule,
          .mixture = true};
}

}  // namespace

std::span<const Key> wish_keys() {
  using namespace bind;
  static const Key kKeys[] = {
      {.section = "wishes",
       .key = "scale",
       .about = "what the mixtures below are stated on: lambda, afr 14.7 (the gauge's or table's "
                "own constant), equivalence",
       .at = bind::scale<kWishes, &Wishes::scale>(),
       .typical = scale,
       .check_text = known_scale},
      mixture("idle_mixture", "mixture at idle", number<kWishes, &Wishes::idle_mixture>(),
              idle_mixture),
      mixture("cruise_mixture", "mixture at cruise", number<kWishes, &Wishes::cruise_mixture>(),
              cruise_mixture),
      mixture("full_throttle_mixture", "mixture at full throttle",
              number<kWishes, &Wishes::full_throttle_mixture>(), full_throttle_mixture),
      {.section = "wishes",
       .key = "idle_speed",
       .about = "warm idle",
       .at = number<kWishes, &Wishes::idle_speed>(),
       .kind = Kind::engine_speed,
       .unit = "rpm",
       .low = 400,
       .high = 3000,
       .tolerance = {.step = 25},
       .typical = idle_speed},
      {.section = "wishes",
       .key = "rev_limit",
       .about = "never above",
       .at = number<kWishes, &Wishes::rev_limit>(),
       .kind = Kind::engine_speed,
       .unit = "rpm",
       .low = 1500,
       .high = 16000,
       .typical = rev_limit},
      {.section = "wishes",
       .key = "load_axis",
       .about = "what stands along the load side of the unit's tables",
       .at = choice<kWishes, &Wishes::load_axis>(),
       .typical = load_axis,
       .choices = names(LoadAxis{})},
      {.section = "wishes",
       .key = "speed_points",
       .about = "engine speeds of the unit's tables",
       .at = numbers<kWishes, &Wishes::speed_points>(),
       .kind = Kind::engine_speed,
       .unit = "rpm",
       .low = 0,
       .high = 20000,
       .typical = speed_points},
      {.section = "wishes",
       .key = "load_points",
       .about = "loads of the unit's tables",
       .at = numbers<kWishes, &Wishes::load_points_si>(),
       .typical = load_points,
       .by_load_axis = true},
  };
  return kKeys;
}

}  // namespace fuelwright::car
