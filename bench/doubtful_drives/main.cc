// How often is what is wrong found out, and how often is a healthy drive doubted?
//
//   fuelwright_doubtful_drives tune|score [keep FOLDER] [minutes N] [only WORD] [cars N]
//
// `tune` takes cars 101 to 112, on which thresholds and priors were chosen, `score` cars 201 to
// 212, on which nothing was; `only` takes the ways to drive with WORD in their name. Each car
// drives twice (two seeds) as it is and once for every fault.
#include <fmt/format.h>

#include <algorithm>
#include <cstdio>
#include <cstdlib>
#include <map>
#include <string_view>

#include "advice/doubts/doubts.h"
#include "bench/full_estimate/cars.h"

namespace fuelwright::bench {
namespace {

namespace vc = sim::virtual_car;
namespace doubts = advice::doubts;
using doubts::Kind;

// One way to drive a car, and the doubt that should come of it; none for a healthy one.
struct Trial {
  const char* name;
  std::optional<Kind> fault;
  bool open = false;       // the unit runs open loop
  bool said_open = false;  // the person says so
  bool records_correction = true;
  bool records_pulse = true;
  bool records_air = true;
  double learns = 0;  // share a minute
  double leak = 0;
  double other_table = 0;  // the table said to be in the unit is off by waves of this size
  int cylinders_said = 0;  // 0: the right number
};

const Trial kTrials[] = {
    {"healthy, closed loop", {}},
    {"healthy, no pulse width", {}, false, false, true, false},
    {"healthy, no air meter", {}, false, false, true, true, false},
    {"healthy, open loop", {}, true, true, false},
    {"healthy, open loop, no pulse width", {}, true, true, false, false},
    {"said open, corrected", Kind::unit_corrected, false, true, false},
    {"said open, corrected, no pulse width", Kind::unit_corrected, false, true, false, false},
    {"self-correction 0.2/min", Kind::self_correction, false, false, true, true, true, 0.2},
    {"self-correction 0.2/min, no pulse width", Kind::self_correction, false, false, true, false,
     true, 0.2},
    {"another table (4 %)", Kind::other_table, false, false, true, true, true, 0, 0, 0.04},
    {"cylinders: 6 said", Kind::count, false, false, true, true, true, 0, 0, 0, 6},
    {"exhaust leak, full", Kind::exhaust_leak, false, false, true, true, true, 0, 1},
    {"exhaust leak, half", Kind::exhaust_leak, false, false, true, true, true, 0, 0.5},
    {"exhaust leak, full, no air meter", Kind::exhaust_leak, false, false, true, true, false, 0, 1},
};

std::vector<doubts::Doubt> examine(const TestCar& car, const Trial& trial, std::uint64_t seed,
                                   double minutes) {
  vc::Truth truth = car.truth;
  if (trial.open) truth.computer.correction_gain = 0;
  truth.computer.self_correction = trial.learns;
  if (!trial.records_correction) truth.recorder.missing.emplace_back("correction");
  if (!trial.records_pulse) truth.recorder.missing.emplace_back("pulse_width");
  if (!trial.records_air) truth.recorder.missing.emplace_back("maf");
  vc::DriveRequest request{
      .task = ordinary_driving(car.number + seed), .seed = seed, .length = minutes * minute};
  if (trial.leak > 0) request.faults.push_back({car::FaultKind::exhaust_leak, {}, trial.leak});
  const auto drive = vc::drive_car(truth, car.sheet, car.found, request);
  signals::Answers answers;
  answers.afr_constant = truth.sensor.gauge_constant;
  const auto recording = drive.ok()
                             ? signals::read_recording(drive->recording, "drive.csv", answers)
                             : Result<signals::Recording>(drive.error());
  if (!recording.ok()) {
    fmt::print(stderr, "{}\n", recording.error().line());
    std::exit(1);
  }
  car::Surface table = car.table();
  for (std::size_t i = 0; i < table.values.size(); ++i) {
    const auto ix = static_cast<double>(i % table.grid.x.size());
    table.values[i] *= 1 + trial.other_table * std::sin(0.9 * ix + static_cast<double>(seed));
  }
  car::Sheet sheet = car.sheet;
  if (trial.cylinders_said > 0) {
    const int right = sheet.injection.injector_count.value;
    sheet.injection.injector_count.value =
        trial.cylinders_said == right ? right + 2 : trial.cylinders_said;
  }
  const advice::Prior prior = advice::table_as_found_prior();
  return doubts::doubts_about({.recording = *recording,
                               .sheet = sheet,
                               .driven = &table,
                               .believed = car.table(),
                               .prior = prior,
                               .open_loop = trial.said_open});
}

struct Count {
  int drives = 0, mentioned = 0, refused = 0;
  std::map<Kind, int> wrongly;  // doubts at kMentioned that nothing was the matter with
  std::map<Kind, double> worst;
};

void run(std::uint64_t first, const Keep& keep, double minutes, std::string_view only,
         int cars_asked) {
  std::vector<TestCar> cars;
  for (int i = 0; i < cars_asked; ++i)
    cars.push_back(test_car(first + static_cast<unsigned>(i), keep));
  fmt::print("{:42} {:>6} {:>9} {:>8}  wrongly doubted\n", "", "drives", "mentioned", "refused");
  for (const Trial& trial : kTrials) {
    if (std::string_view(trial.name).find(only) == std::string_view::npos) continue;
    Count c;
    for (const TestCar& car : cars) {
      for (std::uint64_t seed = 1; seed <= (trial.fault ? 1U : 2U); ++seed) {
        ++c.drives;
        double p = 0;
        for (const auto& d : examine(car, trial, 1000 * seed + car.number, minutes)) {
          if (trial.fault ? d.kind == *trial.fault : true) p = std::max(p, d.probability);
          if (d.kind == trial.fault) continue;
          c.worst[d.kind] = std::max(c.worst[d.kind], d.probability);
          if (d.probability >= doubts::kMentioned) ++c.wrongly[d.kind];
        }
        c.mentioned += p >= doubts::kMentioned;
        c.refused += p >= doubts::kRefused;
      }
    }
    std::string wrongly;
    for (const auto& [kind, n] : c.wrongly) {
      wrongly += fmt::format(" {} {}", doubts::name_of(kind), n);
    }
    if (!trial.fault) {
      for (const auto& [kind, p] : c.worst) {
        wrongly += fmt::format("  [{} {:.3f}]", doubts::name_of(kind), p);
      }
    }
    fmt::print("{:42} {:6} {:9} {:8} {}\n", trial.name, c.drives, c.mentioned, c.refused, wrongly);
    std::fflush(stdout);
  }
}

}  // namespace
}  // namespace fuelwright::bench

int main(int argc, char** argv) {
  using namespace fuelwright::bench;
  Keep keep;
  std::uint64_t first = 0;
  double minutes = 10;
  std::string_view only;
  int cars = kCars;
  for (int i = 1; i < argc; ++i) {
    const std::string_view word = argv[i];
    if (word == "tune") first = kFirstTuningCar;
    if (word == "score") first = kFirstScoredCar;
    if (word == "keep" && i + 1 < argc) keep.folder = argv[++i];
    if (word == "only" && i + 1 < argc) only = argv[++i];
    if (word == "cars" && i + 1 < argc) cars = std::clamp(std::atoi(argv[++i]), 1, kCars);
    if (word == "minutes" && i + 1 < argc) minutes = std::atof(argv[++i]);
  }
  if (first == 0) {
    fmt::print(stderr, "say tune or score\n");
    return 2;
  }
  run(first, keep, minutes, only, cars);
  return 0;
}
