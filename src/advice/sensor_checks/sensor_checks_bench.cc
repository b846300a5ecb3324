// Checks of one hour at 20 Hz: aim under 1 s. That they still see a spoiled pressure is checked
// too.
#include <benchmark/benchmark.h>

#include <cmath>
#include <random>

#include "advice/sensor_checks/sensor_checks.h"
#include "car/build/sheet_file.h"
#include "signals/channels/steadiness.h"

namespace fuelwright::advice {
namespace {

using Q = signals::Quantity;

signals::Recording an_hour() {
  signals::Recording r;
  r.rows = 72000;
  r.pace = signals::Pace::timed;
  r.row_step = 0.05 * second;
  r.segments = {{0, r.rows, "1"}};
  std::mt19937_64 g(1);
  std::normal_distribution<> n;
  struct One {
    Q what;
    double mean, swing, noise;
  };
  for (const One& x :
       {One{Q::rpm, 2200, 900, 8}, One{Q::map, 60e3, 25e3, 300}, One{Q::throttle, 0.3, 0.2, 0.002},
        One{Q::coolant, 361, 1, 0.05}, One{Q::intake_air, 303, 2, 0.05},
        One{Q::lambda, 0.99, 0.05, 0.006}, One{Q::target, 0.98, 0.03, 0},
        One{Q::correction, 0.01, 0.03, 0.001}, One{Q::pulse_width, 6e-3, 2e-3, 1e-5},
        One{Q::maf, 0.03, 0.012, 1e-4}, One{Q::battery, 13.9, 0.1, 0.02},
        One{Q::fuel_pressure, 290e3, 5e3, 500}, One{Q::speed, 18, 6, 0.1}}) {
    signals::Channel c;
    c.what = x.what;
    for (std::size_t i = 0; i < r.rows; ++i) {
      const double t = 0.05 * static_cast<double>(i);
      c.si.push_back(x.mean + x.swing * std::sin(0.05 * t) * std::cos(0.31 * t) + x.noise * n(g));
    }
    r.channels.push_back(std::move(c));
  }
  for (std::size_t i = 0; i < r.rows; ++i) r.time_s.push_back(0.05 * static_cast<double>(i));
  for (std::size_t i = 500; i < r.rows; i += 80) r.channels[1].si[i] = 5e3;
  signals::judge_simultaneity(r);
  return r;
}

void BM_check_an_hour_at_20_Hz(benchmark::State& state) {
  const auto sheet = car::read_sheet(
      "[engine]\ndisplacement = \"5.7 l\"\ncylinders = 8\n[cam]\nintake_duration_050 = \"220 "
      "deg\"\n[injection]\ninjector_flow = \"36 lb/h at 43.5 psi\"\n[fuel]\nname = \"E10\"\n",
      "bench.toml");
  const signals::Recording r = an_hour();
  for (auto _ : state) {
    const SensorReport report = check_running(r, {.sheet = *sheet});
    const Finding* spikes = report.find(Check::spikes);
    if (!spikes || spikes->grade == Grade::fine) state.SkipWithError("the spikes were not seen");
  }
}
BENCHMARK(BM_check_an_hour_at_20_Hz)->Unit(benchmark::kMillisecond);

}  // namespace
}  // namespace fuelwright::advice
