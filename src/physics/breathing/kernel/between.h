// Between cycles: throttle, plenum and back-pressure are set for the next one.
#pragma once

#include "physics/breathing/kernel/joints.h"

namespace fuelwright::physics::FUELWRIGHT_KERNEL {

FW_INLINE V exact_or_choked(const Nozzle& n, V pr) {
  const V x = (pr - n.critical) * (Real(1) / n.rest);
  const V z = clamp(x, splat(0), splat(1));
  return n.choked * correction(n, z) * sqrt(max(Real(1) - z * z, splat(1e-6)));
}

// Brings plenums and runners to the wanted mean pressure at once, instead of waiting for them to
// fill or empty.
inline void shift_intake(Machine& m, V ratio) {
  const Network& net = *m.net;
  for (int i = 0; i < net.reservoirs; ++i) {
    if (net.reservoir[i].kind != Kind::volume || !net.reservoir[i].plenum) continue;
    ReservoirState& r = m.reservoir[i];
    r.mass = r.mass * ratio;
    r.burnt = r.burnt * ratio;
    r.energy = r.energy * ratio;
    r.p = r.p * ratio;
  }
  for (int i = 0; i < net.pipes; ++i) {
    if (net.pipe[i].valve_end < 0 || net.pipe[i].start_burnt[0] > 0.5) continue;
    PipeState& p = m.pipe[i];
    for (int c = 0; c < p.cells; ++c) {
      p.rho[c] = p.rho[c] * ratio;
      p.p[c] = p.p[c] * ratio;
    }
  }
}

// Throttle area for the wanted manifold pressure: what the engine took in the last cycle, scaled to
// that pressure, must pass the throttle; a factor learns what the orifice law leaves out. A
// pressure beyond what the open throttle gives comes from a higher pressure before it.
inline void set_throttle(Machine& m, double cycle_s) {
  const Network& net = *m.net;
  V mean = splat(0), taken = splat(0);
  int plenums = 0, outside = -1;
  for (int i = 0; i < net.reservoirs; ++i) {
    if (net.reservoir[i].kind == Kind::volume && net.reservoir[i].plenum) {
      mean = mean + m.reservoir[i].mean_p * static_cast<Real>(1 / cycle_s);
      ++plenums;
    }
    if (net.reservoir[i].kind == Kind::outside && net.reservoir[i].plenum) outside = i;
  }
  if (plenums == 0 || outside < 0) return;
  mean = mean * static_cast<Real>(1.0 / plenums);
  m.mean_map = mean;
  for (int i = 0; i < net.cylinders; ++i) taken = taken + m.cylinder[i].fresh_in;
  ReservoirState& air = m.reservoir[outside];
  const Nozzle& n = air.nozzle;
  const V flow =
      max(taken, splat(1e-9)) * (m.target / mean) * static_cast<Real>(1 / (cycle_s * plenums));
  const V psi = exact_or_choked(n, min(m.target / air.base, splat(0.9995)));
  const V orifice = flow * sqrt(Real(kGas) * air.given_t) / (air.base * psi);
  const V miss = clamp(m.target / mean, splat(0.7), splat(1.4));
  shift_intake(m, miss);
  m.throttle_factor =
      clamp(m.throttle_factor * (Real(1) + Real(0.4) * (miss - Real(1))), splat(0.3), splat(3));
  const M open = lt(Real(0.97) * m.throttle_open, m.throttle_m2);
  m.throttle_m2 = min(orifice * m.throttle_factor, m.throttle_open);
  const M short_of = both(lt(mean, m.target), open);
  air.base = sel(short_of, air.base + (m.target - mean),
                 max(air.base - Real(0.5) * max(mean - m.target, splat(0)), air.given_p));
  for (int i = 0; i < net.joints; ++i)
    if (net.joint[i].throttle) m.joint[i].in_m2 = m.joint[i].out_m2 = m.throttle_m2;
}

inline void set_plenum(Machine& m, double cycle_s) {
  const Network& net = *m.net;
  for (int i = 0; i < net.reservoirs; ++i) {
    const kernel::Reservoir& r = net.reservoir[i];
    if (r.sharing == 0) continue;
    PlenumParts parts[kMostLanes];
    for (int l = 0; l < net.lanes; ++l)
      parts[l] = {r.volume_m3[l], r.inertance[l],   net.throttle_open_m2[l],
                  r.before_pa[l], r.pressure_pa[l], r.temperature_k[l]};
    const V flow = max(m.cylinder[0].fresh_in, splat(0)) * static_cast<Real>(1 / cycle_s);
    turn_over(m.plenum, m.reservoir[i].nozzle, r.sharing, cycle_s, net.lanes, flow, parts);
  }
}

inline void set_back_pressure(Machine& m, double cycle_s) {
  for (int i = 0; i < m.net->reservoirs; ++i) {
    ReservoirState& r = m.reservoir[i];
    if (m.net->reservoir[i].kind != Kind::outside || m.net->reservoir[i].plenum) continue;
    const V flow = max(r.mean_in, splat(0)) * static_cast<Real>(1 / cycle_s);
    const V wanted = r.given_p + r.resistance * flow * flow;
    r.base = Real(0.5) * (r.base + wanted);
    r.mean_flow = flow;
  }
}

}  // namespace fuelwright::physics::FUELWRIGHT_KERNEL
