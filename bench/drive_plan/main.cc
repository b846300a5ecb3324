// Driving by the plan against ordinary driving, on virtual cars:
//
//   fuelwright_drive_plan score|tune [true_sensor] [keep FOLDER] [only CAR]...
//
// `score` takes the twelve cars from kFirstScoredCar, on which nothing was chosen; `tune` those
// from kFirstTuningCar (full_estimate/cars.h). `keep` keeps computed air and drives in a folder.
// `true_sensor`: the mixture sensor has gain 1 and no pressure error, which no driving could cure.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <iterator>
#include <string_view>

#include "loop.h"

namespace {

using namespace fuelwright::bench;

const std::vector<double> kOrdinary{0.5, 1, 1.5, 2, 3, 4, 5, 7, 10, 15, 20, 30, 40};
constexpr double kGoals[] = {0.010, 0.015};

std::string shown(const std::optional<double>& minutes) {
  return minutes ? fmt::format("{:.1f}", *minutes) : std::string("-");
}

struct OfCar {
  std::uint64_t number = 0;
  bool big_cam = false;  ///< whose idle no mixture sensor measures
  std::vector<Mark> plan, ordinary;
};

void print_course(const OfCar& c, const char* kind) {
  fmt::print("car {} {}\n  by plan    ", c.number, kind);
  for (const Mark& k : c.plan) {
    fmt::print(" {:.1f}:{:.2f}({:.2f})", k.minutes, 100 * k.rms, 100 * k.said_rms);
  }
  fmt::print("   steps");
  for (const Mark& k : c.plan) fmt::print(" {}", k.steps);
  fmt::print(", cut short");
  for (const Mark& k : c.plan) fmt::print(" {}", k.cut_short);
  fmt::print(", pulls");
  for (const Mark& k : c.plan) fmt::print(" {}", k.pulls);
  fmt::print("\n  ordinary   ");
  for (const Mark& k : c.ordinary) fmt::print(" {:.1f}:{:.2f}", k.minutes, 100 * k.rms);
  fmt::print("\n");
}

void print_goal(const std::vector<OfCar>& cars, double Mark::*what, const char* over, double goal) {
  fmt::print("\nminutes to {:.1f} % rms over 40 minutes of ordinary driving{}\n", 100 * goal, over);
  double plan = 0, ordinary = 0, ln = 0;
  int both = 0, by_plan = 0, by_ordinary = 0;
  for (const OfCar& c : cars) {
    const auto p = minutes_to(c.plan, what, goal), o = minutes_to(c.ordinary, what, goal);
    by_plan += p.has_value();
    by_ordinary += o.has_value();
    fmt::print("  car {}: by plan {}, ordinary driving {}\n", c.number, shown(p), shown(o));
    if (!p || !o) continue;
    ++both;
    plan += *p;
    ordinary += *o;
    ln += std::log(*p / *o);
  }
  fmt::print("  reached by plan: {} of {} cars; by ordinary driving within 40 minutes: {}\n",
             by_plan, cars.size(), by_ordinary);
  if (both == 0) return;
  fmt::print(
      "  cars that reach it both ways ({}): {:.1f} against {:.1f} minutes on average, {:.2f} of it "
      "(by car, geometric mean {:.2f})   [0.50 (0.25)]\n",
      both, plan / both, ordinary / both, plan / ordinary, std::exp(ln / both));
}

void print_said(const std::vector<OfCar>& cars) {
  fmt::print("\nsaid before it was driven, and what came, all cars\n");
  fmt::print("  plan   cars   minutes   rms said   rms came   within 3 % said   came\n");
  for (std::size_t i = 0;; ++i) {
    double minutes = 0, said = 0, came = 0, within_said = 0, within = 0;
    int n = 0;
    for (const OfCar& c : cars) {
      if (i >= c.plan.size()) continue;
      const Mark& k = c.plan[i];
      ++n;
      minutes += k.minutes;
      said += k.said_rms * k.said_rms;
      came += k.rms * k.rms;
      within_said += k.said_within;
      within += k.within;
    }
    if (n == 0) break;
    fmt::print("  {:4}   {:4}   {:7.1f}   {:8.2f}   {:8.2f}   {:15.1f}   {:4.1f}\n", i + 1, n,
               minutes / n, 100 * std::sqrt(said / n), 100 * std::sqrt(came / n),
               100 * within_said / n, 100 * within / n);
  }
}

// All cars together, after each plan and after as many minutes of ordinary driving.
std::vector<Mark> together(const std::vector<OfCar>& cars, std::vector<Mark> OfCar::*way) {
  std::vector<Mark> out;
  std::size_t most = 0;
  for (const OfCar& c : cars) most = std::max(most, (c.*way).size());
  const auto n = static_cast<double>(cars.size());
  for (std::size_t i = 0; i < most; ++i) {
    Mark sum;
    for (const OfCar& c : cars) {
      const Mark& k = (c.*way)[std::min(i, (c.*way).size() - 1)];  // ended: it stays as it is
      sum.minutes += k.minutes / n;
      sum.rms += k.rms * k.rms / n;
      sum.part += k.part * k.part / n;
    }
    sum.rms = std::sqrt(sum.rms);
    sum.part = std::sqrt(sum.part);
    out.push_back(sum);
  }
  return out;
}

void print_together(const std::vector<OfCar>& cars, const char* which) {
  if (cars.empty()) return;
  const auto plan = together(cars, &OfCar::plan), ordinary = together(cars, &OfCar::ordinary);
  fmt::print("\n{} together ({}), minutes:rms % (below full throttle)\n", which, cars.size());
  for (const auto& [name, marks] : {std::pair{"by plan ", &plan}, {"ordinary", &ordinary}}) {
    fmt::print("  {}", name);
    for (const Mark& k : *marks) {
      fmt::print(" {:.1f}:{:.2f} ({:.2f})", k.minutes, 100 * k.rms, 100 * k.part);
    }
    fmt::print("\n");
  }
  for (const double goal : {0.010, 0.015, 0.020, 0.025}) {
    fmt::print(
        "  to {:.1f} %: by plan {}, ordinary driving {}; below full throttle {}, {}\n", 100 * goal,
        shown(minutes_to(plan, &Mark::rms, goal)), shown(minutes_to(ordinary, &Mark::rms, goal)),
        shown(minutes_to(plan, &Mark::part, goal)), shown(minutes_to(ordinary, &Mark::part, goal)));
  }
}

}  // namespace

