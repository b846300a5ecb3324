// What a second of driving costs the estimate that runs along, 16x16 nodes: the aim is 20 ms, for
// add() and now(). "a_second_costs" is what counts; with the point moved as stale() advises it is
// the mean over the drive. BM_move_the_point is what relinearise() takes at the end of a long
// drive, the dearest second of it. The answer is checked against the batch.
#include <benchmark/benchmark.h>

#include <cmath>

#include "advice/dynamic_estimate/incremental.h"

namespace fuelwright::advice {
namespace {

const car::Grid& grid() {
  static const car::Grid g{car::Axis::even(car::AxisKind::engine_speed, 500, 6500, 16),
                           car::Axis::even(car::AxisKind::map_absolute, 20e3, 100e3, 16)};
  return g;
}

/// Load and speed wander over most of the table; the table is wrong by a wave.
Driving wandering(double seconds, double hertz) {
  Driving d;
  d.step_s = 1 / hertz;
  const auto rows = static_cast<std::size_t>(seconds * hertz);
  d.stretches = {{0, rows}};
  std::uint64_t dice = 1;
  for (std::size_t i = 0; i < rows; ++i) {
    const double t = static_cast<double>(i) * d.step_s;
    const double load =
        0.6 * std::sin(0.31 * t) + 0.3 * std::sin(1.7 * t) + 0.3 * std::sin(0.023 * t);
    const double n = 2600 + 1100 * std::sin(0.05 * t) + 900 * std::sin(0.017 * t);
    d.rpm.push_back(n);
    d.map_pa.push_back(58e3 + 33e3 * std::clamp(load, -1.0, 1.0));
    d.at.push_back(grid().shares(n, d.map_pa.back()));
    d.air_kg_s.push_back(6e-10 * n * d.map_pa.back() / 3);
    d.fuel_kg_s.push_back(d.air_kg_s.back() / 14.7);
    d.dead_kg_s2.push_back(d.fuel_kg_s.back() / 4e-3);
    d.coolant_k.push_back(360);
    d.heating.push_back(0.1 * load);
    d.idle.push_back(0.0);
    d.since_cut_s.push_back(1e3);
    d.high_load_s.push_back(0.0);
    d.usable.push_back(1);
    dice = dice * 6364136223846793005ULL + 1442695040888963407ULL;
    const double noise = static_cast<double>(dice >> 40) / (1 << 24) - 0.5;
    d.reading_ln.push_back(0.05 * std::sin(n / 900) + 0.02 * load + 0.03 * noise);
  }
  return d;
}

DynamicOptions options() {
  DynamicOptions o;
  o.dynamics.mean = {0.05, std::log(2e-3), std::log(0.11), 0.25, std::log(0.5), 0.2, 0.1};
  o.dynamics.sd = {0.04, 0.6, 0.35, 0.10, 0.5, 0.2, 0.1};
  return o;
}

void ride(benchmark::State& state, bool follow_advice) {
  const auto seconds = static_cast<std::size_t>(60 * state.range(0));
  const auto hertz = static_cast<std::size_t>(state.range(1));
  const Driving d = wandering(static_cast<double>(seconds), static_cast<double>(hertz));
  const car::Surface start = car::Surface::flat(grid(), 0.8);
  for (auto _ : state) {
    RunningEstimate r(start, car::TableWhat::ve, options());
    Eigen::VectorXd last;
    for (std::size_t s = 0; s < seconds; ++s) {
      r.add(d.part(s * hertz, (s + 1) * hertz));
      if (follow_advice && r.stale()) r.relinearise();
      last = r.now().map.mean;
    }
    state.PauseTiming();
    const DynamicEstimate batch =
        estimate_dynamic_at(r.point(), start, car::TableWhat::ve, {&d, 1}, {}, options());
    if (!((batch.map.mean - last).cwiseAbs().maxCoeff() < 1e-6)) {
      state.SkipWithError("not the batch answer");
    }
    state.ResumeTiming();
  }
  state.counters["a_second_costs"] = benchmark::Counter(
      static_cast<double>(seconds),
      benchmark::Counter::kIsIterationInvariantRate | benchmark::Counter::kInvert);
}

void BM_add_and_ask(benchmark::State& state) { ride(state, false); }
void BM_add_ask_and_move_the_point(benchmark::State& state) { ride(state, true); }

void BM_move_the_point(benchmark::State& state) {
  const Driving d =
      wandering(60.0 * static_cast<double>(state.range(0)), static_cast<double>(state.range(1)));
  RunningEstimate r(car::Surface::flat(grid(), 0.8), car::TableWhat::ve, options());
  r.add(d);
  for (auto _ : state) r.relinearise();
  if (r.now().map.samples < static_cast<long>(d.rows()) / 2)
    state.SkipWithError("rows are missing");
}
BENCHMARK(BM_move_the_point)
    ->ArgNames({"minutes", "hertz"})
    ->Args({10, 20})
    ->Args({60, 20})
    ->Args({60, 50})
    ->Unit(benchmark::kMillisecond);

BENCHMARK(BM_add_and_ask)
    ->ArgNames({"minutes", "hertz"})
    ->Args({10, 20})
    ->Args({10, 50})
    ->Unit(benchmark::kMillisecond);
BENCHMARK(BM_add_ask_and_move_the_point)
    ->ArgNames({"minutes", "hertz"})
    ->Args({10, 20})
    ->Args({10, 50})
    ->Args({60, 20})
    ->Args({60, 50})
    ->Unit(benchmark::kMillisecond)
    ->Iterations(1);

}  // namespace
}  // namespace fuelwright::advice
