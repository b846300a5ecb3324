// The whole-engine form: every cylinder with its own runner and primary, plenums with throttle and
// duct, and the manifold as it is arranged.
#include <algorithm>
#include <cmath>
#include <map>

#include "physics/breathing/internal/network_common.h"

namespace fuelwright::physics {

namespace {

PipeShape runner(const PartsOf& p, int i) {
  return {p.runner_m[static_cast<std::size_t>(i)], p.runner_area_m2};
}
PipeShape secondary(const PartsOf& p, int) { return {p.secondary_m, p.secondary_area_m2}; }
PipeShape duct(const PartsOf& p, int) { return {p.duct_m, p.duct_area_m2 / p.plenums}; }
// A log is a wide tube along the head with a short port from each cylinder.
PipeShape log_port(const PartsOf& p, int) {
  return {std::min(p.primary_m, 0.12), p.primary_area_m2};
}
PipeShape log_piece(const PartsOf& p, int) { return {1.15 * p.bore_m, p.collector_area_m2}; }
double duct_area(const PartsOf& p) { return (p.runner_area_m2 + p.duct_area_m2) / p.plenums; }
double secondary_area(const PartsOf& p) { return p.secondary_area_m2; }
double log_area(const PartsOf& p) { return p.collector_area_m2; }
double runner_area(const PartsOf& p) { return p.runner_area_m2; }

struct Builder {
  kernel::Network& net;
  std::span<const LanePlace> lanes;
  const Batch& batch;

  const PartsOf& parts() const { return *lanes[0].engine; }

  int exhaust_junction(double (*areas)(const PartsOf&), double count,
                       double (*joined)(const PartsOf&), double joined_count) {
    const int r = add_reservoir(&net, kernel::Kind::volume, Side::exhaust);
    size_junction(&net.reservoir[r], lanes, batch, areas, count, joined, joined_count);
    all(net.reservoir[r].pressure_pa, batch.surroundings.ambient.from_zero.si);
    all(net.reservoir[r].temperature_k, 900);
    all(net.reservoir[r].burnt, 1);
    return r;
  }

  // Open air - duct - throttle - plenum, for each plenum.
  std::vector<int> intake_side() {
    const int air = add_reservoir(&net, kernel::Kind::outside, Side::intake);
    net.reservoir[air].plenum = true;
    all(net.reservoir[air].pressure_pa, batch.surroundings.ambient.from_zero.si);
    all(net.reservoir[air].temperature_k, batch.surroundings.intake_air.from_zero.si);
    std::vector<int> plenums;
    for (int k = 0; k < parts().plenums; ++k) {
      const int chamber = add_reservoir(&net, kernel::Kind::volume, Side::intake);
      kernel::Reservoir& r = net.reservoir[chamber];
      r.plenum = true;
      size_junction(&r, lanes, batch, duct_area, 1, runner_area,
                    static_cast<double>(parts().cylinders) / parts().plenums);
      for (int i = 0; i < kernel::kMostLanes; ++i) {
        const PartsOf& p =
            *lanes[static_cast<std::size_t>(i) < lanes.size() ? static_cast<std::size_t>(i) : 0]
                 .engine;
        r.volume_m3[i] = std::max(r.volume_m3[i], p.plenum_m3 / p.plenums);
      }
      each(r.pressure_pa, lanes, [](const LanePlace& l) { return l.map_pa; });
      all(r.temperature_k, batch.surroundings.intake_air.from_zero.si);
      const int pipe = add_pipe(&net, lanes, batch, Side::intake, -1, duct, k);
      kernel::Pipe& d = net.pipe[pipe];
      all(d.start_pa, batch.surroundings.ambient.from_zero.si);
      all(d.heat, 0);  // what warms the air before the plenum is in the intake temperature
      all(d.start_k, batch.surroundings.intake_air.from_zero.si);
      add_open_end(&net, lanes, pipe, 0, air, true);
      add_open_end(&net, lanes, pipe, 1, chamber, false);
      net.joint[net.joints - 1].throttle = true;
      plenums.push_back(chamber);
    }
    return plenums;
  }

