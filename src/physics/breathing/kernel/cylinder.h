// One cylinder: mass of fresh air and of burnt gas, internal energy, piston, wall heat, burning.
//   dU = sum (m h) - p dV - Q_wall + Q_burnt,   U = A T + B T^2/2,   p V = (m R) T (breathing.8)
// A, B: from cv/R = a + b T of each gas. Fresh air carries the fuel's vapour with it.
#pragma once

#include "physics/breathing/kernel/orifice.h"

namespace fuelwright::physics::FUELWRIGHT_KERNEL {

// cv/R = a + b T, air and the burnt gas of a near-stoichiometric mixture; fitted by eye to
// ideal-gas tables (from memory; within 2 %, air only up to 1500 K: 6 % high at 2000 K, where
// little is left).
inline constexpr double kAirA = 2.32, kAirB = 0.62e-3;
inline constexpr double kBurntA = 2.90, kBurntB = 0.50e-3, kBurntGas = 290;

struct Species {  // per kilogram of fresh air (with its vapour), of burnt gas
  V r_fresh, a_fresh, b_fresh;
  Real r_burnt, a_burnt, b_burnt;
};

FW_INLINE V enthalpy_fresh(const Species& s, V t) {
  return t * (s.r_fresh + s.a_fresh + Real(0.5) * s.b_fresh * t);
}
FW_INLINE V enthalpy_burnt(const Species& s, V t) {
  return t * (s.r_burnt + s.a_burnt + Real(0.5) * s.b_burnt * t);
}
FW_INLINE V energy_fresh(const Species& s, V t) {
  return t * (s.a_fresh + Real(0.5) * s.b_fresh * t);
}
FW_INLINE V energy_burnt(const Species& s, V t) {
  return t * (s.a_burnt + Real(0.5) * s.b_burnt * t);
}

struct CylinderState {
  // geometry
  Real phase = 0;
  V piston, crank, rod, clearance, swept, bore_power;  // bore_power: 3.26 B^-0.2, p in kPa
  V bore;
  // state
  V fresh, burnt, energy, t, p, volume;
  V share;  // burnt share
  // this step
  V d_fresh, d_burnt, d_energy;
  // burning
  V start_deg, span_deg, heat_j, burns, p_ref, v_ref, t_ref, done;
  double burn_angle = 0;  // of the last step, after firing TDC, -180..540
  // since the cycle began
  V fresh_in, fresh_lost, pumping, indicated, out_mass, out_heat;
  V energy_in, mass_in, energy_began, mass_began;  // ledger
  // at capture
  V c_fresh, c_mass, c_p, c_t, c_share;
  bool captured = false;
};

FW_INLINE void refresh(CylinderState& c, const Species& s) {
  const V a = c.fresh * s.a_fresh + c.burnt * s.a_burnt,
          b = c.fresh * s.b_fresh + c.burnt * s.b_burnt;
  c.t = Real(2) * c.energy * reciprocal(a + sqrt(a * a + Real(2) * b * c.energy));
  c.p = (c.fresh * s.r_fresh + c.burnt * s.r_burnt) * c.t * reciprocal(c.volume);
  c.share = c.burnt * reciprocal(c.fresh + c.burnt);
}

// Slider and crank. sine, cosine of the crank angle.
FW_INLINE V volume_at(const CylinderState& c, double sine, double cosine) {
  const V rs = c.crank * static_cast<Real>(sine);
  const V height = c.crank * static_cast<Real>(1 - cosine) +
                   rs * rs * reciprocal(c.rod + sqrt(c.rod * c.rod - rs * rs));
  return c.clearance + c.piston * height;
}

// Gas through a valve: `in` from the pipe's stream if positive.
FW_INLINE void take(CylinderState& c, const Species& s, V into, V stream_y, V stream_t, V cooling,
                    V dt) {
  const M enters = lt(splat(0), into);
  const V dm = into * dt;
  const V y = sel(enters, stream_y, c.share), t = sel(enters, stream_t, c.t);
  const V df = dm * (Real(1) - y), db = dm * y;
  const V cool = sel(enters, cooling, splat(0));
  c.d_fresh = c.d_fresh + df;
  c.d_burnt = c.d_burnt + db;
  c.d_energy = c.d_energy + df * (enthalpy_fresh(s, t) - cool) + db * enthalpy_burnt(s, t);
}

// Wall heat [W], Woschni: h = 3.26 B^-0.2 p^0.8 T^-0.55 w^0.8, p in kPa (breathing.9)
FW_INLINE V wall_heat(const CylinderState& c, V piston_speed, V swirl, V burning, V factor,
                      V wall_k) {
  V w = swirl * piston_speed;
  // 3.24e-3 V_d T_r/(p_r V_r) (p - p_m), p_m motored from the reference state
  const V motored = c.p_ref * exp2(Real(1.33) * log2(c.v_ref * reciprocal(c.volume)));
  const V rise =
      Real(3.24e-3) * c.swept * c.t_ref * reciprocal(c.p_ref * c.v_ref) * (c.p - motored);
  w = w + burning * max(rise, splat(0));
  const V h =
      factor * c.bore_power * exp2(Real(0.8) * log2(c.p * Real(1e-3) * w) - Real(0.55) * log2(c.t));
  const V area = Real(2.2) * c.piston + Real(4) * c.volume * reciprocal(c.bore);
  return h * area * (c.t - wall_k);
}

FW_INLINE V burnt_share(V z) {  // Wiebe, a 5, m 2
  const V x = clamp(z, splat(0), splat(1));
  return Real(1) - exp2(Real(-7.2134752) * x * x * x);
}

// The rest of the step: burning, wall, piston (Heun).
FW_INLINE void close_step(CylinderState& c, const Species& s, V heat_loss, V released, V volume,
                          V dt) {
  const V p_old = c.p, v_old = c.volume;
  const V dv = volume - v_old;
  c.fresh = max(c.fresh + c.d_fresh, splat(1e-12));
  c.burnt = max(c.burnt + c.d_burnt, splat(1e-12));
  const V mix = s.a_fresh * c.fresh + s.a_burnt * c.burnt;
  const V gained = c.energy + c.d_energy + released - heat_loss * dt;
  const V least = mix * Real(150);
  c.volume = volume;
  c.energy = max(gained - p_old * dv, least);
  refresh(c, s);
  const V work = Real(0.5) * (p_old + c.p) * dv;
  c.energy = max(gained - work, least);
  refresh(c, s);
  c.indicated = c.indicated + work;
  c.energy_in = c.energy_in + c.d_energy + released - heat_loss * dt - work;
  c.mass_in = c.mass_in + c.d_fresh + c.d_burnt;
  c.d_fresh = c.d_burnt = c.d_energy = splat(0);
}

}  // namespace fuelwright::physics::FUELWRIGHT_KERNEL