int main(int argc, char** argv) {
  Keep keep;
  std::uint64_t first = 0;
  std::vector<std::uint64_t> only;
  LoopOptions options;
  for (int i = 1; i < argc; ++i) {
    const std::string_view word = argv[i];
    if (word == "tune" || word == "score") {
      first = word == "tune" ? kFirstTuningCar : kFirstScoredCar;
    } else if (word == "keep" && i + 1 < argc) {
      keep.folder = argv[++i];
    } else if (word == "only" && i + 1 < argc) {
      only.push_back(std::strtoull(argv[++i], nullptr, 10));
    } else if (word == "true_sensor") {
      options.true_sensor = true;
    } else {
      fmt::print(stderr,
                 "what is \"{}\"? score or tune, true_sensor, keep FOLDER, only "
                 "CAR\n",
                 word);
      return 2;
    }
  }
  if (first == 0) {
    fmt::print(stderr, "say score (cars from {}) or tune (from {})\n", kFirstScoredCar,
               kFirstTuningCar);
    return 2;
  }
  std::vector<OfCar> cars;
  for (std::uint64_t n = first; n < first + kCars; ++n) {
    if (!only.empty() && std::ranges::find(only, n) == only.end()) continue;
    const Material m = material(n, {.true_sensor = options.true_sensor}, keep);
    cars.push_back({n, m.car.big_cam, by_plan(m, options), by_ordinary_driving(m, kOrdinary)});
    print_course(cars.back(), m.car.kind.c_str());
    std::fflush(stdout);
  }
  fmt::print("\nmixture sensor {}\n", options.true_sensor ? "without gain and pressure error"
                                                          : "with its gain and pressure error");
  for (const double goal : kGoals) {
    print_goal(cars, &Mark::rms, "", goal);
    print_goal(cars, &Mark::part, ", below full throttle", goal);
  }
  print_together(cars, "all cars");
  std::vector<OfCar> mild;
  std::ranges::copy_if(cars, std::back_inserter(mild), [](const OfCar& c) { return !c.big_cam; });
  print_together(mild, "cars without much overlap");
  print_said(cars);
  return 0;
}
