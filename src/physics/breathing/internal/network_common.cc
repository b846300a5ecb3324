#include "physics/breathing/internal/network_common.h"

#include <algorithm>
#include <cmath>

#include "base/contract.h"

namespace fuelwright::physics {

namespace {

constexpr double kUniversalGas = 8.314462618;  // J/(mol K)
constexpr double kVapourHeat = 1650;           // cv of petrol vapour [J/(kg K)], from memory
constexpr double kCombustion =
    0.97;                          // share of the air-limited heat that is released (from memory)
constexpr double kHotSound = 560;  // in the gas after the collector, 800 K [m/s]
constexpr double kCfl = 0.93;
constexpr double kSettle = 6e-4;

// How hard the engine works at a place, 1 at 3000 rpm and 100 kPa.
double effort(const Batch& b, double map_pa) { return b.rpm / 3000 * map_pa / 1e5; }

// Walls follow the load:  T = T_low + (T_full - T_low) effort^0.4 (breathing.10)
double exhaust_wall(const Batch& b, const LanePlace& l) {
  constexpr double kIdle_k = 420;
  const Unstated& u = l.engine->unstated;
  const double t = kIdle_k + (u.exhaust_wall_k - kIdle_k) *
                                 std::pow(effort(b, l.map_pa), 0.4 * u.wall_temperature_swing);
  return std::clamp(t, 330.0, 1150.0);
}
double cylinder_wall(const Batch& b, const LanePlace& l) {
  const double rise =
      70 * std::pow(effort(b, l.map_pa), 0.4 * l.engine->unstated.wall_temperature_swing);
  return b.surroundings.coolant.from_zero.si + std::min(rise, 200.0);
}

}  // namespace

double cell_length(double grid_m, double rpm) { return grid_m * std::clamp(3200 / rpm, 1.0, 3.0); }

int add_pipe(kernel::Network* net, std::span<const LanePlace> lanes, const Batch& batch, Side side,
             int valve_end, PipeShape (*shape)(const PartsOf&, int), int index) {
  EXPECTS(net->pipes < kernel::kMostPipes);
  kernel::Pipe& p = net->pipe[net->pipes];
  const double length = shape(*lanes[0].engine, index).length_m;
  constexpr int kMost = 80;  // a runner of several metres is computed with longer cells
  // Sound is twice as fast in the exhaust: longer cells there cost no more and let the step be
  // longer.
  const double cell = cell_length(batch.grid_m, batch.rpm) * (side == Side::exhaust ? 1.25 : 1);
  p.cells = static_cast<int>(std::clamp(std::lround(length / cell), 3L, long{kMost}));
  p.gamma = side == Side::intake ? kAirGamma : kExhaustGamma;
  each(p.length_m, lanes, [&](const LanePlace& l) { return shape(*l.engine, index).length_m; });
  each(p.area_m2, lanes, [&](const LanePlace& l) { return shape(*l.engine, index).area_m2; });
  p.valve_end = valve_end;
  each(p.valve_heat, lanes, [](const LanePlace& l) { return l.engine->unstated.port_heat; });
  const double air = batch.surroundings.intake_air.from_zero.si;
  const double outside = batch.surroundings.ambient.from_zero.si;
  if (side == Side::intake) {
    each(p.friction, lanes, [](const LanePlace& l) { return l.engine->unstated.intake_friction; });
    each(p.heat, lanes, [](const LanePlace& l) { return l.engine->unstated.intake_heat; });
    each(p.wall_k, lanes, [](const LanePlace& l) { return l.engine->unstated.intake_wall_k; });
    each(p.start_pa, lanes, [](const LanePlace& l) { return l.map_pa; });
    all(p.start_k, air + 10);
    all(p.start_burnt, 0);
  } else {
    each(p.friction, lanes, [](const LanePlace& l) { return l.engine->unstated.exhaust_friction; });
    each(p.heat, lanes, [](const LanePlace& l) { return l.engine->unstated.exhaust_heat; });
    each(p.wall_k, lanes, [&](const LanePlace& l) { return exhaust_wall(batch, l); });
    all(p.start_pa, outside);
    all(p.start_k, 900);
    all(p.start_burnt, 1);
  }
  return net->pipes++;
}

int add_reservoir(kernel::Network* net, kernel::Kind kind, Side side) {
  EXPECTS(net->reservoirs < kernel::kMostReservoirs);
  kernel::Reservoir& r = net->reservoir[net->reservoirs];
  r = {};
  r.kind = kind;
  r.gamma = side == Side::intake ? kAirGamma : kExhaustGamma;
  all(r.volume_m3, 1);
  all(r.pressure_pa, 1e5);
  all(r.temperature_k, 300);
  return net->reservoirs++;
}

void add_open_end(kernel::Network* net, std::span<const LanePlace> lanes, int pipe, int end,
                  int reservoir, bool entry_loss) {
  EXPECTS(net->joints < kernel::kMostJoints);
  kernel::Joint& j = net->joint[net->joints++];
  j = {pipe, end, reservoir, 0, {}, {}, false, 0, {}};
  for (int i = 0; i < kernel::kMostLanes; ++i) {
    const std::size_t l =
        static_cast<std::size_t>(i) < lanes.size() ? static_cast<std::size_t>(i) : 0;
    const double area = net->pipe[pipe].area_m2[i];
    const double loss = entry_loss ? lanes[l].engine->unstated.entry_loss : 0.05;
    j.in_m2[i] = area / std::sqrt(1 + loss);
    j.out_m2[i] = area;
  }
}

void add_valve(kernel::Network* net, int pipe, int end, int reservoir, int valve) {
  EXPECTS(net->joints < kernel::kMostJoints);
  net->joint[net->joints++] = {pipe, end, reservoir, valve, {}, {}, false, 0, {}};
}

int add_cylinder(kernel::Network* net, std::span<const LanePlace> lanes, double phase_deg) {
  EXPECTS(net->cylinders < kernel::kMostCylinders);
  kernel::Cylinder& c = net->cylinder[net->cylinders];
  c.phase_deg = phase_deg;
  each(c.bore_m, lanes, [](const LanePlace& l) { return l.engine->bore_m; });
  each(c.crank_m, lanes, [](const LanePlace& l) {  // so that the swept volume is the stated one
    return l.engine->swept_m3 / (3.14159265358979 / 2 * l.engine->bore_m * l.engine->bore_m);
  });
  each(c.rod_m, lanes, [](const LanePlace& l) { return l.engine->rod_m; });
  each(c.clearance_m3, lanes, [](const LanePlace& l) { return l.engine->clearance_m3; });
  const int r = add_reservoir(net, kernel::Kind::cylinder, Side::exhaust);
  net->reservoir[r].cylinder = net->cylinders++;
  return r;
}

int add_outlet(kernel::Network* net, std::span<const LanePlace> lanes, const Batch& batch,
               double share, double carried) {
  const int r = add_reservoir(net, kernel::Kind::outside, Side::exhaust);
  kernel::Reservoir& o = net->reservoir[r];
  all(o.pressure_pa, batch.surroundings.ambient.from_zero.si);
  all(o.temperature_k, 700);
  all(o.burnt, 1);
  each(o.damping, lanes, [](const LanePlace& l) {
    // The outlet follows the flow one step late: above about 0.8 it would answer more than it was
    // asked.
    const double damping = std::clamp(l.engine->unstated.tail_damping, 0.0, 0.78);
    return damping * kHotSound / l.engine->collector_area_m2;
  });
  each(o.resistance, lanes, [&](const LanePlace& l) {
    const double rated = l.engine->back_pressure_kg_s * share * carried;
    return l.engine->back_pressure_pa / (rated * rated);
  });
  return r;
}

void size_junction(kernel::Reservoir* r, std::span<const LanePlace> lanes, const Batch& batch,
                   double (*areas)(const PartsOf&), double count, double (*joined)(const PartsOf&),
                   double joined_count) {
  // As long as the widest pipe is wide, and never so small that one step could fill it.
  const double least = 1.3 * cell_length(batch.grid_m, batch.rpm);
  each(r->volume_m3, lanes, [&](const LanePlace& l) {
    const double a = areas(*l.engine) * count;
    // Each step passes at most a cell of every pipe: with half of that the junction's pressure
    // follows the waves without overshooting more and more.
    const double step = (a + joined(*l.engine) * joined_count) * 0.5 * least / 1.3;
    return std::max(a * std::max(least, std::sqrt(a)), step);
  });
}

void set_gas(kernel::Network* net, std::span<const LanePlace> lanes, const Batch& batch) {
  net->lanes = static_cast<int>(lanes.size());
  net->rpm = batch.rpm;
  net->cfl = kCfl;
  net->most_cycles = batch.most_cycles;
  net->settle = kSettle;
  const double lambda = batch.surroundings.lambda;
  const auto vapour = [&](const LanePlace& l) {
    return l.engine->unstated.fuel_vapour / (lambda * l.engine->stoichiometric);
  };
  each(net->fuel_j_per_kg_air, lanes, [&](const LanePlace& l) {
    return kCombustion * l.engine->heating_j_kg / l.engine->stoichiometric *
           std::min(1.0, 1 / lambda);
  });
  each(net->vapour_r, lanes,
       [&](const LanePlace& l) { return vapour(l) * kUniversalGas / l.engine->fuel_molar_kg; });
  each(net->vapour_cv, lanes, [&](const LanePlace& l) { return vapour(l) * kVapourHeat; });
  each(net->vapour_cooling_j, lanes, [&](const LanePlace& l) {
    return vapour(l) * l.engine->unstated.vapour_cooling * l.engine->vaporising_j_kg;
  });
  each(net->blow_by, lanes, [](const LanePlace& l) { return l.engine->unstated.blow_by; });
  each(net->burn_limit, lanes, [](const LanePlace& l) { return l.engine->unstated.burn_limit; });
  each(net->burn_fade, lanes, [](const LanePlace& l) { return l.engine->unstated.burn_fade; });
  each(net->gas_exchange_heat, lanes,
       [](const LanePlace& l) { return l.engine->unstated.gas_exchange_heat; });
  each(net->closed_heat, lanes, [](const LanePlace& l) { return l.engine->unstated.closed_heat; });
  each(net->wall_k, lanes, [&](const LanePlace& l) { return cylinder_wall(batch, l); });
  each(net->target_map_pa, lanes, [](const LanePlace& l) { return l.map_pa; });
  each(net->throttle_open_m2, lanes,
       [](const LanePlace& l) { return l.engine->throttle_area_m2 / l.engine->plenums; });
}

}  // namespace fuelwright::physics
