// Cost of one closed cycle, one spark search and one operating point; the answer is checked too.
#include <benchmark/benchmark.h>

#include "physics/combustion/combustion.h"
#include "physics/combustion/internal/example.h"

namespace fuelwright::physics {
namespace {

void BM_working_gas(benchmark::State& state) {
  const auto fuel = burning_fuel(car::from_formula(1, 1.87, 0)).value();
  for (auto _ : state) benchmark::DoNotOptimize(working_gas(fuel, car::lambda(0.88)));
}
BENCHMARK(BM_working_gas)->Unit(benchmark::kMicrosecond);

void BM_closed_cycle(benchmark::State& state) {
  const WorkingGas gas = example::petrol_at(0.88);
  const ClosedCharge charge = example::full_throttle(gas, 3000);
  double imep = 0;
  for (auto _ : state) {
    imep = closed_cycle(gas, charge, crank_degrees(30), {}, {.octane = 90.5}).value().gross_imep.si;
  }
  if (!(imep > 5e5 && imep < 2e6)) state.SkipWithError("no engine gives that");
}
BENCHMARK(BM_closed_cycle)->Unit(benchmark::kMicrosecond);

void BM_spark(benchmark::State& state) {
  const WorkingGas gas = example::petrol_at(0.88);
  const ClosedCharge charge = example::full_throttle(gas, 3000);
  SparkSettings settings;
  settings.intervals = state.range(0) != 0;
  for (auto _ : state) benchmark::DoNotOptimize(spark(gas, charge, settings));
}
BENCHMARK(BM_spark)->Arg(0)->Arg(1)->Unit(benchmark::kMicrosecond);

void BM_brake(benchmark::State& state) {
  const WorkingGas gas = example::petrol_at(0.88);
  const ClosedCharge charge = example::full_throttle(gas, 3000);
  for (auto _ : state) {
    benchmark::DoNotOptimize(brake(gas, charge, example::wedge_v8(), 20 * kPa));
  }
}
BENCHMARK(BM_brake)->Unit(benchmark::kMicrosecond);

}  // namespace
}  // namespace fuelwright::physics
