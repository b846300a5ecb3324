// Sections intake and exhaust: keys, limits and typical values.
// Every typical value here is common practice, no source.
#include <algorithm>
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
  if (f.has("intake.runner_lengths")) {
    const auto& all = f.sheet.intake.runner_lengths;
    double sum = 0;
    for (const Length one : all.values) sum += one.in(mm);
    const double mean = sum / static_cast<double>(all.values.size());
    return computed(mean, all.tolerance * mean, "the mean of runner_lengths");
  }
  if (f.sheet.intake.arrangement.value == IntakeArrangement::individual_throttles) {
    return guess(300, 100, "from the valve to the mouth, port included");
  }
  if (pushrod_size(f.sheet)) return guess(320, 110, "port and runner of a V manifold");
  return guess(380, 120, "port and runner of a small engine");
}

// Share of the mean by which the end cylinders' runners are longer and the middle ones' shorter on
// a manifold of two planes with its throttle in the middle.
constexpr double kTwoPlaneUneven = 0.18;

Guess runner_lengths(const Filling& f) {
  const Sheet& s = f.sheet;
  const auto n = static_cast<std::size_t>(s.engine.cylinders.value);
  const double mean_mm = s.intake.runner_length.value.in(mm);
  std::vector<double> out(n, mean_mm);
  if (s.intake.arrangement.value != IntakeArrangement::two_plane || n < 3)
    return guess_list(out, 0.03, "all as long as runner_length");
  // Places along the engine: 0 in the middle, 1 at its ends.
  const auto rows = static_cast<std::size_t>(std::max(1, s.engine.banks.value));
  const auto deep = (n + rows - 1) / rows;
  double sum = 0;
  for (std::size_t i = 0; i < n; ++i) {
    const double middle = (static_cast<double>(deep) - 1) / 2;
    const double place = middle > 0 ? std::abs(static_cast<double>(i / rows) - middle) / middle : 0;
    out[i] = 1 + kTwoPlaneUneven * (2 * place - 1);
    sum += out[i];
  }
  for (double& one : out) one *= mean_mm * static_cast<double>(n) / sum;
  return guess_list(out, 0.10, "two-plane manifolds reach the end cylinders by longer runners");
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

Guess duct_length(const Filling& f) {
  if (f.sheet.intake.arrangement.value == IntakeArrangement::individual_throttles)
    return guess(80, 60, "trumpets or a short box before each throttle");
  return guess(450, 350, "from an open cleaner (100 mm) to a long duct (800 mm)");
}

Guess duct_diameter(const Filling& f) {
  const Intake& in = f.sheet.intake;
  const double d = 1.08 * in.throttle_diameter.value.in(mm)*std::sqrt(
                              static_cast<double>(in.throttle_count.value));
  return guess(d, 0.13 * d, "ducts are a little wider than the throttles they feed");
}

Guess exhaust_arrangement(const Filling& f) {
  if (f.has("exhaust.secondary_length") || f.has("exhaust.secondary_diameter"))
    return guess_text("four_two_one", "secondary pipes are given");
  constexpr double kCast_mm = 250;
  if (f.has("exhaust.primary_length") && f.sheet.exhaust.primary_length.value.in(mm) < kCast_mm) {
    return guess_text("log", "primaries this short belong to a cast manifold");
  }
  return guess_text("four_into_one", "most headers and tubular manifolds meet in one place a bank");
}

Guess primary_length(const Filling& f) {
  if (f.sheet.exhaust.arrangement.value == ExhaustArrangement::log)
    return guess(150, 100, "ports of a cast manifold reach its common pipe after 50 to 250 mm");
  if (f.sheet.exhaust.arrangement.value == ExhaustArrangement::four_two_one)
    return guess(400, 150, "primaries of 4-2-1 headers are 250 to 550 mm long");
  return guess(600, 300, "from cast manifolds (300 mm) to long headers (900 mm)");
}

Guess primary_diameter(const Filling& f) {
  const Sheet& s = f.sheet;
  const int count = s.heads.valves_per_cylinder.value / 2;
  const double d = 0.97 * s.heads.exhaust_valve.value.in(mm)*std::sqrt(count);
  return guess(d, 0.1 * d, "the primary is about as wide as the exhaust valve");
}

Guess secondary_length(const Filling&) {
  return guess(450, 200, "secondaries of 4-2-1 headers are 250 to 650 mm long");
}

Guess secondary_diameter(const Filling& f) {
  const double d = 1.2 * f.sheet.exhaust.primary_diameter.value.in(mm);
  return guess(d, 0.1 * d, "a secondary is about a fifth wider than a primary");
}

Guess collector_length(const Filling&) {
  return guess(400, 100, "collectors and front pipes of one width run for 300 to 500 mm");
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
      {.section = "intake",
       .key = "runner_lengths",
       .about = "one a cylinder where they differ, cylinder 1 first",
       .at = numbers<kIn, &Intake::runner_lengths>(),
       .kind = Kind::length,
       .unit = "mm",
       .low = 30,
       .high = 1500,
       .tolerance = kTape,
       .typical = runner_lengths},
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
      length("intake", "duct_length", "open air or air cleaner to throttle",
             number<kIn, &Intake::duct_length>(), 10, 3000, kTape, duct_length),
      length("intake", "duct_diameter", "of one round pipe with the area of all ducts",
             number<kIn, &Intake::duct_diameter>(), 15, 500, kCalliper, duct_diameter),
      {.section = "exhaust",
       .key = "arrangement",
       .about = "how the pipes of a bank meet",
       .at = choice<kOut, &Exhaust::arrangement>(),
       .typical = exhaust_arrangement,
       .choices = names(ExhaustArrangement{})},
      length("exhaust", "primary_length", "valve to collector",
             number<kOut, &Exhaust::primary_length>(), 30, 2000, kTape, primary_length),
      length("exhaust", "primary_diameter", "inside one primary",
             number<kOut, &Exhaust::primary_diameter>(), 10, 90, kCalliper, primary_diameter),
      length("exhaust", "secondary_length", "pair to collector, 4-2-1 only",
             number<kOut, &Exhaust::secondary_length>(), 30, 2000, kTape, secondary_length),
      length("exhaust", "secondary_diameter", "inside one secondary, 4-2-1 only",
             number<kOut, &Exhaust::secondary_diameter>(), 10, 120, kCalliper, secondary_diameter),
      length("exhaust", "collector_length", "where the pipes meet to the first wide place",
             number<kOut, &Exhaust::collector_length>(), 30, 4000, kTape, collector_length),
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
