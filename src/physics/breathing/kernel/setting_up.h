// The network is filled: from nothing, or from the state of the run before.
#pragma once

#include "physics/breathing/kernel/between.h"

namespace fuelwright::physics::FUELWRIGHT_KERNEL {

inline V* carve(char*& at, int count) {
  V* out = reinterpret_cast<V*>(at);
  at += sizeof(V) * static_cast<unsigned long>(count);
  return out;
}

// Cell arrays of a pipe: filled with its start values, or, when warm, with the old profile
// stretched over the new cells.
inline void set_pipe(PipeState& s, const kernel::Pipe& in, char*& at, bool warm, V scale) {
  const int old_cells = s.cells;
  V* old[4] = {s.rho, s.u, s.p, s.y};
  s.cells = in.cells;
  s.gamma = static_cast<Real>(in.gamma);
  const V length = load(in.length_m);
  s.dx = length * static_cast<Real>(1.0 / in.cells);
  s.inverse_dx = splat(1) / s.dx;
  s.area = load(in.area_m2);
  s.wall_k = load(in.wall_k);
  const V diameter = sqrt(s.area * static_cast<Real>(4 / 3.14159265358979));
  s.friction = Real(2) * load(in.friction) / diameter;
  s.heat = s.friction;
  V* fresh[4];
  for (V*& f : fresh) f = carve(at, in.cells);
  s.factor = carve(at, in.cells);
  for (int i = 0; i < in.cells; ++i) {
    s.factor[i] = load(in.heat);
    if (in.valve_end >= 0) {
      const Real from_valve = static_cast<Real>(in.valve_end == 0 ? i : in.cells - 1 - i);
      // share of the cell that lies within 0.1 m of the valve
      const V near = clamp((splat(0.1) - from_valve * s.dx) / s.dx, splat(0), splat(1));
      s.factor[i] = s.factor[i] * (Real(1) + near * (load(in.valve_heat) - Real(1)));
    }
    if (warm) {
      const double x = (i + 0.5) * old_cells / in.cells - 0.5;
      int k = static_cast<int>(x < 0 ? 0 : x);
      if (k > old_cells - 2) k = old_cells - 2;
      double t = x - k;
      t = t < 0 ? 0 : t > 1 ? 1 : t;
      const Real b = static_cast<Real>(t), a = Real(1) - b;
      for (int q = 0; q < 4; ++q) fresh[q][i] = a * old[q][k] + b * old[q][k + 1];
      fresh[0][i] = fresh[0][i] * scale;
      fresh[2][i] = fresh[2][i] * scale;
    } else {
      const V p = load(in.start_pa);
      fresh[0][i] = p / (Real(kGas) * load(in.start_k));
      fresh[1][i] = splat(0);
      fresh[2][i] = p;
      fresh[3][i] = load(in.start_burnt);
    }
  }
  s.rho = fresh[0];
  s.u = fresh[1];
  s.p = fresh[2];
  s.y = fresh[3];
  s.face[0] = cell(s, 0);
  s.face[1] = cell(s, s.cells - 1);
  s.fastest = (abs(s.face[0].u) + Real(900)) * s.inverse_dx;
}

inline void set_cylinder(CylinderState& c, const kernel::Cylinder& in, const Species& s,
                         const Network& net, bool warm) {
  c.phase = static_cast<Real>(in.phase_deg);
  c.bore = load(in.bore_m);
  c.piston = c.bore * c.bore * Real(0.785398163);
  c.crank = load(in.crank_m);
  c.rod = load(in.rod_m);
  c.clearance = load(in.clearance_m3);
  c.swept = Real(2) * c.crank * c.piston;
  c.bore_power = Real(3.26) * exp2(Real(-0.2) * log2(c.bore));
  if (!warm) {
    const V start_t = splat(360);
    double local = net.capture_deg - in.phase_deg;
    const double a = local * (3.14159265358979 / 180);
    c.volume = volume_at(c, ::sin(a), ::cos(a));
    V p = load(net.target_map_pa);
    const V mass = p * c.volume / (Real(kGas) * start_t);
    c.fresh = Real(0.85) * mass;
    c.burnt = Real(0.15) * mass;
    c.energy = c.fresh * energy_fresh(s, start_t) + c.burnt * energy_burnt(s, start_t);
    refresh(c, s);
    c.start_deg = splat(-20);
    c.span_deg = splat(55);
    c.heat_j = c.burns = splat(0);
    c.p_ref = c.p;
    c.v_ref = c.volume;
    c.t_ref = c.t;
    c.done = splat(1);
    c.captured = false;
    c.c_fresh = c.fresh;
    c.c_mass = c.fresh + c.burnt;
    c.c_p = c.p;
    c.c_t = c.t;
    c.c_share = c.share;
  }
  c.d_fresh = c.d_burnt = c.d_energy = splat(0);
}

inline void set_reservoir(ReservoirState& r, const kernel::Reservoir& in, bool warm) {
  r.nozzle = make_nozzle(in.gamma);
  r.given_p = load(in.pressure_pa);
  r.given_t = load(in.temperature_k);
  r.given_y = load(in.burnt);
  r.resistance = load(in.resistance);
  r.damping = load(in.damping);
  if (in.kind == Kind::volume) r.volume = load(in.volume_m3);
  r.d_mass = r.d_burnt = r.d_energy = splat(0);
  if (warm && in.kind == Kind::volume) {  // as it was, in the volume it now has
    r.mass = r.p * r.volume / (Real(kGas) * r.t);
    r.burnt = r.mass * r.y;
    r.energy = r.p * r.volume * (Real(1) / (r.nozzle.gamma - Real(1)));
    return;
  }
  if (warm && in.kind == Kind::outside) return;
  r.p = r.base = r.given_p;
  r.mean_flow = splat(0);
  r.t = r.given_t;
  r.y = r.given_y;
  r.held = splat(0);
  r.held_t = r.given_t;
  r.held_y = r.given_y;
  if (in.kind == Kind::volume) {
    r.mass = r.p * r.volume / (Real(kGas) * r.t);
    r.burnt = r.mass * r.y;
    r.energy = r.p * r.volume * (Real(1) / (r.nozzle.gamma - Real(1)));
  }
}

// Area for a filling of 0.7 at the wanted pressure.
inline void first_throttle(Machine& m) {
  const Network& net = *m.net;
  m.throttle_m2 = m.throttle_open;
  m.throttle_factor = splat(1);
  int plenums = 0;
  for (int i = 0; i < net.reservoirs; ++i)
    plenums += net.reservoir[i].kind == Kind::volume && net.reservoir[i].plenum;
  for (int i = 0; i < net.reservoirs && plenums > 0; ++i) {
    if (net.reservoir[i].kind != Kind::outside || !net.reservoir[i].plenum) continue;
    const ReservoirState& air = m.reservoir[i];
    const V gas = Real(kGas) * air.given_t;
    const V flow = Real(0.7) * m.target * m.cylinder[0].swept / gas *
                   static_cast<Real>(net.cylinders * net.rpm / (120.0 * plenums));
    const V psi = exact_or_choked(air.nozzle, min(m.target / air.base, splat(0.9995)));
    m.throttle_m2 = min(flow * sqrt(gas) / (air.base * psi), m.throttle_open);
  }
}

inline void set_up(Machine& m, const Network& net, char* cells, bool warm) {
  m.net = &net;
  const V vapour_r = load(net.vapour_r), vapour_cv = load(net.vapour_cv);
  m.species = {splat(kGas) + vapour_r,
               splat(kGas * kAirA) + vapour_cv,
               splat(kGas * kAirB),
               static_cast<Real>(kBurntGas),
               static_cast<Real>(kBurntGas * kBurntA),
               static_cast<Real>(kBurntGas * kBurntB)};
  m.cooling = load(net.vapour_cooling_j);
  m.fuel_j = load(net.fuel_j_per_kg_air);
  m.blow_by = load(net.blow_by);
  m.burn_limit = load(net.burn_limit);
  m.burn_fade = load(net.burn_fade);
  m.open_heat = load(net.gas_exchange_heat);
  m.closed_heat = load(net.closed_heat);
  m.wall_k = load(net.wall_k);
  const V target = load(net.target_map_pa);
  const V scale = warm ? target / m.target : splat(1);
  m.target = target;
  m.throttle_open = load(net.throttle_open_m2);
  for (int i = 0; i < net.pipes; ++i) {
    const bool intake = net.pipe[i].start_burnt[0] < 0.5;
    set_pipe(m.pipe[i], net.pipe[i], cells, warm, intake ? scale : splat(1));
    m.pipe_nozzle[i] = make_nozzle(net.pipe[i].gamma);
  }
  for (int i = 0; i < net.reservoirs; ++i) set_reservoir(m.reservoir[i], net.reservoir[i], warm);
  for (int i = 0; i < net.cylinders; ++i)
    set_cylinder(m.cylinder[i], net.cylinder[i], m.species, net, warm);
  if (!warm) {
    first_throttle(m);
    still(m.plenum);
  }
  if (warm) scale_swing(m.plenum, scale);
  int traces = 0;
  for (int i = 0; i < net.joints; ++i) {
    JointState& s = m.joint[i];
    s.cold = true;
    s.warm_in = s.warm_out = splat(0);
    if (!warm) s.trace = -1;
    if (net.joint[i].copies > 0 && !warm) {
      s.trace = traces++;
      m.trace[s.trace].filled = false;
    }
    if (s.trace >= 0) begin_trace(m.trace[s.trace]);
    s.in_m2 = net.joint[i].throttle ? m.throttle_m2 : load(net.joint[i].in_m2);
    s.out_m2 = net.joint[i].throttle ? m.throttle_m2 : load(net.joint[i].out_m2);
  }
  m.last_fresh = m.last_residual = m.mean_map = splat(0);
  for (int l = 0; l < kMostLanes; ++l) m.settled_for[l] = m.smothered_for[l] = 0;
  m.steps = m.cell_steps = 0;
}

}  // namespace fuelwright::physics::FUELWRIGHT_KERNEL