  int with_runner(int i, int plenum) {
    const int cylinder = add_cylinder(&net, lanes, parts().firing_deg[static_cast<std::size_t>(i)]);
    const int pipe = add_pipe(&net, lanes, batch, Side::intake, 1, runner, i);
    add_open_end(&net, lanes, pipe, 0, plenum, true);
    add_valve(&net, pipe, 1, cylinder, 1);
    return cylinder;
  }

  int blow_into(int cylinder, int junction, PipeShape (*shape)(const PartsOf&, int)) {
    const int pipe = add_pipe(&net, lanes, batch, Side::exhaust, 0, shape, 0);
    add_valve(&net, pipe, 0, cylinder, 2);
    add_open_end(&net, lanes, pipe, 1, junction, false);
    return pipe;
  }

  void link(int from, int to, PipeShape (*shape)(const PartsOf&, int)) {
    const int pipe = add_pipe(&net, lanes, batch, Side::exhaust, -1, shape, 0);
    add_open_end(&net, lanes, pipe, 0, from, false);
    add_open_end(&net, lanes, pipe, 1, to, false);
  }

  int outlet(double share) { return add_outlet(&net, lanes, batch, share, 1); }

  // The cylinders of one bank, in firing order.
  void exhaust_side(const std::vector<int>& cylinders, double share) {
    const double n = static_cast<double>(cylinders.size());
    if (parts().manifold == Manifold::log) {
      int before = -1;
      for (const int c : cylinders) {
        const int here = exhaust_junction(log_area, 1, primary_area, 1);
        blow_into(c, here, log_port);
        if (before >= 0) link(before, here, log_piece);
        before = here;
      }
      link(before, outlet(share), collector);
      return;
    }
    const int merge = exhaust_junction(collector_area, std::max(1.0, n / 4), primary_area, n);
    if (parts().manifold == Manifold::four_two_one && cylinders.size() >= 4) {
      // Cylinders half a bank apart in the firing order share a secondary.
      const std::size_t pairs = cylinders.size() / 2;
      for (std::size_t k = 0; k < pairs; ++k) {
        const int pair = exhaust_junction(secondary_area, 1, primary_area, 2);
        for (std::size_t i = k; i < cylinders.size(); i += pairs)
          blow_into(cylinders[i], pair, primary);
        link(pair, merge, secondary);
      }
    } else {
      for (const int c : cylinders) blow_into(c, merge, primary);
    }
    link(merge, outlet(share), collector);
  }
};

}  // namespace

void whole_engine(std::span<const LanePlace> lanes, const Batch& batch, const ValveTables& valves,
                  kernel::Network* out) {
  kernel::Network& net = *out;
  net = {};
  set_gas(&net, lanes, batch);
  net.valves = valves.view();
  net.capture_deg = valves.capture_deg();
  Builder build{net, lanes, batch};
  const PartsOf& parts = build.parts();
  const std::vector<int> plenums = build.intake_side();
  std::map<int, std::vector<std::pair<double, int>>> banks;  // bank: firing angle, cylinder
  for (int i = 0; i < parts.cylinders; ++i) {
    const auto at = static_cast<std::size_t>(i);
    const int c = build.with_runner(i, plenums[static_cast<std::size_t>(parts.plenum[at])]);
    banks[parts.bank[at]].push_back({parts.firing_deg[at], c});
  }
  for (auto& [bank, members] : banks) {
    std::sort(members.begin(), members.end());
    std::vector<int> cylinders;
    for (const auto& m : members) cylinders.push_back(m.second);
    build.exhaust_side(cylinders, static_cast<double>(cylinders.size()) / parts.cylinders);
  }
}

}  // namespace fuelwright::physics
