// Prints averaging, static and dynamic estimate side by side: fuelwright_dynamic_cars [tune] [each]
//
// `tune` uses cars 1 to 12, on which settings were chosen; without it cars 201 to 212 are scored.
// `each` also prints every car, with the dynamics found.
#include <fmt/format.h>

#include <cmath>
#include <string_view>

#include "dynamic_cars.h"

namespace {

using namespace fuelwright;

void print_score(const char* name, const bench::Score& s, bool sure) {
  fmt::print("  {:28} {:6.2f} {:8.1f}", name, 100 * s.rms, 100 * s.within_3);
  if (sure) fmt::print(" {:8.1f} {:10.2f}", 100 * s.held, 100 * s.half_width);
  fmt::print("\n");
}

void add(bench::Score& sum, const bench::Score& s) {
  sum.rms += s.rms / 12;
  sum.within_3 += s.within_3 / 12;
  sum.held += s.held / 12;
  sum.half_width += s.half_width / 12;
}

void run(std::uint64_t first, bench::CompareOptions o, const char* what, bool each) {
  bench::Compared mean;
  double worst = 1;
  for (std::uint64_t car = first; car < first + 12; ++car) {
    const bench::Compared c = bench::compare(car, o);
    mean.before += c.before / 12;
    add(mean.averaging, c.averaging);
    add(mean.fixed, c.fixed);
    add(mean.dynamic, c.dynamic);
    add(mean.full_fixed, c.full_fixed);
    add(mean.full, c.full);
    mean.seconds += c.seconds / 12;
    worst = std::min(worst, c.dynamic.within_3);
    if (!each) continue;
    const advice::Theta& t = c.estimate->theta;
    fmt::print(
        "    {:4} {:26} before {:5.2f} avg {:5.2f} static {:5.2f} dynamic {:5.2f} held {:5.1f} "
        "+-{:4.2f} | a {:.3f} gas {:.2f} g lag {:.3f} X {:.2f} tau {:.2f} gm {:.2f} gc {:.2f} "
        "dd {:+.3f} idle {:+.3f} vif {:.1f} noise {:.2f} passes {}\n",
        car, bench::kind_of(car), 100 * c.before, 100 * c.averaging.rms, 100 * c.fixed.rms,
        100 * c.dynamic.rms, 100 * c.dynamic.held, 100 * c.dynamic.half_width, t[advice::kDelay],
        1e3 * std::exp(t[advice::kLnGas]), std::exp(t[advice::kLnLag]), t[advice::kFilm],
        std::exp(t[advice::kLnTau]), t[advice::kFilmMap], t[advice::kFilmCold],
        c.estimate->dead_time_ms.value, c.estimate->idle_bias.value, c.estimate->map.repetition,
        c.estimate->map.noise_scale, c.estimate->passes);
  }
  fmt::print("{} (before {:.2f}; dynamic form: worst car {:.1f} % within 3 %, {:.3f} s)\n", what,
             100 * mean.before, 100 * worst, mean.seconds);
  print_score("averaging", mean.averaging, false);
  print_score("static", mean.fixed, true);
  print_score("dynamic", mean.dynamic, true);
  if (o.pulls == 0) return;
  print_score("  static, 85 kPa and above", mean.full_fixed, true);
  print_score("  dynamic, 85 kPa and above", mean.full, true);
}

}  // namespace

int main(int argc, char** argv) {
  bool tune = false;
  bool each = false;
  for (int i = 1; i < argc; ++i) {
    tune = tune || std::string_view(argv[i]) == "tune";
    each = each || std::string_view(argv[i]) == "each";
  }
  const std::uint64_t first = tune ? 1 : 201;
  fmt::print(
      "Mixture error over driven time, %, 12 invented cars {} to {} of {} kinds, means over cars\n"
      "  {:28} {:>6} {:>8} {:>8} {:>10}\n",
      first, first + 11, bench::kKinds, "", "rms", "within 3", "held %", "half-width");
  for (const double minutes : {0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 40.0}) {
    run(first, {.minutes = minutes}, fmt::format("{:.1f} minutes", minutes).c_str(), each);
  }
  run(first, {.minutes = 10, .pulls = 4}, "10 minutes with four full-throttle pulls", each);
  run(first, {.minutes = 10, .another_road = true}, "10 minutes, judged on another road", each);
  run(first, {.minutes = 10, .clean_sensor = true}, "10 minutes, sensor without drift and bias",
      each);
  run(first, {.minutes = 10, .from = advice::FuelFrom::target}, "10 minutes, no pulse width", each);
  run(first, {.minutes = 10, .from = advice::FuelFrom::pulse_width},
      "10 minutes, pulse width alone", each);
  return 0;
}
