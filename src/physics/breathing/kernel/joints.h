// One step at the joints: what passes between pipe ends and reservoirs, and what the reservoirs
// become.
#pragma once

#include "physics/breathing/kernel/machine.h"

namespace fuelwright::physics::FUELWRIGHT_KERNEL {

// Valve area at a local crank angle, between degrees.
FW_INLINE V area_at(const float* table, double local) {
  int d = static_cast<int>(local);
  const Real t = static_cast<Real>(local - d);
  if (d >= kCycle) d -= kCycle;
  const int e = d + 1 < kCycle ? d + 1 : 0;
#if FUELWRIGHT_LANES == 1
  return static_cast<double>(table[d]) * (1 - t) + static_cast<double>(table[e]) * t;
#else
  const V a = *reinterpret_cast<const V*>(table + d * kLanes),
          b = *reinterpret_cast<const V*>(table + e * kLanes);
  return a + t * (b - a);
#endif
}

inline double local_angle(double theta, double phase) {
  double a = theta - phase;
  while (a < 0) a += kCycle;
  while (a >= kCycle) a -= kCycle;
  return a;
}

inline void begin_trace(TraceState& t) {
  for (int d = 0; d < kCycle; ++d) {
    for (int q = 0; q < kTraced; ++q) t.now.of[q][d] = splat(0);
    t.seconds[d] = 0;
  }
}

// The other cylinders' pipes at a junction: each brings the wave that this one's pipe brought one
// lag ago, and answers the junction's pressure at once, m = A/c (p_w - p). Copies of the flow
// itself would answer a cycle late and build up. (breathing.15)
inline void copy(TraceState& t, const kernel::Joint& j, double theta, const V (&brought)[kTraced],
                 const Nozzle& n, V dt, ReservoirState& r) {
  // Shared between the two degrees it lies between, so that nothing jumps when a step falls a hair
  // later.
  const double step = lane(dt, 0), here = local_angle(theta, 0);
  const int d = static_cast<int>(here), e = d + 1 < kCycle ? d + 1 : 0;
  const double later = step * (here - d), sooner = step - later;
  for (int q = 0; q < kTraced; ++q) {
    t.now.of[q][d] = t.now.of[q][d] + brought[q] * static_cast<Real>(sooner);
    t.now.of[q][e] = t.now.of[q][e] + brought[q] * static_cast<Real>(later);
  }
  t.seconds[d] += sooner;
  t.seconds[e] += later;
  for (int k = 0; k < j.copies; ++k) {
    const double at = local_angle(theta, j.lag_deg[k]);
    const int a = static_cast<int>(at), b = a + 1 < kCycle ? a + 1 : 0;
    const Real u = static_cast<Real>(at - a);
    V s[kTraced];
    for (int q = 0; q < kTraced; ++q)
      s[q] = t.filled ? t.kept.of[q][a] + u * (t.kept.of[q][b] - t.kept.of[q][a]) : brought[q];
    const V dm = dt * s[1] * (s[0] - r.p);
    const M in = lt(splat(0), dm);
    r.d_mass = r.d_mass + dm;
    r.d_burnt = r.d_burnt + dm * sel(in, s[3], r.y);
    r.d_energy = r.d_energy + dm * n.cp * sel(in, s[2], r.t);
  }
}

// A cycle is over: what is kept moves towards what came.
inline void turn_over(TraceState& t, double rpm) {
  // Taken at once they build up below 1500 rpm.
  const double towards = rpm < 1500 ? 0.6 : rpm < 3000 ? 0.6 + 0.35 * (rpm - 1500) / 1500 : 0.95;
  int last = -1;
  for (int d = 0; d < kCycle; ++d) {
    const bool none = t.seconds[d] <= 0;
    for (int q = 0; q < kTraced; ++q) {
      const V value = !none       ? t.now.of[q][d] * static_cast<Real>(1 / t.seconds[d])
                      : last >= 0 ? t.now.of[q][last]
                                  : splat(0);
      V& kept = t.kept.of[q][d];
      kept = t.filled ? kept + static_cast<Real>(towards) * (value - kept) : value;
      t.now.of[q][d] = value;
    }
    last = d;
  }
  begin_trace(t);
  t.filled = true;
}

inline void join(Machine& m, int index, double theta, V dt) {
  const kernel::Joint& j = m.net->joint[index];
  JointState& s = m.joint[index];
  PipeState& pipe = m.pipe[j.pipe];
  ReservoirState& r = m.reservoir[j.reservoir];
  const bool is_cylinder = m.net->reservoir[j.reservoir].kind == Kind::cylinder;
  CylinderState* c = is_cylinder ? &m.cylinder[m.net->reservoir[j.reservoir].cylinder] : nullptr;
  if (j.valve != 0) {
    const double local = local_angle(theta, c->phase);
    const kernel::Valves& v = m.net->valves;
    s.in_m2 = area_at(j.valve == 1 ? v.intake_back : v.exhaust_out, local);
    s.out_m2 = area_at(j.valve == 1 ? v.intake_in : v.exhaust_back, local);
  }
  Gas end = at_end(pipe, j.end, Real(0.5) * dt * pipe.inverse_dx);
  if (j.end == 0) end.u = -end.u;  // towards the reservoir
  const Real sign = j.end == 0 ? Real(1) : Real(-1);
  Gas& face = pipe.face[j.end];
  Flux& flux = pipe.flux[j.end];
  if (j.valve != 0 && !any(lt(splat(0), s.in_m2))) {  // shut: a wall
    const V z = sqrt(pipe.gamma * end.p * end.rho);
    const V p = max(end.p + z * end.u, Real(0.02) * end.p);
    face = {max(end.rho + (p - end.p) * end.rho / (pipe.gamma * end.p), Real(0.2) * end.rho),
            splat(0), p, end.y};
    flux = {splat(0), p, splat(0), splat(0)};
    s.cold = true;
    s.now.in = splat(0);
    return;
  }
  const Opposite opposite = c ? Opposite{c->p, c->t, c->share}
                              : Opposite{r.p, sel(lt(splat(0), r.held), r.held_t, r.t),
                                         sel(lt(splat(0), r.held), r.held_y, r.y)};
  const V none = splat(0);
  const Passing q = pass(m.pipe_nozzle[j.pipe], end, pipe.area, s.in_m2, s.out_m2, opposite,
                         s.cold ? none : s.warm_in, s.cold ? none : s.warm_out, s.cold ? 5 : 2);
  s.cold = false;
  const M inward = lt(splat(0), q.in);
  s.warm_in = sel(inward, q.p, none);
  s.warm_out = sel(inward, none, q.p);
  s.now = q;
  face = {q.rho, -sign * q.w, q.p, q.y};
  const V per_area = q.in / pipe.area;
  flux = {sign * per_area, q.p - per_area * q.w,
          sign * per_area * m.pipe_nozzle[j.pipe].cp * q.stagnation, sign * per_area * q.y};
  if (c) {
    const V into = -q.in;
    take(*c, m.species, into, end.y, q.stagnation, j.valve == 1 ? m.cooling : none, dt);
    const V fresh = into * dt * (Real(1) - sel(inward, c->share, end.y));
    if (j.valve == 1) {
      c->fresh_in = c->fresh_in + fresh;
    } else {
      c->fresh_lost = c->fresh_lost - fresh;
      const V out = max(q.in, none) * dt;
      c->out_mass = c->out_mass + out;
      c->out_heat = c->out_heat + out * c->t;
    }
    return;
  }
  const V dm = -q.in * dt;  // into the reservoir
  const V db = dm * q.y, de = dm * m.pipe_nozzle[j.pipe].cp * q.stagnation;
  r.d_mass = r.d_mass + dm;
  r.d_burnt = r.d_burnt + db;
  r.d_energy = r.d_energy + de;
  if (s.trace < 0) return;
  const V z = sqrt(pipe.gamma * end.p * end.rho);
  const V brought[kTraced] = {end.p + z * end.u, pipe.area * end.rho / z,
                              end.p / (Real(kGas) * end.rho), end.y};
  copy(m.trace[s.trace], j, theta, brought, m.pipe_nozzle[j.pipe], dt, r);
}

inline void settle_reservoir(ReservoirState& r, Kind kind, V dt) {
  if (kind == Kind::outside)
    r.p = max(r.base + r.damping * (r.d_mass / dt - r.mean_flow),
              Real(0.3) * r.base);  // (breathing.13)
  r.mean_in = r.mean_in + r.d_mass;
  r.mean_p = r.mean_p + r.p * dt;
  if (kind == Kind::volume) {
    r.mass = max(r.mass + r.d_mass, splat(1e-9));
    r.burnt = r.burnt + r.d_burnt;
    r.energy = max(r.energy + r.d_energy, splat(1e-3));
    r.p = r.energy * (r.nozzle.gamma - Real(1)) * reciprocal(r.volume);
    r.t = r.p * r.volume * reciprocal(Real(kGas) * r.mass);
    r.y = r.burnt * reciprocal(r.mass);
  } else if (kind == Kind::returning) {
    const M arrives = lt(splat(0), r.d_mass);
    const V sum = r.held + max(r.d_mass, splat(1e-15));
    const V inverse = reciprocal(sum);
    const V t_in = r.d_energy * reciprocal(r.nozzle.cp * sel(arrives, r.d_mass, splat(1)));
    const V y_in = r.d_burnt * reciprocal(sel(arrives, r.d_mass, splat(1)));
    r.held_t = sel(arrives, (r.held * r.held_t + r.d_mass * t_in) * inverse, r.held_t);
    r.held_y = sel(arrives, (r.held * r.held_y + r.d_mass * y_in) * inverse, r.held_y);
    r.held = max(r.held + r.d_mass, splat(0));
  }
  r.d_mass = r.d_burnt = r.d_energy = splat(0);
}

}  // namespace fuelwright::physics::FUELWRIGHT_KERNEL
