// How much faster than the clock a car is driven once its air is tabulated; the aim is 100 times on
// one core. "x_real_time" is what counts. The drive's answer is checked too.
#include <benchmark/benchmark.h>

#include "car/build/sheet_file.h"
#include "sim/virtual_car/as_found.h"
#include "sim/virtual_car/engine_air.h"
#include "sim/virtual_car/truth_file.h"
#include "sim/virtual_car/virtual_car.h"

namespace fuelwright::sim::virtual_car {
namespace {

car::Sheet bench_sheet() {
  return *car::read_sheet(
      "[engine]\ndisplacement = \"5.7 l\"\ncylinders = 8\n[cam]\nintake_duration_050 = \"220 "
      "deg\"\n"
      "[injection]\ninjector_flow = \"36 lb/h at 43.5 psi\"\n[fuel]\nname = \"E10\"\n",
      "bench.toml");
}

void BM_drive_car(benchmark::State& state) {
  const car::Sheet sheet = bench_sheet();
  Truth truth = drawn_truth(sheet, 1);
  if (!give_air(truth, sheet, 1, {.speeds = 10, .pressures = 6})) {
    state.SkipWithError("no air");
    return;
  }
  const car::Calibration found = calibration_as_found(truth, sheet, 1);
  const Cycle cycle{{0, 10, 25, 60, 75, 100, 120, 130}, {0, 0, 15, 14, 25, 24, 0, 0}};
  const double seconds = 60.0 * static_cast<double>(state.range(0));
  for (auto _ : state) {
    const auto drive = drive_car(truth, sheet, found, {.task = cycle, .length = seconds * second});
    if (!drive || drive->within_tolerance < 0.95) state.SkipWithError("the cycle was not followed");
  }
  state.counters["x_real_time"] =
      benchmark::Counter(seconds, benchmark::Counter::kIsIterationInvariantRate);
}
BENCHMARK(BM_drive_car)->Arg(10)->Arg(40)->Unit(benchmark::kMillisecond);

void BM_give_air(benchmark::State& state) {
  const car::Sheet sheet = bench_sheet();
  for (auto _ : state) {
    Truth truth = drawn_truth(sheet, 1);
    if (!give_air(truth, sheet, 1) || !truth.has_air()) state.SkipWithError("no air");
  }
}
BENCHMARK(BM_give_air)->Unit(benchmark::kMillisecond)->Iterations(1);

}  // namespace
}  // namespace fuelwright::sim::virtual_car
