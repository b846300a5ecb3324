// Sections intake and exhaust: keys, limits and typical values.
// Every typical value here is common practice, no source.
#include <cmath>

#include "car/build/derived.h"
#include "car/build/internal/bind.h"

namespace fuelwright::car {
namespace {

bool pushrod_size(const Sheet& s) { return cylinder_volume(s).in(litre) > 0.55; }

Guess arrangement(const Filling& f) {
  if (f.has("intake.throttle_count") &&
      f.sheet.intake.throttle_count.value == f.sheet.engine.cylinders.value &&
      f.sheet.engine.cylinders.value > 1) {
    return guess_text("individual_throttles", "as many throttles as cylinders");
  }
  return guess_text("shared_plenum", "most injected engines breathe from one plenum");
}

Guess runner_length(const Filling& f) {
  if (f.sheet.intake.arrangement.value == IntakeArrangement::individual_throttles) {
    return guess(300, 100, "from the valve to the mouth, port included");
  }
  if (pushrod_size(f.sheet)) return guess(320, 110, "port and runner of a V manifold");
  return guess(380, 120, "port and runner of a small engine");
}

// The runner's area follows the valves it feeds.
Guess runner_diameter(const Filling& f) {
  const Sheet& s = f.sheet;
  const int count = (s.heads.valves_per_cylinder.value + 1) / 2;
  const double d = 0.83 * s.heads.intake_valve.value.in(mm)*std::sqrt(count);
  return guess(d, 0.1 * d, "the runner has about 0.7 of the valve heads' area");
}

Guess plenum_volume(const Filling& f) {
  const double v = f.sheet.engine.displacement.value.in(litre);
  if (f.sheet.intake.arrangement.value == IntakeArrangement::individual_throttles) {
    return guess(0.1 * v, 0.08 * v, "little volume between throttle and valve");
  }
  return guess(0.7 * v, 0.35 * v, "plenums hold 0.4 to 1 times the displacement");
}

Guess throttle_count(const Filling& f) {
  if (f.sheet.intake.arrangement.value == IntakeArrangement::individual_throttles) {
    return guess(f.sheet.engine.cylinders.value, 0, "one throttle a cylinder");
  }
  return guess(1, 0, "one throttle is usual");
}

Guess throttle_diameter(const Filling& f) {
  const Sheet& s = f.sheet;
  const double individual =
      s.intake.arrangement.value == IntakeArrangement::individual_throttles ? 1.5 : 1;
  const double d = individual * 35 *
                   std::sqrt(s.engine.displacement.value.in(litre) / s.intake.throttle_count.value);
  return guess(d, 0.13 * d, "throttle area grows with displacement: about 85 mm for six litres");
}

Guess primary_length(const Filling&) {
  return guess(600, 300, "from cast manifolds (300 mm) to long headers (900 mm)");
}

Guess primary_diameter(const Filling& f) {
  const Sheet& s = f.sheet;
  const int count = s.heads.valves_per_cylinder.value / 2;
  const double d = 0.97 * s.heads.exhaust_valve.value.in(mm)*std::sqrt(count);
  return guess(d, 0.1 * d, "the primary is about as wide as the exhaust valve");
}

Guess collector_diameter(const Filling& f) {
  const double d = f.sheet.exhaust.primary_diameter.value.in(mm);
  return guess(1.7 * d, 0.3 * d, "collectors are 1.4 to 2 primaries wide");
}

Guess back_pressure(const Filling&) {
  return guess(15, 12, "street exhausts hold 3 to 27 kPa at full power");
}

constexpr DefaultTolerance kTape{.share = 0.03};  // a tape measure along a bent pipe
constexpr DefaultTolerance kCalliper{.step = 0.5};

Key length(const char* section, const char* key, const char* about, Binding at, double low,
           double high, DefaultTolerance tolerance, Guess (*rule)(const Filling&)) {
  return {.section = section,
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

std::span<const Key> pipe_keys() {
  using namespace bind;
  constexpr auto kIn = &Sheet::intake;
  constexpr auto kOut = &Sheet::exhaust;
  static const Key kKeys[] = {
      {.section = "intake",
       .key = "arrangement",
       .about = "how the cylinders share the air",
       .at = choice<kIn, &Intake::arrangement>(),
       .typical = arrangement,
       .choices = names(IntakeArrangement{})},
      length("intake", "runner_length", "valve to plenum, port included",
             number<kIn, &Intake::runner_length>(), 30, 1500, kTape, runner_length),
      length("intake", "runner_diameter", "of a round pipe with the runner's area",
             number<kIn, &Intake::runner_diameter>(), 12, 90, kCalliper, runner_diameter),
      {.section = "intake",
       .key = "plenum_volume",
       .about = "between throttle and runners",
       .at = number<kIn, &Intake::plenum_volume>(),
       .kind = Kind::volume,
       .unit = "l",
       .low = 0.005,
       .high = 30,
       .tolerance = {.share = 0.1},
       .typical = plenum_volume},
      {.section = "intake",
       .key = "throttle_count",
       .about = "how many throttle plates",
       .at = number<kIn, &Intake::throttle_count>(),
       .kind = Kind::count,
       .low = 1,
       .high = 16,
       .typical = throttle_count},
      length("intake", "throttle_diameter", "bore of one throttle",
             number<kIn, &Intake::throttle_diameter>(), 10, 150, kCalliper, throttle_diameter),
      length("exhaust", "primary_length", "valve to collector",
             number<kOut, &Exhaust::primary_length>(), 30, 2000, kTape, primary_length),
      length("exhaust", "primary_diameter", "inside one primary",
             number<kOut, &Exhaust::primary_diameter>(), 10, 90, kCalliper, primary_diameter),
      length("exhaust", "collector_diameter", "inside the collector",
             number<kOut, &Exhaust::collector_diameter>(), 15, 250, kCalliper, collector_diameter),
      {.section = "exhaust",
       .key = "back_pressure",
       .about = "before the exhaust pipe at full power",
       .at = number<kOut, &Exhaust::back_pressure>(),
       .kind = Kind::gauge_pressure,
       .unit = "kPa",
       .low = 0,
       .high = 200,
       .tolerance = {.share = 0.1, .step = 1},
       .typical = back_pressure},
  };
  return kKeys;
}

}  // namespace fuelwright::car
