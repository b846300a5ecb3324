/// What both forms of the network have in common: pipes with their walls, the cylinder, the fuel.
#pragma once

#include "physics/breathing/internal/networks.h"

namespace fuelwright::physics {

inline constexpr double kAirGamma = 1.39;       // intake [-]
inline constexpr double kExhaustGamma = 1.333;  // [-]
inline constexpr double kPipeGas = 287.05;      // J/(kg K), dry air

using PartsOf = EngineModel::Parts;

/// Fills a lane array from a function of the lane.
template <class F>
void each(kernel::Lanes& out, std::span<const LanePlace> lanes, F value) {
  for (int i = 0; i < kernel::kMostLanes; ++i)
    out[i] =
        value(lanes[static_cast<std::size_t>(i) < lanes.size() ? static_cast<std::size_t>(i) : 0]);
}
inline void all(kernel::Lanes& out, double value) {
  for (double& v : out) v = value;
}

enum class Side { intake, exhaust };

struct PipeShape {
  double length_m, area_m2;
};

inline PipeShape primary(const PartsOf& p, int) { return {p.primary_m, p.primary_area_m2}; }
inline PipeShape collector(const PartsOf& p, int) {
  return {p.collector_m * p.unstated.collector_length_factor, p.collector_area_m2};
}
inline double primary_area(const PartsOf& p) { return p.primary_area_m2; }
inline double collector_area(const PartsOf& p) { return p.collector_area_m2; }

/// Adds a pipe with the side's gas, friction and wall; its number.
int add_pipe(kernel::Network* net, std::span<const LanePlace> lanes, const Batch& batch, Side side,
             int valve_end, PipeShape (*shape)(const PartsOf&, int index), int index);
int add_reservoir(kernel::Network* net, kernel::Kind kind, Side side);
/// A pipe's end that opens into a reservoir: `entry_loss` in dynamic heads on the way into the
/// pipe.
void add_open_end(kernel::Network* net, std::span<const LanePlace> lanes, int pipe, int end,
                  int reservoir, bool entry_loss);
void add_valve(kernel::Network* net, int pipe, int end, int reservoir, int valve);
int add_cylinder(kernel::Network* net, std::span<const LanePlace> lanes, double phase_deg);
/// Gas after the collector: the open air and what stands against the flow. `share`: of the engine's
/// exhaust that leaves here; `of_cylinder`: of that share, what the network carries.
int add_outlet(kernel::Network* net, std::span<const LanePlace> lanes, const Batch& batch,
               double share, double carried);
/// A chamber where pipes of these areas meet; large enough for the time step.
void size_junction(kernel::Reservoir* r, std::span<const LanePlace> lanes, const Batch& batch,
                   double (*areas)(const PartsOf&), double count, double (*joined)(const PartsOf&),
                   double joined_count);
void set_gas(kernel::Network* net, std::span<const LanePlace> lanes, const Batch& batch);

}  // namespace fuelwright::physics
