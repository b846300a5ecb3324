#include "report.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <map>
#include <optional>

namespace fuelwright::bench {
namespace {

using advice::Way;

constexpr double kWanted_rms = 0.025;

enum Method { kAveraging, kStatic, kDynamic, kMethods };

/// Of all cars together, at one length of recording.
struct Row {
  std::array<double, kMethods> driven{}, all{};  ///< mean over cars of the rms
  std::array<double, kMethods> worst_within{1, 1, 1};
  std::array<Scores, kMethods> pooled;
  double worst_coverage = 1;
  double seconds = 0;
};

struct CarRow {
  std::string kind;
  double before = 0, best = 0;
  std::array<Scores, kMethods> ten;
  Score full_with, full_without;
  std::optional<advice::DynamicEstimate> dynamic;
};

struct Results {
  std::map<double, Row> rows;
  std::map<std::uint64_t, CarRow> cars;
  Score full_with, full_without, full_static;
  double slowest_s = 0;  ///< dynamic form, 40 minutes
};

std::vector<double> lengths(const RunOptions& run) {
  if (run.brief) return {2.0, 10.0};
  return {kMinutes.begin(), kMinutes.end()};
}

void add(Row& row, Method m, const Scores& s) {
  row.driven[m] += s.driven.rms() / kCars;
  row.all[m] += s.all.rms() / kCars;
  row.worst_within[m] = std::min(row.worst_within[m], s.driven.share_within_3());
  if (m == kDynamic) row.worst_coverage = std::min(row.worst_coverage, s.part.coverage());
  row.pooled[m].add(s);
}

void ten_minutes(const Material& m, const signals::Recording& ordinary,
                 const std::array<Scores, kMethods>& scores, Results& out) {
  CarRow& car = out.cars[m.car.number];
  car.kind = m.car.kind;
  car.before = scores_of(m, 10, [](const auto&) { return Answer{}; }).driven.rms();
  car.best = best_possible(m);
  car.ten = scores;
  const std::array both{ordinary, read(m.pulls)};
  Dynamic with = by_dynamic_form(both, m.car, Way::correction);
  car.full_with = full_throttle(m, with.says());
  Dynamic without = by_dynamic_form({both.data(), 1}, m.car, Way::correction);
  car.full_without = full_throttle(m, without.says());
  car.dynamic = std::move(without.estimate);
  out.full_with.add(car.full_with);
  out.full_without.add(car.full_without);
  out.full_static.add(full_throttle(m, by_static_form(both, m.car, Way::correction)));
}

Results run_cars(const RunOptions& run, bool true_sensor, const std::vector<double>& minutes) {
  Results out;
  for (std::uint64_t n = run.first; n < run.first + kCars; ++n) {
    const Material m = material(n, {.true_sensor = true_sensor}, run.keep);
    for (const double t : minutes) {
      const std::array recording{read(first_minutes(m.ordinary, t))};
      const Dynamic dynamic = by_dynamic_form(recording, m.car, Way::correction);
      const std::array<Scores, kMethods> scores{
          scores_of(m, t, averaged(recording[0], m.car.table(), {})),
          scores_of(m, t, by_static_form(recording, m.car, Way::correction)),
          scores_of(m, t, dynamic.says())};
      Row& row = out.rows[t];
      for (const Method k : {kAveraging, kStatic, kDynamic}) add(row, k, scores[k]);
      row.seconds += dynamic.seconds / kCars;
      if (t == kLongest_min) out.slowest_s = std::max(out.slowest_s, dynamic.seconds);
      if (t == 10) ten_minutes(m, recording[0], scores, out);
    }
    fmt::print(stderr, "car {} {}\n", n, m.car.kind);
  }
  return out;
}

double percent(double v) { return 100 * v; }

void print_minutes(const Results& r, const char* what) {
  fmt::print(
      "\n{}: mixture error by minutes of ordinary driving, %\n"
      "          rms, time driven, anew      rms, 40 min ordinary    within 3 %     95 % intervals, "
      "below full throttle\n"
      "minutes   averaging static dynamic   averaging static dynamic  mean  worst   hold  worst car  "
      " half-width   s\n",
      what);
  for (const auto& [t, row] : r.rows) {
    const Scores& d = row.pooled[kDynamic];
    fmt::print(
        "{:7.1f}   {:9.2f} {:6.2f} {:7.2f}   {:9.2f} {:6.2f} {:7.2f}  {:5.1f} {:5.1f}  {:5.1f} "
        "{:10.1f} {:12.2f} {:5.2f}\n",
        t, percent(row.driven[0]), percent(row.driven[1]), percent(row.driven[2]),
        percent(row.all[0]), percent(row.all[1]), percent(row.all[2]),
        percent(d.driven.share_within_3()), percent(row.worst_within[kDynamic]),
        percent(d.part.coverage()), percent(row.worst_coverage),
        percent(d.part.median_half_width()), row.seconds);
  }
}

void print_cars(const Results& r) {
  fmt::print(
      "\n10 minutes, by car, %: before, the best these nodes allow, rms by method, dynamic form\n"
      "car  kind                         before best  averaging static dynamic  within 3  hold "
      "half-width  overrun   full throttle with pulls    without\n"
      "                                                                                         "
      "                rms   hold half-width   rms   hold half-width\n");
  for (const auto& [n, c] : r.cars) {
    const Scores& d = c.ten[kDynamic];
    fmt::print(
        "{}  {:27} {:6.2f} {:5.2f} {:9.2f} {:6.2f} {:7.2f} {:8.1f} {:6.1f} {:8.2f} {:9.2f} {:8.2f} "
        "{:6.1f} {:6.2f} {:8.2f} {:6.1f} {:6.2f}\n",
        n, c.kind, percent(c.before), percent(c.best), percent(c.ten[0].driven.rms()),
        percent(c.ten[1].driven.rms()), percent(d.driven.rms()),
        percent(d.driven.share_within_3()), percent(d.part.coverage()),
        percent(d.part.median_half_width()), percent(d.overrun.rms()),
        percent(c.full_with.rms()), percent(c.full_with.coverage()),
        percent(c.full_with.median_half_width()), percent(c.full_without.rms()),
        percent(c.full_without.coverage()), percent(c.full_without.median_half_width()));
  }
}

void print_dynamics(const Results& r) {
  fmt::print("\nDynamics found after 10 minutes\n");
  for (const auto& [n, c] : r.cars) {
    const advice::DynamicEstimate& e = *c.dynamic;
    fmt::print(
        "{}  delay {:.3f} s, gas {:.2f} g, lag {:.3f} s, film {:.2f} in {:.2f} s (map {:+.2f}, "
        "cold {:+.2f}), dead {:+.3f} ms, w {:+.3f}, idle {:+.3f}, repeats {:.1f}, noise {:.2f}, "
        "passes {}\n",
        n, e.theta[advice::kDelay], 1e3 * std::exp(e.theta[advice::kLnGas]),
        std::exp(e.theta[advice::kLnLag]), e.theta[advice::kFilm],
        std::exp(e.theta[advice::kLnTau]), e.theta[advice::kFilmMap], e.theta[advice::kFilmCold],
        e.dead_time_ms.value, e.heating.value, e.beside[advice::kIdleLean].value, e.map.repetition,
        e.map.noise_scale, e.passes);
  }
}

/// First length at which the mean rms is as wanted, between the lengths tried by ln; none if never.
std::optional<double> minutes_to(const Results& r, Method m, bool all) {
  double t0 = 0, e0 = 0;
  for (const auto& [t, row] : r.rows) {
    const double e = all ? row.all[m] : row.driven[m];
    if (e <= kWanted_rms) {
      if (t0 == 0) return t;
      const double part = std::log(e0 / kWanted_rms) / std::log(e0 / e);
      return t0 * std::pow(t / t0, part);
    }
    t0 = t;
    e0 = e;
  }
  return {};
}

void print_ratio(const Results& r, bool all) {
  const auto slow = minutes_to(r, kAveraging, all), quick = minutes_to(r, kDynamic, all);
  const double longest = r.rows.rbegin()->first, shortest = r.rows.begin()->first;
  const double from = slow.value_or(longest), to = quick.value_or(longest);
  fmt::print("minutes to 2.5 % rms, {:22}  averaging {}{:.1f}, dynamic {}{:.1f}: {}{:.0f} x fewer\n",
             all ? "40 min ordinary:" : "time driven:", slow ? "" : "more than ", from,
             !quick ? "more than " : to <= shortest ? "at most " : "", to,
             slow && to > shortest ? "" : "at least ", from / to);
}

void print_goals(const Results& r, const char* what) {
  fmt::print("\n{}: what was to be reached (aim)\n", what);
  print_ratio(r, false);
  print_ratio(r, true);
  for (const double t : {2.0, 10.0}) {
    const Row& row = r.rows.at(t);
    double ports = 0, wet = 0, worst = 1, worst_burning = 1, worst_averaging = 1;
    long n_wet = 0, n_ports = 0;
    if (t == 10) {
      for (const auto& [n, c] : r.cars) {
        const bool is_wet = c.kind.find("wet") != std::string::npos;
        (is_wet ? wet : ports) += c.ten[kDynamic].driven.rms();
        ++(is_wet ? n_wet : n_ports);
        worst = std::min(worst, c.ten[kDynamic].driven.share_within_3());
        worst_burning = std::min(worst_burning, c.ten[kDynamic].part.share_within_3());
        worst_averaging = std::min(worst_averaging, c.ten[kAveraging].driven.share_within_3());
      }
    }
    fmt::print("rms after {:.0f} min, all cars: {:.2f}", t, percent(row.driven[kDynamic]));
    if (t == 10) {
      fmt::print(
          ", ports {:.2f}, wet {:.2f}; within 3 %, worst car: {:.1f} (averaging {:.1f}), where burnt "
          "gas is under 30 %: {:.1f}",
          percent(ports / static_cast<double>(n_ports)), percent(wet / static_cast<double>(n_wet)),
          percent(worst), percent(worst_averaging), percent(worst_burning));
    }
    fmt::print("   [{}]\n", t == 2 ? "2.5 (1.8)" : "1.2 (0.8), 95 (98)");
  }
  const Score& part = r.rows.at(10).pooled[kDynamic].part;
  const auto interval = [](const char* name, const Score& s, const char* wanted) {
    fmt::print("95 % intervals, {:38} hold {:.1f}, half-width {:.2f}, rms {:.2f}, {:.1f} x   [{}]\n",
               name, percent(s.coverage()), percent(s.median_half_width()), percent(s.rms()),
               2 * s.median_half_width() / s.rms(), wanted);
  };
  interval("below full throttle, 10 min:", part, "92-97 (94-96), width at most 4 x rms");
  interval("full throttle, 10 min and four pulls:", r.full_with, "90-98 (94-96)");
  interval("full throttle, 10 min, predicted:", r.full_without, "90-98 (94-96)");
  interval("overrun below 32 kPa, 10 min:", r.rows.at(10).pooled[kDynamic].overrun, "reported");
  if (r.slowest_s > 0) {
    fmt::print("40 minutes at 20 Hz, one core: mean {:.2f} s, slowest car {:.2f} s   [0.5 (0.15)]\n",
               r.rows.at(kLongest_min).seconds, r.slowest_s);
  }
}

void print_ways(const RunOptions& run) {
  double target = 0, pulse = 0, day = 0, day_average = 0;
  Score target_s, pulse_s, day_s;
  for (std::uint64_t n = run.first; n < run.first + kCars; ++n) {
    Material m = material(n, {.other_day = true}, run.keep);
    const std::array recording{read(first_minutes(m.ordinary, 10))};
    const Says both = by_dynamic_form(recording, m.car, Way::correction).says();
    const Scores absolute = scores_of(m, 10, by_dynamic_form(recording, m.car, Way::pulse_width).says());
    pulse += absolute.driven.rms() / kCars;
    pulse_s.add(absolute.part);
    auto no_pulse = recording;
    std::erase_if(no_pulse[0].channels,
                  [](const auto& c) { return c.what == signals::Quantity::pulse_width; });
    const Scores relative = scores_of(m, 10, by_dynamic_form(no_pulse, m.car, Way::correction).says());
    target += relative.driven.rms() / kCars;
    target_s.add(relative.part);
    std::swap(m.judge, m.judge_other_day);
    const Scores other = scores_of(m, 10, both);
    day += other.driven.rms() / kCars;
    day_s.add(other.part);
    day_average += scores_of(m, 10, averaged(recording[0], m.car.table(), {})).driven.rms() / kCars;
  }
  fmt::print("\nDynamic form, 10 minutes otherwise: rms, 95 % intervals hold, half-width, %\n");
  const auto line = [](const char* name, double rms, const Score& s) {
    fmt::print("{:45} {:6.2f} {:6.1f} {:6.2f}\n", name, percent(rms), percent(s.coverage()),
               percent(s.median_half_width()));
  };
  line("no pulse width recorded", target, target_s);
  line("pulse width alone, target not used", pulse, pulse_s);
  line("judged on a day of other air", day, day_s);
  fmt::print("{:45} {:6.2f}\n", "  averaging, judged on that day", percent(day_average));
}

}  // namespace

void print_report(const RunOptions& run) {
  fmt::print(
      "Virtual cars {} to {}; recordings from seed 10 x car, full throttle + 1, judges + 2 and + 3\n",
      run.first, run.first + kCars - 1);
  const Results drawn = run_cars(run, false, lengths(run));
  print_minutes(drawn, "Sensors with gain and pressure errors");
  print_cars(drawn);
  print_dynamics(drawn);
  print_goals(drawn, "Sensors with gain and pressure errors");
  if (run.brief) return;
  const Results exact = run_cars(run, true, lengths(run));
  print_minutes(exact, "Sensors without gain and pressure errors");
  print_goals(exact, "Sensors without gain and pressure errors");
  print_ways(run);
}

void search_averaging(const RunOptions& run) {
  std::vector<Material> cars;
  for (std::uint64_t n = run.first; n < run.first + kCars; ++n) {
    cars.push_back(material(n, {}, run.keep));
  }
  constexpr std::array lengths{2.0, 10.0, 40.0};
  std::vector<std::array<signals::Recording, lengths.size()>> recordings;
  for (const Material& m : cars) {
    recordings.push_back({read(first_minutes(m.ordinary, 2)), read(first_minutes(m.ordinary, 10)),
                          read(m.ordinary)});
  }
  struct Tried {
    Averaging set;
    std::array<double, lengths.size()> driven{}, all{};
    double sum() const { return driven[0] + driven[1] + driven[2] + all[0] + all[1] + all[2]; }
  };
  std::vector<Tried> tried;
  for (const double settle : {0.1, 0.3, 0.5, 1.0}) {
    for (const double delay : {0.15, 0.25, 0.35}) {
      for (const double steady : {0.1, 0.2, 0.4}) {
        for (const double pull : {0.3, 1.0, 3.0, 6.0, 10.0}) {
          Tried t{{settle, delay, steady, pull}};
          for (std::size_t c = 0; c < cars.size(); ++c) {
            for (std::size_t k = 0; k < lengths.size(); ++k) {
              const Scores s = scores_of(cars[c], lengths[k],
                                         averaged(recordings[c][k], cars[c].car.table(), t.set));
              t.driven[k] += s.driven.rms() / kCars;
              t.all[k] += s.all.rms() / kCars;
            }
          }
          tried.push_back(t);
        }
      }
    }
  }
  std::sort(tried.begin(), tried.end(), [](const Tried& a, const Tried& b) { return a.sum() < b.sum(); });
  fmt::print("settle s  delay s  steady ln  pull s   rms %, time driven: 2, 10, 40 min   40 min ordinary\n");
  for (std::size_t i = 0; i < tried.size(); i += i < 10 ? 1 : 20) {
    const Tried& t = tried[i];
    fmt::print("{:8.2f} {:8.2f} {:10.2f} {:7.2f}   {:18.2f} {:5.2f} {:5.2f} {:14.2f} {:5.2f} {:5.2f}\n",
               t.set.settle_s, t.set.delay_s, t.set.steady_ln, t.set.pull_s, percent(t.driven[0]),
               percent(t.driven[1]), percent(t.driven[2]), percent(t.all[0]), percent(t.all[1]),
               percent(t.all[2]));
  }
}

}  // namespace fuelwright::bench
