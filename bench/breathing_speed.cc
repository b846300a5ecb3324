// How fast the flow model is, and how exact in the same run: one table, the processor named.
//
//   fuelwright_breathing_speed [SHEET]     (examples/street_v8.toml)
//
// Every time stands beside the grid error of that very run: rms difference of ln VE from 10 mm
// cells, over the nodes that are reachable, converged and have less than 0.45 of residual gas at 30
// kPa and above.
#include <fmt/format.h>

#include <chrono>
#include <cmath>
#include <cstdio>
#include <ctime>
#include <fstream>
#include <functional>
#include <sstream>

#include "car/build/sheet_file.h"
#include "physics/breathing/breathing.h"

namespace fuelwright::physics {
namespace {

std::vector<InstructionSet> sets_of_this_machine() {
  std::vector<InstructionSet> out{InstructionSet::scalar, InstructionSet::sse2};
  const InstructionSet best = best_instruction_set();
  if (best != InstructionSet::sse2) out.push_back(InstructionSet::avx2);
  if (best == InstructionSet::avx512) out.push_back(best);
  return out;
}

std::string processor() {
  std::ifstream in("/proc/cpuinfo");
  for (std::string line; std::getline(in, line);)
    if (line.starts_with("model name")) return line.substr(line.find(':') + 2);
  return "unknown processor";
}

// Wall clock, and what the processor spent: on a machine that others use too only the second tells.
struct Time {
  double wall = 1e9, processor = 1e9;
};
Time least(int times, const std::function<void()>& work) {
  Time t;
  for (int i = 0; i < times; ++i) {
    const auto begin = std::chrono::steady_clock::now();
    const std::clock_t spent = std::clock();
    work();
    t.processor = std::min(t.processor, static_cast<double>(std::clock() - spent) / CLOCKS_PER_SEC);
    t.wall = std::min(
        t.wall, std::chrono::duration<double>(std::chrono::steady_clock::now() - begin).count());
  }
  return t;
}
std::string words(const Time& t) {
  return fmt::format("{:7.3f} s wall, {:7.3f} s processor", t.wall, t.processor);
}

// 16 speeds and 12 pressures, evenly from idle to the rev limit and from overrun to full throttle.
MapPlaces sixteen_by_twelve(const car::Sheet& sheet) {
  MapPlaces p{{}, {}, surroundings_of(sheet)};
  for (int i = 0; i < 16; ++i) p.speeds.push_back(rpm(700 + i * 5500.0 / 15));
  for (int i = 0; i < 12; ++i) p.pressures.push_back(absolute((20 + i * 80.0 / 11) * kPa));
  return p;
}

// Variants of one engine: what the sheet does not say, each somewhere within its spread
// (multiples of irrational numbers: fixed, and evenly filled).
std::vector<EngineModel> variants(const car::Sheet& sheet, int count) {
  std::vector<EngineModel> out;
  for (int i = 0; i < count; ++i) {
    Unstated u;
    double k = 1;
    for (const UnstatedSpread& s : unstated_spreads()) {
      const double t = i * std::sqrt(k += 1.37), w = (2 * (t - std::floor(t)) - 1) * s.half_width;
      u.*s.at = s.as_factor ? u.*s.at * std::exp(w) : u.*s.at + w;
    }
    if (auto model = engine_model(sheet, u); model.ok()) out.push_back(*model);
  }
  return out;
}

struct Band {
  double from_kpa = 30, to_kpa = 1000;
};
struct Rms {
  double sum = 0, mean = 0;
  int nodes = 0;
  void add(const AirMap& a, const AirMap& b, Band band = {}) {
    for (std::size_t i = 0; i < a.nodes.size(); ++i) {
      const AirNode &x = a.nodes[i], &y = b.nodes[i];
      const double kpa = x.map.from_zero.si / 1e3;
      const bool counts = x.reachable && y.reachable && x.converged && y.converged &&
                          x.residual < 0.45 && y.residual < 0.45;
      if (!counts || kpa < band.from_kpa || kpa >= band.to_kpa) continue;
      const double e = 100 * std::log(x.ve / y.ve);
      sum += e * e;
      mean += e;
      ++nodes;
    }
  }
  std::string text() const {
    return nodes == 0 ? "-" : fmt::format("{:.2f} % of {} nodes", std::sqrt(sum / nodes), nodes);
  }
};

int not_converged(const AirMap& m) {
  int n = 0;
  for (const AirNode& node : m.nodes) n += node.reachable && !node.converged;
  return n;
}

// Sixteen pressures close together fill every lane and ask for the same steps.
double ns_per_cell_step(InstructionSet set, const EngineModel& model, const Surroundings& here) {
  MapPlaces places{{}, {}, here};
  for (int i = 0; i < 8; ++i) places.speeds.push_back(rpm(2500 + 250 * i));
  for (int i = 0; i < 16; ++i) places.pressures.push_back(absolute((78 + 0.2 * i) * kPa));
  MapSettings settings;
  settings.instructions = set;
  AirMap map;
  const Time time = least(5, [&] { map = air_map(model, places, settings); });
  return time.processor * 1e9 / static_cast<double>(map.cell_steps);
}

void kernels(const EngineModel& model, const Surroundings& here) {
  fmt::print("Pipes, valves and cylinder, ns per cell-step and lane (80 kPa):\n");
  double scalar = 0;
  for (const InstructionSet s : sets_of_this_machine()) {
    const double ns = ns_per_cell_step(s, model, here);
    if (s == InstructionSet::scalar) scalar = ns;
    fmt::print("  {:<14} {:7.2f} ns   {:5.1f} x scalar\n", name_of(s), ns, scalar / ns);
  }
}

void one_map(const EngineModel& model, const MapPlaces& places) {
  fmt::print("\nOne 16x12 map, one-cylinder form, one core:\n");
  MapSettings fine;
  fine.grid = 10.0 * mm;
  fine.threads = 2;
  const AirMap finest = air_map(model, places, fine);
  for (const double grid : {30.0, 20.0}) {
    for (const InstructionSet s : sets_of_this_machine()) {
      MapSettings settings;
      settings.grid = grid * mm;
      settings.instructions = s;
      AirMap map;
      const Time time = least(3, [&] { map = air_map(model, places, settings); });
      Rms error;
      error.add(map, finest);
      fmt::print("  {:<14} {:2.0f} mm {}   grid error {}, {} not converged\n", name_of(s), grid,
                 words(time), error.text(), not_converged(map));
    }
  }
}

void ensemble(const car::Sheet& sheet, const MapPlaces& places) {
  const std::vector<EngineModel> engines = variants(sheet, 64);
  fmt::print("\n{} variants of the map, two cores:\n", engines.size());
  constexpr std::size_t kFine = 16;  // whose grid error is measured
  MapSettings fine;
  fine.grid = 10.0 * mm;
  fine.threads = 2;
  const auto finest = air_maps(std::span(engines).first(kFine), places, fine);
  for (const InstructionSet s : sets_of_this_machine()) {
    if (s == InstructionSet::scalar || s == InstructionSet::sse2) continue;  // minutes
    MapSettings settings;
    settings.instructions = s;
    settings.threads = 2;
    std::vector<AirMap> maps;
    const Time time = least(2, [&] { maps = air_maps(engines, places, settings); });
    Rms error;
    for (std::size_t i = 0; i < kFine; ++i) error.add(maps[i], finest[i]);
    fmt::print("  {:<14} 30 mm {}   grid error {}\n", name_of(s), words(time), error.text());
  }
}

void whole(const EngineModel& model, const MapPlaces& places) {
  fmt::print("\nWhole engine, every cylinder, 16x12, two cores:\n");
  MapSettings fine;
  fine.threads = 2;
  fine.grid = 10.0 * mm;
  const AirMap finest = whole_engine_map(model, places, fine);
  AirMap map;
  for (const InstructionSet s : sets_of_this_machine()) {
    if (s == InstructionSet::scalar) continue;
    MapSettings settings;
    settings.instructions = s;
    settings.threads = 2;
    const Time time = least(1, [&] { map = whole_engine_map(model, places, settings); });
    Rms error;
    error.add(map, finest);
    fmt::print("  {:<14} 30 mm {}   grid error {}, {} not converged\n", name_of(s), words(time),
               error.text(), not_converged(map));
  }
  fmt::print("\nFast form against whole engine (30 mm, {}):\n", name_of(best_instruction_set()));
  const AirMap fast = air_map(model, places);
  for (const Band band : {Band{}, Band{30, 50}, Band{50, 75}, Band{75, 95}, Band{95, 1000}}) {
    Rms far;
    far.add(fast, map, band);
    fmt::print("  {:3.0f} to {:4.0f} kPa: rms {}, mean {:+.2f} %\n", band.from_kpa,
               std::min(band.to_kpa, 100.0), far.text(), far.nodes > 0 ? far.mean / far.nodes : 0);
  }
}

int run(const std::string& path) {
  std::ifstream in(path);
  std::stringstream text;
  text << in.rdbuf();
  const auto sheet = car::read_sheet(text.str(), path);
  if (!sheet.ok()) {
    fmt::print(stderr, "{}\n", sheet.error().line());
    return 1;
  }
  const auto model = engine_model(*sheet);
  if (!model.ok()) {
    fmt::print(stderr, "{}\n", model.error().line());
    return 1;
  }
  fmt::print("{}; g++ {}.{}; {}\n\n", processor(), __GNUC__, __GNUC_MINOR__, path);
  const MapPlaces places = sixteen_by_twelve(*sheet);
  std::setvbuf(stdout, nullptr, _IOLBF, 0);
  kernels(*model, places.surroundings);
  one_map(*model, places);
  ensemble(*sheet, places);
  whole(*model, places);
  return 0;
}

}  // namespace
}  // namespace fuelwright::physics

int main(int argc, char** argv) {
  return fuelwright::physics::run(argc > 1 ? argv[1] : "examples/street_v8.toml");
}
