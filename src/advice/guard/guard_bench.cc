// Nanoseconds a moment with all rules on, and no allocation: aim 200 ns. Also that it still fires.
#include <benchmark/benchmark.h>

#include <atomic>
#include <cstdlib>
#include <new>

#include "advice/guard/guard.h"
#include "car/build/sheet_file.h"

namespace {
std::atomic<long> allocations{0};
}  // namespace
[[gnu::noinline]] void* operator new(std::size_t size) {
  ++allocations;
  if (void* p = std::malloc(size)) return p;
  throw std::bad_alloc();
}
[[gnu::noinline]] void operator delete(void* p) noexcept { std::free(p); }
[[gnu::noinline]] void operator delete(void* p, std::size_t) noexcept { std::free(p); }

namespace fuelwright::advice {
namespace {

void BM_guard_step(benchmark::State& state) {
  const auto sheet = car::read_sheet(
      "[engine]\ndisplacement = \"5.7 l\"\ncylinders = 8\n[cam]\nintake_duration_050 = \"220 "
      "deg\"\n[injection]\ninjector_flow = \"36 lb/h at 43.5 psi\"\n[fuel]\nname = \"E10\"\n",
      "bench.toml");
  SignalSet all;
  all.set();
  Guard guard(safe_rules(*sheet), GuardedCar::of(*sheet), all);
  const double regulator = sheet->injection.regulator_pressure.si();
  long fired = 0, steps = 0, expected = 0;
  const long before = allocations.load();
  long inside = 0;
  for (auto _ : state) {
    const long k = steps++ % 2000;
    Moment m;
    m.seconds = 0.05 * static_cast<double>(steps);
    m[Signal::rpm] = 2000 + static_cast<double>(k);
    m[Signal::map] = k < 1000 ? 40e3 : 97e3;
    const bool lean = k > 1400 && k < 1500;
    expected += k == 1499;
    m[Signal::lambda] = lean ? 0.97 : 0.86;
    m[Signal::lambda_2] = 0.86;
    m[Signal::pulse_width] = 5e-3;
    m[Signal::duty] = 0.4;
    m[Signal::coolant] = 361;
    m[Signal::intake_air] = 305;
    m[Signal::battery] = 13.9;
    m[Signal::fuel_pressure] = regulator;
    m[Signal::oil_pressure] = 450e3;
    m[Signal::throttle] = 0.3;
    m[Signal::ambient] = 100e3;
    m[Signal::knock] = 0;
    const long at = allocations.load();
    for (const Firing& f : guard.step(m)) fired += f.rule == RuleKind::lean_under_load && !f.over;
    inside += allocations.load() - at;
  }
  if (inside != 0) state.SkipWithError("a moment allocated");
  if (fired < expected) state.SkipWithError("a lean pull was not seen");
  state.counters["allocations_in_all"] = static_cast<double>(allocations.load() - before);
}
BENCHMARK(BM_guard_step);

}  // namespace
}  // namespace fuelwright::advice
