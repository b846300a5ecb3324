// One pipe: the one-dimensional Euler equations with wall friction and heat, second order in space
// and time (MUSCL-Hancock, monotonised central limiter, HLLC flux). Per unit of cross-section,
// which is constant.
//   d/dt (rho, rho u, E, rho y) + d/dx (rho u, rho u^2 + p, (E + p) u, rho u y) = sources
//   (breathing.2)
// y: burnt share. Source: Toro 2009, chapters 10 and 14 (from memory).
#pragma once

#include "physics/breathing/kernel/lanes.h"
#include "physics/breathing/kernel/network.h"

namespace fuelwright::physics::FUELWRIGHT_KERNEL {

inline constexpr double kGas = 287.05;    // J/(kg K), air and burnt gas in pipes
inline constexpr double kFastest = 3000;  // m/s; no gas of an engine is as fast
inline constexpr Real kStill =
    5;  // m/s added to |u| in the wall heat: it does not stop when the flow does

struct Gas {  // primitives of a cell or a face
  V rho, u, p, y;
};

struct Flux {  // along +x, per unit area
  V mass, momentum, energy, burnt;
};

struct PipeState {
  int cells = 0;
  Real gamma = 0;
  V dx, inverse_dx, area;
  V friction;  // 2 f / D [1/m]
  V heat;      // 2 f / D: times factor k it is the wall's share of rho cp (|u| + 5) [1/m]
  V wall_k;
  V *rho = nullptr, *u = nullptr, *p = nullptr, *y = nullptr;
  V* factor = nullptr;  // k of each cell
  Gas face[2];          // at both ends, as the last step left them
  Flux flux[2];         // through both ends, of this step
  V fastest;            // largest (|u| + c)/dx of the step [1/s]
  V heat_in;            // since the cycle began [J/m2 m]: times area and dx it is an energy
};

FW_INLINE V limited(V left, V right) {
  const V most = Real(2) * min(abs(left), abs(right));
  const V central = Real(0.5) * (left + right);
  return sel(lt(splat(0), left * right), clamp(central, -most, most), splat(0));
}

struct Faces {  // of one cell, half a step ahead
  Gas left, right;
};

// half: dt / (2 dx)
FW_INLINE Faces evolved(const Gas& a, const Gas& b, const Gas& c, Real gamma, V half) {
  const V dr = limited(b.rho - a.rho, c.rho - b.rho), du = limited(b.u - a.u, c.u - b.u);
  const V dp = limited(b.p - a.p, c.p - b.p), dy = limited(b.y - a.y, c.y - b.y);
  const V r = b.rho - half * (b.u * dr + b.rho * du);
  const V u = b.u - half * (b.u * du + dp * reciprocal(b.rho));
  const V p = b.p - half * (b.u * dp + gamma * b.p * du);
  const V y = b.y - half * (b.u * dy);
  const V least_r = Real(0.05) * b.rho, least_p = Real(0.02) * b.p;
  Faces f;
  f.left = {max(r - Real(0.5) * dr, least_r), u - Real(0.5) * du, max(p - Real(0.5) * dp, least_p),
            y - Real(0.5) * dy};
  f.right = {max(r + Real(0.5) * dr, least_r), u + Real(0.5) * du, max(p + Real(0.5) * dp, least_p),
             y + Real(0.5) * dy};
  return f;
}

// HLLC. Wave speeds of the outer waves are clamped at 0, which turns the star flux into the upwind
// one where the flow is supersonic, without a branch. `speed`: |u| + c of the left state.
FW_INLINE Flux hllc(const Gas& l, const Gas& r, Real gamma, V* speed) {
  const V cl = rough_root(gamma * l.p * rough_reciprocal(l.rho)),
          cr = rough_root(gamma * r.p * rough_reciprocal(r.rho));
  *speed = max(abs(l.u) + cl, abs(r.u) + cr);
  const V zero = splat(0);
  const V sl = min(min(l.u - cl, r.u - cr), zero), sr = max(max(l.u + cl, r.u + cr), zero);
  const V dl = l.rho * (sl - l.u), dr = r.rho * (sr - r.u);
  const V sm = (r.p - l.p + l.u * dl - r.u * dr) * reciprocal(dl - dr);
  const M from_left = lt(zero, sm);
  const V s = sel(from_left, sl, sr), u = sel(from_left, l.u, r.u), p = sel(from_left, l.p, r.p);
  const V d = sel(from_left, dl, dr), rho = sel(from_left, l.rho, r.rho),
          y = sel(from_left, l.y, r.y);
  const V ps = p + d * (sm - u);
  const V e = p * (Real(1) / (gamma - Real(1))) + Real(0.5) * rho * u * u;
  const V inverse =
      reciprocal(s - sm);  // never 0: the chosen outer wave runs away from the contact
  const V mass = d * inverse * sm;
  const V es = ((s - u) * e - p * u + ps * sm) * inverse;
  return {mass, mass * sm + ps, sm * (es + ps), mass * y};
}

FW_INLINE Gas cell(const PipeState& pipe, int i) {
  return {pipe.rho[i], pipe.u[i], pipe.p[i], pipe.y[i]};
}

// The state beyond an end whose mean with the end cell is the state at the face.
FW_INLINE Gas beyond(const Gas& face, const Gas& end) {
  return {max(Real(2) * face.rho - end.rho, Real(0.05) * end.rho), Real(2) * face.u - end.u,
          max(Real(2) * face.p - end.p, Real(0.02) * end.p), Real(2) * face.y - end.y};
}

// What the gas brings to an end half a step ahead. Its burnt share stays a share: beyond the end it
// may not, and a cylinder would be given less than no fresh air.
FW_INLINE Gas at_end(const PipeState& pipe, int end, V half) {
  Gas g;
  if (end == 0) {
    const Gas first = cell(pipe, 0);
    g = evolved(beyond(pipe.face[0], first), first, cell(pipe, 1), pipe.gamma, half).left;
  } else {
    const Gas last = cell(pipe, pipe.cells - 1);
    const Gas before = cell(pipe, pipe.cells - 2);
    g = evolved(before, last, beyond(pipe.face[1], last), pipe.gamma, half).right;
  }
  g.y = clamp(g.y, splat(0), splat(1));
  return g;
}

struct Sources {
  V dt_friction, dt_heat, rho_cp_wall;  // dt 2f/D; dt 2f/D; cp T_wall
};

FW_INLINE void update(PipeState& pipe, int i, const Gas& was, const Flux& in, const Flux& out,
                      V dt_dx, const Sources& s, V* heat_sum) {
  const Real g1 = pipe.gamma - Real(1);
  const V rho = max(was.rho - dt_dx * (out.mass - in.mass), Real(0.01) * was.rho);
  const V momentum = was.rho * was.u - dt_dx * (out.momentum - in.momentum);
  // energy beyond the old internal one: p/(g-1) there and back would gain 6e-8 in float every step
  V energy = Real(0.5) * was.rho * was.u * was.u - dt_dx * (out.energy - in.energy);
  const V burnt = was.rho * was.y - dt_dx * (out.burnt - in.burnt);
  const V inverse = reciprocal(rho);
  const V u = momentum * inverse, speed = abs(u);
  const V p = was.p + g1 * (energy - Real(0.5) * momentum * u);
  const V heat = s.dt_heat * pipe.factor[i] * (speed + kStill) *
                 (rho * s.rho_cp_wall - (pipe.gamma / g1) * p);  // (breathing.3)
  energy = energy + heat;
  *heat_sum = *heat_sum + heat;
  const V drag = min(s.dt_friction * speed, splat(0.5));
  const V slowed = u * (Real(1) - drag * (Real(1) - drag));  // (breathing.4)
  pipe.rho[i] = rho;
  pipe.u[i] = slowed;
  pipe.p[i] = max(was.p + g1 * (energy - Real(0.5) * rho * slowed * slowed), Real(0.01) * was.p);
  pipe.y[i] = burnt * inverse;
}

// One step; the fluxes through both ends stand in pipe.flux.
inline void advance(PipeState& pipe, V dt) {
  const V dt_dx = dt * pipe.inverse_dx, half = Real(0.5) * dt_dx;
  const Real cp = pipe.gamma / (pipe.gamma - Real(1)) * Real(kGas);
  const Sources sources{dt * pipe.friction, dt * pipe.heat, cp * pipe.wall_k};
  const int n = pipe.cells;
  V fastest = splat(0), heat_sum = splat(0);
  Gas here = cell(pipe, 0), next = cell(pipe, 1);
  Gas right = evolved(beyond(pipe.face[0], here), here, next, pipe.gamma, half).right;
  Flux in = pipe.flux[0];
  for (int i = 0; i + 1 < n; ++i) {
    const Gas after = i + 2 < n ? cell(pipe, i + 2) : beyond(pipe.face[1], next);
    const Faces f = evolved(here, next, after, pipe.gamma, half);
    V speed;
    const Flux out = hllc(right, f.left, pipe.gamma, &speed);
    fastest = max(fastest, speed);
    update(pipe, i, here, in, out, dt_dx, sources, &heat_sum);
    in = out;
    right = f.right;
    here = next;
    next = after;
  }
  update(pipe, n - 1, here, in, pipe.flux[1], dt_dx, sources, &heat_sum);
  // Also where a lane is lost and not a number (min gives its second argument then): it must not
  // stop the others.
  pipe.fastest = min(fastest, splat(kFastest)) * pipe.inverse_dx;
  pipe.heat_in = pipe.heat_in + heat_sum;
}

}  // namespace fuelwright::physics::FUELWRIGHT_KERNEL
