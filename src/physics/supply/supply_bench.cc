// The whole answer for a car, 64 engines in the ensemble.
#include <benchmark/benchmark.h>

#include "car/build/sheet_file.h"
#include "physics/supply/supply.h"

namespace fuelwright::physics::supply {
namespace {

constexpr const char* kSheet =
    "[engine]\ndisplacement = \"5.7 l\"\ncylinders = 8\n[cam]\nintake_duration_050 = \"222 deg\"\n"
    "[fuel]\nname = \"E10\"\n[injection]\ninjector_flow = \"36 lb/h at 43.5 psi\"\npump_flow = "
    "\"140 l/h\"\npump_pressure = \"300 kPa\"\n";

Demand demand() {
  Demand d;
  for (double n = 1000; n <= 6500; n += 500) {
    d.speeds.push_back(rpm(n));
    d.manifold.push_back(absolute(100.0 * kPa));
  }
  for (int m = 0; m < 64; ++m) {
    d.air.emplace_back();
    d.power.emplace_back();
    for (const EngineSpeed n : d.speeds) {
      d.air.back().push_back(MassFlow{(0.9 + m / 320.0) * 0.05 * n.rpm / 1000});
      d.power.back().push_back(Power{1.1e6 * d.air.back().back().si});
    }
  }
  return d;
}

// The answer is checked: such a pump runs out.
void BM_SizeSupply(benchmark::State& state) {
  const car::Sheet sheet = car::read_sheet(kSheet, "bench").value();
  const Demand d = demand();
  SupplySettings set;
  if (state.range(0) > 0) {
    set.trace = RailTrace{};
    for (int i = 0; i < 100; ++i) {
      set.trace->speed.push_back(rpm(2000 + 40.0 * i));
      set.trace->rail.push_back(gauge(300.0 * kPa));
      set.trace->manifold.push_back(absolute(100.0 * kPa));
    }
  }
  for (auto _ : state) {
    auto answer = size_supply(sheet, d, set);
    if (!answer || answer->curve.empty()) state.SkipWithError("no answer");
    benchmark::DoNotOptimize(answer);
  }
}
BENCHMARK(BM_SizeSupply)->ArgName("trace")->Arg(0)->Arg(1)->Unit(benchmark::kMillisecond);

}  // namespace
}  // namespace fuelwright::physics::supply
