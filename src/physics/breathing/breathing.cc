#include "physics/breathing/breathing.h"

#include <algorithm>
#include <atomic>
#include <cmath>
#include <cstdlib>
#include <numbers>
#include <thread>

#include "base/contract.h"
#include "physics/breathing/internal/network_common.h"
#include "physics/breathing/kernel/entry.h"

namespace fuelwright::physics {

namespace {

// Above this share of burnt gas the next cycle does not burn well enough to keep the engine
// running: between .52 and .55 in an engine that alternates (breathing.11).
constexpr double kMisfire = 0.53;

const kernel::Entry& entry_of(InstructionSet set) {
  switch (set) {
    case InstructionSet::avx512:
      return kernel::k_avx512;
    case InstructionSet::avx2:
      return kernel::k_avx2;
    case InstructionSet::sse2:
      return kernel::k_sse2;
    case InstructionSet::scalar:
      break;
  }
  return kernel::k_scalar;
}

// A kernel's memory: one per thread of work, aligned for its lanes.
class Workspace {
 public:
  explicit Workspace(unsigned long bytes) : at_(std::aligned_alloc(64, (bytes + 63) / 64 * 64)) {
    if (at_ == nullptr) throw std::bad_alloc();
  }
  ~Workspace() { std::free(at_); }
  Workspace(const Workspace&) = delete;
  Workspace& operator=(const Workspace&) = delete;
  void* get() { return at_; }

 private:
  void* at_;
};

struct Form {  // one_cylinder or whole_engine
  void (*network)(std::span<const LanePlace>, const Batch&, const ValveTables&, kernel::Network*);
  bool whole;
};

// Cylinder volume at a crank angle after firing top dead centre.
double volume_at(const EngineModel::Parts& p, double deg) {
  const double a = deg * std::numbers::pi / 180, r = p.stroke_m / 2, l = p.rod_m;
  const double height =
      r * (1 - std::cos(a)) + l - std::sqrt(l * l - r * r * std::sin(a) * std::sin(a));
  return p.swept_m3 * (1 / (p.compression - 1) + height / p.stroke_m);
}

// Lanes are read when the last of their intake valves has shut. Back to where this one's own did:
// nothing flows between, p V^n and T V^(n-1) are kept. Else a lane's charge would depend on its
// neighbours.
void back_to_own_closing(const EngineModel::Parts& p, double read_deg, AirNode* n) {
  constexpr double kCompression = 1.35;  // unburnt charge with little wall heat (from memory)
  const double own = std::min(read_deg, std::ceil(p.intake.shuts_deg) + 1);
  const double ratio = volume_at(p, read_deg) / volume_at(p, own);
  n->closing = crank_degrees(own);
  n->charge_pressure = absolute(std::pow(ratio, kCompression) * n->charge_pressure.from_zero);
  n->charge_temperature =
      kelvin(std::pow(ratio, kCompression - 1) * n->charge_temperature.from_zero.si);
}

// Whether this can be an engine: what is not has run away or flows backwards on the mean.
bool is_sound(const AirNode& n) {
  const auto within = [](double x, double low, double high) { return x > low && x < high; };
  constexpr double kWork_pa = 20e6;
  return within(n.ve, 0, 3) && within(n.residual, -1e-3, 1.001) && within(n.trapped.si, 0, 1) &&
         within(n.trapped_air.si, -1e-9, 1) && within(n.charge_pressure.from_zero.si, 1e3, 5e6) &&
         within(n.charge_temperature.from_zero.si, 150, 1500) &&
         within(n.exhaust.from_zero.si, 150, 4000) && within(n.pumping.si, -kWork_pa, kWork_pa) &&
         within(n.indicated.si, -kWork_pa, kWork_pa) && std::isfinite(n.cylinder_spread) &&
         std::isfinite(n.short_circuit);
}

AirNode node_of(const EngineModel::Parts& parts, const Batch& batch, double map_pa,
                const kernel::Result& r, int lane, int cylinders, double capture_deg) {
  AirNode n;
  n.speed = rpm(batch.rpm);
  n.map = absolute(map_pa * pascal);
  kernel::Lane mean{};
  double least = 1e9, most = -1e9;
  for (int c = 0; c < cylinders; ++c) {
    const auto* from = reinterpret_cast<const double*>(&r.lane[c][lane]);
    auto* to = reinterpret_cast<double*>(&mean);
    for (std::size_t q = 0; q < sizeof(kernel::Lane) / sizeof(double); ++q)
      to[q] += from[q] / cylinders;
    least = std::min(least, r.lane[c][lane].fresh_kg);
    most = std::max(most, r.lane[c][lane].fresh_kg);
  }
  const double referred = r.map_pa[lane] > 0 ? r.map_pa[lane] : map_pa;
  const double full =
      referred * parts.swept_m3 / (kPipeGas * batch.surroundings.intake_air.from_zero.si);
  n.ve = mean.fresh_kg / full;  // (breathing.1)
  n.cylinder_spread = (most - least) / full;
  n.residual = mean.residual;
  n.short_circuit =
      mean.fresh_kg > 0 ? std::clamp(mean.lost_fresh_kg / mean.fresh_kg, 0.0, 1.0) : 0;
  n.trapped_air = mean.trapped_fresh_kg * kg;
  n.trapped = mean.trapped_kg * kg;
  n.charge_pressure = absolute(mean.pressure_pa * pascal);
  n.charge_temperature = kelvin(mean.temperature_k);
  n.pumping = mean.pumping_j / parts.swept_m3 * pascal;
  n.indicated = mean.indicated_j / parts.swept_m3 * pascal;
  n.exhaust = kelvin(mean.exhaust_k);
  n.converged = r.settled[lane];
  n.cycles = r.cycles[lane];
  back_to_own_closing(parts, capture_deg, &n);
  const bool sound = is_sound(n);
  n.reachable = sound && n.residual < kMisfire;
  if (!sound) {
    AirNode none;  // places and zeros: nothing of it is an answer
    none.speed = n.speed;
    none.map = n.map;
    none.closing = n.closing;
    none.cycles = n.cycles;
    none.residual = 1;
    none.reachable = none.converged = false;
    none.charge_pressure = n.map;
    none.charge_temperature = none.exhaust = batch.surroundings.intake_air;
    return none;
  }
  return n;
}

struct Stop {
  static bool asked(const void* token) {
    return static_cast<const std::stop_token*>(token)->stop_requested();
  }
};

// Runs tasks 0..count-1 on some threads.
void spread(int threads, std::size_t count, const std::stop_token& stop,
            const std::function<void(std::size_t)>& task) {
  std::atomic<std::size_t> next{0};
  const auto work = [&] {
    for (std::size_t i = next++; i < count; i = next++) {
      if (stop.stop_requested()) return;
      task(i);
    }
  };
  std::vector<std::jthread> others;
  for (int t = 1; t < std::min<int>(threads, static_cast<int>(count)); ++t)
    others.emplace_back(work);
  work();
}

class Progress {
 public:
  Progress(const MapSettings& settings, std::size_t total) : settings_(settings), total_(total) {}
  void one_more() {
    const std::size_t n = ++done_;
    if (settings_.progress)
      settings_.progress(static_cast<double>(n) / static_cast<double>(total_));
  }

