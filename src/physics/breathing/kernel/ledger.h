// What went in and what is there: mass and energy of pipes and cylinders over a cycle.
#pragma once

#include "physics/breathing/kernel/machine.h"

namespace fuelwright::physics::FUELWRIGHT_KERNEL {

inline void begin_cycle(Machine& m) {
  const V zero = splat(0);
  for (int i = 0; i < m.net->cylinders; ++i) {
    CylinderState& c = m.cylinder[i];
    c.fresh_in = c.fresh_lost = c.pumping = c.indicated = c.out_mass = c.out_heat = c.energy_in =
        c.mass_in = zero;
    c.energy_began = c.energy;
    c.mass_began = c.fresh + c.burnt;
  }
  for (int i = 0; i < m.net->reservoirs; ++i) m.reservoir[i].mean_p = m.reservoir[i].mean_in = zero;
  for (int i = 0; i < m.net->pipes; ++i) m.pipe[i].heat_in = zero;
}

struct PipeSums {
  V mass, energy;
};
inline PipeSums pipe_sums(const Machine& m) {
  PipeSums s{splat(0), splat(0)};
  for (int k = 0; k < m.net->pipes; ++k) {
    const PipeState& p = m.pipe[k];
    for (int i = 0; i < p.cells; ++i) {
      s.mass = s.mass + p.rho[i] * p.dx * p.area;
      s.energy =
          s.energy +
          (p.p[i] / (p.gamma - Real(1)) + Real(0.5) * p.rho[i] * p.u[i] * p.u[i]) * p.dx * p.area;
    }
  }
  return s;
}

inline void add_pipe_flows(const Machine& m, V dt, PipeSums* in) {
  for (int k = 0; k < m.net->pipes; ++k) {
    const PipeState& p = m.pipe[k];
    in->mass = in->mass + dt * p.area * (p.flux[0].mass - p.flux[1].mass);
    in->energy = in->energy + dt * p.area * (p.flux[0].energy - p.flux[1].energy);
  }
}

inline void fill_ledger(const Machine& m, const PipeSums& began, const PipeSums& flows,
                        kernel::Ledger* out) {
  const PipeSums now = pipe_sums(m);
  V heat = splat(0);
  for (int k = 0; k < m.net->pipes; ++k)
    heat = heat + m.pipe[k].heat_in * m.pipe[k].dx * m.pipe[k].area;
  V ce = splat(0), ci = splat(0), cm = splat(0), mi = splat(0);
  for (int i = 0; i < m.net->cylinders; ++i) {
    const CylinderState& c = m.cylinder[i];
    ce = ce + (c.energy - c.energy_began);
    ci = ci + c.energy_in;
    cm = cm + (c.fresh + c.burnt - c.mass_began);
    mi = mi + c.mass_in;
  }
  for (int l = 0; l < m.net->lanes; ++l) {
    out->pipe_mass[l] = lane(now.mass - began.mass, l);
    out->pipe_mass_in[l] = lane(flows.mass, l);
    out->pipe_energy[l] = lane(now.energy - began.energy, l);
    out->pipe_energy_in[l] = lane(flows.energy + heat, l);
    out->cylinder_energy[l] = lane(ce, l);
    out->cylinder_energy_in[l] = lane(ci, l);
    out->cylinder_mass[l] = lane(cm, l);
    out->cylinder_mass_in[l] = lane(mi, l);
  }
}

}  // namespace fuelwright::physics::FUELWRIGHT_KERNEL
