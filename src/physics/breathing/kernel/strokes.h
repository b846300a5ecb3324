// One step of a cylinder: piston, burning, wall heat, and the charge when the intake valve shuts.
#pragma once

#include "physics/breathing/kernel/joints.h"

namespace fuelwright::physics::FUELWRIGHT_KERNEL {

// The burn that the charge will make, when the intake valve is shut.
inline void capture(Machine& m, CylinderState& c) {
  c.c_fresh = c.fresh;
  c.c_mass = c.fresh + c.burnt;
  c.c_p = c.p;
  c.c_t = c.t;
  c.c_share = c.share;
  c.p_ref = c.p;
  c.v_ref = c.volume;
  c.t_ref = c.t;
  // incomplete with much burnt gas: 1 - smoothstep (breathing.11)
  const V x = clamp((c.share - m.burn_limit) / m.burn_fade, splat(0), splat(1));
  c.burns = Real(1) - x * x * (Real(3) - Real(2) * x);
  c.heat_j = c.fresh * m.fuel_j * c.burns;
  c.span_deg = Real(50) + Real(70) * c.share;
  c.start_deg = Real(8) - Real(0.51755) * c.span_deg;
  c.done = splat(0);
}

inline void move_cylinder(Machine& m, CylinderState& c, double theta, double dtheta, V dt,
                          V piston_speed) {
  const double next = local_angle(theta + dtheta, c.phase);
  const double a = next * (3.14159265358979 / 180);
  const V volume = volume_at(c, ::sin(a), ::cos(a));
  const double local = local_angle(theta, c.phase);
  const double capture_at = m.net->capture_deg;
  const bool crosses = local < capture_at - 1e-9 && (next >= capture_at - 1e-9 || next < local);
  const bool closed = local >= capture_at || local < 100;
  V released = splat(0);
  const double after = local > 360 ? local - kCycle : local;  // -..100 about firing
  if (closed && after < 140) {
    const V end = splat(after + dtheta);
    const V share = max(burnt_share((end - c.start_deg) * reciprocal(c.span_deg)), c.done);
    const V step = share - c.done;
    released = step * c.heat_j;
    const V turned = min(step * c.c_fresh * c.burns, Real(0.999) * c.fresh);
    c.d_fresh = c.d_fresh - turned;
    c.d_burnt = c.d_burnt + turned;
    // the same gas at the same temperature has another internal energy: the heating value is
    // referred to it
    c.d_energy =
        c.d_energy + turned * (energy_burnt(m.species, c.t) - energy_fresh(m.species, c.t));
    c.done = share;
  }
  const bool open = local >= 140 && local < capture_at;
  const V heat = wall_heat(c, piston_speed, splat(open ? 6.18 : 2.28), splat(!open ? 1 : 0),
                           open ? m.open_heat : m.closed_heat, m.wall_k);
  if (next < local &&
      m.net) {  // firing top dead centre: what the rings let past in a cycle goes here at once
    const V keep = Real(1) - m.blow_by;
    c.mass_in = c.mass_in - (c.fresh + c.burnt) * m.blow_by;
    c.energy_in = c.energy_in - c.energy * m.blow_by;
    c.fresh = c.fresh * keep;
    c.burnt = c.burnt * keep;
    c.energy = c.energy * keep;
    c.heat_j = c.heat_j * keep;
  }
  const V before = c.indicated;
  close_step(c, m.species, heat, released, volume, dt);
  // The part of the step that lies in the exhaust and intake strokes.
  const double from = local > 180 ? local : 180.0,
               to = local + dtheta < 540 ? local + dtheta : 540.0;
  if (to > from)
    c.pumping = c.pumping - (c.indicated - before) * static_cast<Real>((to - from) / dtheta);
  if (crosses) capture(m, c), c.captured = true;
}

inline V speed_of(const Machine& m, const CylinderState& c) {
  return Real(4) * c.crank * static_cast<Real>(m.net->rpm / 60);
}

}  // namespace fuelwright::physics::FUELWRIGHT_KERNEL
