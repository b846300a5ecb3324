// How long it takes to invent a drive; the aim is ten minutes of driving in less than a second.
#include <benchmark/benchmark.h>

#include "sim/road_drive/road_drive.h"

namespace fuelwright::sim {
namespace {

void BM_drive(benchmark::State& state) {
  const Truth truth = invent_truth(1, 5.0 * litre, 8);
  const car::Grid grid{car::Axis::even(car::AxisKind::engine_speed, 600, 6000, 16),
                       car::Axis::even(car::AxisKind::map_absolute, 20e3, 100e3, 12)};
  const car::Surface found = table_as_found(truth, grid, 1);
  const DriveOptions options{.seed = 1, .minutes = static_cast<double>(state.range(0))};
  const std::size_t rows = static_cast<std::size_t>(60 * 20 * state.range(0));
  for (auto _ : state) {
    const std::string csv = drive(truth, found, options);
    std::size_t lines = 0;
    for (const char c : csv) lines += c == '\n';
    if (lines != rows + 1) state.SkipWithError("not the rows that were asked for");
  }
  state.SetItemsProcessed(state.iterations() * static_cast<long>(rows));
}
BENCHMARK(BM_drive)->Arg(10)->Arg(60)->Unit(benchmark::kMillisecond);

}  // namespace
}  // namespace fuelwright::sim
