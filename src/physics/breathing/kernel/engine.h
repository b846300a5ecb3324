// The network in motion: step by step, cycle by cycle, until it settles.
#pragma once

#include "physics/breathing/kernel/ledger.h"
#include "physics/breathing/kernel/setting_up.h"
#include "physics/breathing/kernel/settled.h"
#include "physics/breathing/kernel/strokes.h"

namespace fuelwright::physics::FUELWRIGHT_KERNEL {

inline void run_cycle(Machine& m, PipeSums* flows) {
  const Network& net = *m.net;
  const double begin = net.capture_deg, end = begin + kCycle;
  const double deg_per_s = 6 * net.rpm;
  double theta = begin;
  begin_cycle(m);
  while (theta < end - 1e-9) {
    V fastest = splat(1);
    for (int i = 0; i < net.pipes; ++i) fastest = max(fastest, m.pipe[i].fastest);
    const double rate = largest(fastest);
    double dtheta = net.step_deg > 0 ? net.step_deg : net.cfl * deg_per_s / rate;
    if (!(dtheta > 1e-4)) dtheta = 1e-4;  // also if rate is not a number
    if (dtheta > 1) dtheta = 1;
    if (theta + dtheta > end) dtheta = end - theta;
    const double step = dtheta / deg_per_s;
    const V dt = splat(step);
    for (int i = 0; i < net.joints; ++i) join(m, i, theta + 0.5 * dtheta, dt);
    if (flows) add_pipe_flows(m, dt, flows);
    for (int i = 0; i < net.pipes; ++i) {
      advance(m.pipe[i], dt);
      m.cell_steps += m.pipe[i].cells;
    }
    for (int i = 0; i < net.reservoirs; ++i) {
      if (net.reservoir[i].sharing > 0) {
        ReservoirState& r = m.reservoir[i];
        r.p = r.given_p + swing(m.plenum, net.reservoir[i].sharing, theta + 0.5 * dtheta, r.d_mass);
      }
      settle_reservoir(m.reservoir[i], net.reservoir[i].kind, dt);
    }
    for (int i = 0; i < net.cylinders; ++i) {
      CylinderState& c = m.cylinder[i];
      move_cylinder(m, c, theta, dtheta, dt, speed_of(m, c));
    }
    theta += dtheta;
    ++m.steps;
  }
}

inline void report(const Machine& m, kernel::Lane (&sum)[kMostCylinders][kMostLanes],
                   double weight) {
  for (int i = 0; i < m.net->cylinders; ++i) {
    const CylinderState& c = m.cylinder[i];
    for (int l = 0; l < m.net->lanes; ++l) {
      kernel::Lane& o = sum[i][l];
      o.fresh_kg += weight * lane(c.fresh_in, l);
      o.trapped_fresh_kg += weight * lane(c.c_fresh, l);
      o.trapped_kg += weight * lane(c.c_mass, l);
      o.pressure_pa += weight * lane(c.c_p, l);
      o.temperature_k += weight * lane(c.c_t, l);
      o.residual += weight * lane(c.c_share, l);
      o.pumping_j += weight * lane(c.pumping, l);
      o.indicated_j += weight * lane(c.indicated, l);
      o.exhaust_k += weight * lane(c.out_heat, l) / ::fmax(lane(c.out_mass, l), 1e-12);
      o.lost_fresh_kg += weight * lane(c.fresh_lost, l);
    }
  }
}

// workspace: a Machine, then two sets of cell arrays, used in turn so that a warm start can read
// the old one.
inline void run_network(const Network& net, void* workspace, bool warm, kernel::Result* out) {
  char* base = static_cast<char*>(workspace);
  Machine& m = *reinterpret_cast<Machine*>(base);
  int* turn = reinterpret_cast<int*>(base + sizeof(Machine));
  *turn = warm ? 1 - *turn : 0;
  char* cells = base + (sizeof(Machine) + 2 * sizeof(V)) / sizeof(V) * sizeof(V);
  int total = 0;
  for (int i = 0; i < net.pipes; ++i) total += net.pipe[i].cells;
  cells += *turn ? static_cast<unsigned long>(kernel::kMostCells) * 5 * sizeof(V) : 0;
  set_up(m, net, cells, warm);
  const double cycle_s = 120 / net.rpm;
  static const kernel::Lane kNone{};
  kernel::Lane kept[kHistory][kMostCylinders][kMostLanes];
  int done = 0;
  for (int cycle = 1; cycle <= net.most_cycles; ++cycle) {
    const PipeSums began = pipe_sums(m);
    PipeSums flows{splat(0), splat(0)};
    run_cycle(m, &flows);
    fill_ledger(m, began, flows, &out->ledger);
    auto& slot = kept[cycle % kHistory];
    for (auto& c : slot)
      for (auto& l : c) l = kNone;
    report(m, slot, 1);
    done = cycle;
    set_back_pressure(m, cycle_s);
    for (int i = 0; i < net.joints; ++i)
      if (m.joint[i].trace >= 0) turn_over(m.trace[m.joint[i].trace], net.rpm);
    set_throttle(m, cycle_s);
    set_plenum(m, cycle_s);
    const bool settled = all_settled(m, out, cycle);
    if (settled || (net.stop && net.stop(net.stop_data))) break;
  }
  for (int i = 0; i < net.cylinders; ++i) {
    for (int l = 0; l < net.lanes; ++l) {
      const int over = out->settled[l] && !out->by_mean[l] ? (done < 2 ? done : 2)
                                                           : (done < kHistory ? done : kHistory);
      double* to = reinterpret_cast<double*>(&out->lane[i][l]);
      for (unsigned long q = 0; q < sizeof(kernel::Lane) / sizeof(double); ++q) {
        to[q] = 0;
        for (int k = 0; k < over; ++k)
          to[q] += reinterpret_cast<const double*>(&kept[(done - k) % kHistory][i][l])[q] / over;
      }
    }
  }
  for (int l = 0; l < net.lanes; ++l) {
    if (out->settled[l] && out->cycles[l] > done) out->cycles[l] = done;
    out->map_pa[l] = lane(m.mean_map, l);
  }
  out->steps = m.steps;
  out->cell_steps = m.cell_steps;
}

inline constexpr unsigned long kWorkspace =
    sizeof(Machine) + 4 * sizeof(V) +
    static_cast<unsigned long>(kernel::kMostCells) * 10 * sizeof(V);

}  // namespace fuelwright::physics::FUELWRIGHT_KERNEL