 private:
  const MapSettings& settings_;
  std::size_t total_;
  std::atomic<std::size_t> done_{0};
};

AirMap empty_map(const MapPlaces& places) {
  AirMap map{places.speeds, places.pressures, {}};
  for (const AbsolutePressure p : places.pressures) {
    for (const EngineSpeed s : places.speeds) {
      AirNode n;
      n.speed = s;
      n.map = p;
      n.converged = n.reachable = false;
      map.nodes.push_back(n);
    }
  }
  return map;
}

// Lanes share one network: who joins whom is the same in all.
bool same_layout(const EngineModel::Parts& a, const EngineModel::Parts& b) {
  return a.cylinders == b.cylinders && a.bank == b.bank && a.plenum == b.plenum;
}

void check(const MapPlaces& places) {
  EXPECTS(!places.speeds.empty() && !places.pressures.empty());
  for (const EngineSpeed s : places.speeds) EXPECTS(s.rpm >= 200 && s.rpm <= 12'000);
  for (const AbsolutePressure p : places.pressures) {
    EXPECTS(p.from_zero.si >= 10e3 && p.from_zero.si <= 400e3);
  }
}

void run(const Form& form, std::span<const LanePlace> lanes, const Batch& batch,
         const ValveTables& valves, const MapSettings& settings, Workspace& space, bool warm,
         kernel::Network& net, kernel::Result& result) {
  form.network(lanes, batch, valves, &net);
  net.stop = Stop::asked;
  net.stop_data = &settings.stop;
  entry_of(settings.instructions).run(net, space.get(), warm, &result);
}

// Speeds that follow one another in a block, each begun from the one before; blocks do not depend
// on the number of threads, so the answer does not either.
constexpr std::size_t kBlock = 8;

// One engine: the lanes of a batch are manifold pressures, a task is some of the pressures at a
// block of speeds.
AirMap map_by_pressure(const Form& form, const EngineModel& engine, const MapPlaces& places,
                       const MapSettings& settings) {
  check(places);
  AirMap map = empty_map(places);
  const kernel::Entry& entry = entry_of(settings.instructions);
  const EngineModel::Parts& parts = engine.parts();
  const EngineModel::Parts* const one[] = {&parts};
  const ValveTables valves(one, entry.lanes);
  const std::size_t width = static_cast<std::size_t>(entry.lanes), nx = places.speeds.size(),
                    ny = places.pressures.size();
  const std::size_t groups = (ny + width - 1) / width, blocks = (nx + kBlock - 1) / kBlock;
  Progress progress(settings, blocks * groups);
  spread(settings.threads, blocks * groups, settings.stop, [&](std::size_t task) {
    const std::size_t first = (task % groups) * width, count = std::min(width, ny - first);
    std::vector<LanePlace> lanes;
    for (std::size_t i = 0; i < count; ++i)
      lanes.push_back({&parts, places.pressures[first + i].from_zero.si});
    Workspace space(entry.workspace);
    const auto net = std::make_unique<kernel::Network>();
    const auto result = std::make_unique<kernel::Result>();
    const std::size_t begin = task / groups * kBlock;
    for (std::size_t ix = begin;
         ix < std::min(nx, begin + kBlock) && !settings.stop.stop_requested(); ++ix) {
      const Batch batch{places.speeds[ix].rpm, places.surroundings, settings.grid.si,
                        settings.most_cycles};
      run(form, lanes, batch, valves, settings, space, ix > begin, *net, *result);
      std::atomic_ref(map.cell_steps) += result->cell_steps * static_cast<long>(count);
      for (std::size_t i = 0; i < count; ++i) {
        map.nodes[(first + i) * nx + ix] =
            node_of(parts, batch, lanes[i].map_pa, *result, static_cast<int>(i), net->cylinders,
                    valves.capture_deg());
      }
    }
    progress.one_more();
  });
  return map;
}

}  // namespace

AirMap air_map(const EngineModel& engine, const MapPlaces& places, const MapSettings& settings) {
  return map_by_pressure({one_cylinder, false}, engine, places, settings);
}

AirMap whole_engine_map(const EngineModel& engine, const MapPlaces& places,
                        const MapSettings& settings) {
  return map_by_pressure({whole_engine, true}, engine, places, settings);
}

std::vector<AirMap> air_maps(std::span<const EngineModel> engines, const MapPlaces& places,
                             const MapSettings& settings) {
  check(places);
  for (const EngineModel& e : engines) EXPECTS(same_layout(e.parts(), engines[0].parts()));
  std::vector<AirMap> maps(engines.size(), empty_map(places));
  const kernel::Entry& entry = entry_of(settings.instructions);
  const std::size_t width = static_cast<std::size_t>(entry.lanes), nx = places.speeds.size(),
                    ny = places.pressures.size();
  const std::size_t groups = (engines.size() + width - 1) / width;
  std::vector<std::unique_ptr<ValveTables>> valves;
  for (std::size_t g = 0; g < groups; ++g) {
    std::vector<const EngineModel::Parts*> parts;
    for (std::size_t i = g * width; i < std::min(engines.size(), (g + 1) * width); ++i)
      parts.push_back(&engines[i].parts());
    valves.push_back(std::make_unique<ValveTables>(parts, entry.lanes));
  }
  Progress progress(settings, groups * nx);
  // A task is one speed of one group of engines, pressures from high to low, each from the one
  // before.
  spread(settings.threads, groups * nx, settings.stop, [&](std::size_t task) {
    const std::size_t g = task / nx, ix = task % nx, first = g * width,
                      count = std::min(width, engines.size() - first);
    const Batch batch{places.speeds[ix].rpm, places.surroundings, settings.grid.si,
                      settings.most_cycles};
    Workspace space(entry.workspace);
    const auto net = std::make_unique<kernel::Network>();
    const auto result = std::make_unique<kernel::Result>();
    for (std::size_t k = 0; k < ny; ++k) {
      if (settings.stop.stop_requested()) return;
      const std::size_t iy = ny - 1 - k;
      std::vector<LanePlace> lanes;
      for (std::size_t i = 0; i < count; ++i)
        lanes.push_back({&engines[first + i].parts(), places.pressures[iy].from_zero.si});
      run({one_cylinder, false}, lanes, batch, *valves[g], settings, space, k > 0, *net, *result);
      for (std::size_t i = 0; i < count; ++i) {
        std::atomic_ref(maps[first + i].cell_steps) += result->cell_steps;
        maps[first + i].nodes[iy * nx + ix] =
            node_of(engines[first + i].parts(), batch, lanes[i].map_pa, *result,
                    static_cast<int>(i), 1, valves[g]->capture_deg());
      }
    }
    progress.one_more();
  });
  return maps;
}

const char* name_of(InstructionSet set) {
  switch (set) {
    case InstructionSet::avx512:
      return "AVX-512";
    case InstructionSet::avx2:
      return "AVX2";
    case InstructionSet::sse2:
      return "SSE2";
    case InstructionSet::scalar:
      break;
  }
  return "scalar double";
}

InstructionSet best_instruction_set() {
  if (__builtin_cpu_supports("avx512f") && __builtin_cpu_supports("avx512dq") &&
      __builtin_cpu_supports("avx512bw") && __builtin_cpu_supports("avx512vl"))
    return InstructionSet::avx512;
  if (__builtin_cpu_supports("avx2") && __builtin_cpu_supports("fma")) return InstructionSet::avx2;
  return InstructionSet::sse2;
}

}  // namespace fuelwright::physics
