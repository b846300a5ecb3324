// What passes between a pipe's end and a reservoir (cylinder, plenum, open air) through an opening:
// a valve, a throttle, or the open end itself.
//
// The wave that arrives at the end fixes p = p_w +- Z w there (Z = rho c, p_w: pressure if nothing
// passed), the opening fixes a mass flow m(p) = A P/sqrt(R T) psi(p_down/P). Both together give one
// pressure. psi is close to an ellipse, psi* sqrt(1 - x^2), x = (pr - prc)/(1 - prc); with it the
// root is closed, and a polynomial in x makes the ellipse exact. Two passes from the last step's
// answer are enough. Derivation: docs/theory/breathing.md, (breathing.5) to (breathing.7).
#pragma once

#include "physics/breathing/kernel/pipe.h"

namespace fuelwright::physics::FUELWRIGHT_KERNEL {

inline constexpr int kTerms = 7;

struct Nozzle {  // of one gamma; see make_nozzle()
  Real gamma, cp;
  Real critical;      // prc = (2/(g+1))^(g/(g-1))
  Real rest;          // 1 - prc
  Real choked;        // psi* = sqrt(g (2/(g+1))^((g+1)/(g-1)))
  Real term[kTerms];  // psi_exact / psi_ellipse as a polynomial in x
};

inline double exact_flow(double pr, double g) {
  const double critical = ::pow(2 / (g + 1), g / (g - 1));
  const double x = pr < critical ? critical : pr;
  return ::sqrt(2 * g / (g - 1) * (::pow(x, 2 / g) - ::pow(x, (g + 1) / g)));  // (breathing.5)
}

// Newton's interpolation at Chebyshev points, then as a polynomial in x.
inline Nozzle make_nozzle(double g) {
  Nozzle n{};
  n.gamma = static_cast<Real>(g);
  n.cp = static_cast<Real>(g / (g - 1) * kGas);
  const double critical = ::pow(2 / (g + 1), g / (g - 1));
  const double choked = exact_flow(0, g);
  n.critical = static_cast<Real>(critical);
  n.rest = static_cast<Real>(1 - critical);
  n.choked = static_cast<Real>(choked);
  double at[kTerms], d[kTerms];
  for (int i = 0; i < kTerms; ++i) {
    at[i] = 0.5 - 0.5 * ::cos(3.14159265358979 * (i + 0.5) / kTerms);
    d[i] = exact_flow(critical + (1 - critical) * at[i], g) / (choked * ::sqrt(1 - at[i] * at[i]));
  }
  for (int k = 1; k < kTerms; ++k)
    for (int i = kTerms - 1; i >= k; --i) d[i] = (d[i] - d[i - 1]) / (at[i] - at[i - k]);
  double c[kTerms] = {d[kTerms - 1]};
  for (int k = kTerms - 2; k >= 0; --k) {  // c <- c (x - at[k]) + d[k]
    for (int j = kTerms - 1; j >= 1; --j) c[j] = c[j - 1] - at[k] * c[j];
    c[0] = d[k] - at[k] * c[0];
  }
  for (int i = 0; i < kTerms; ++i) n.term[i] = static_cast<Real>(c[i]);
  return n;
}

FW_INLINE V correction(const Nozzle& n, V x) {  // 1 where choked (x <= 0)
  const V z = clamp(x, splat(0), splat(1));
  V y = splat(n.term[kTerms - 1]);
  for (int i = kTerms - 2; i >= 0; --i) y = y * z + n.term[i];
  return y;
}

struct Opposite {  // the reservoir
  V p, t, y;
};

struct Passing {
  V in;          // mass flow, reservoir to pipe; negative the other way [kg/s]
  V p, w;        // at the pipe's face: pressure, velocity towards the reservoir
  V rho, y;      // there
  V stagnation;  // temperature of the stream [K]
};

// end: what the pipe brings, with u towards the reservoir. warm: p of the last step, or 0.
FW_INLINE Passing into_pipe(const Nozzle& n, V z, V p_w, V area, V opening, const Opposite& r,
                            V warm, int passes) {
  const Real gas = Real(kGas);
  const V inverse_z = reciprocal(z), inverse_p = reciprocal(r.p);
  const V root = reciprocal(sqrt(gas * r.t));
  const V k0 = opening * r.p * n.choked * root;
  // C = A/(R T Z)
  const V c_still = area * reciprocal(gas * r.t) * inverse_z;
  const V start = Real(0.5) * (p_w + sqrt(p_w * p_w + Real(4) * k0 * reciprocal(c_still)));
  V p = sel(lt(splat(0), warm), warm, start);
  p = clamp(p, p_w, r.p);
  V t = r.t;
  for (int pass = 0; pass < passes; ++pass) {
    const V u = (p - p_w) * inverse_z;
    t = max(r.t - u * u * (Real(0.5) / n.cp), Real(0.6) * r.t);
    const V c = area * reciprocal(gas * t) * inverse_z;
    const V twice = Real(2) * p - p_w;
    const V b = twice * r.p * n.rest;
    const V x_now = (p * inverse_p - n.critical) * (Real(1) / n.rest);
    const V k = k0 * correction(n, x_now) * reciprocal(c);
    const V x_w = (p * p * reciprocal(twice) * inverse_p - n.critical) * (Real(1) / n.rest);
    const V kk = k * k, bb = b * b;
    const V ellipse =
        (bb * x_w + k * sqrt(max(kk + bb * (Real(1) - x_w * x_w), splat(0)))) * reciprocal(kk + bb);
    const V line = x_w + k * reciprocal(b);
    const V x = sel(lt(line, splat(0)), line, max(ellipse, splat(0)));  // (breathing.6)
    p = clamp(r.p * (n.critical + n.rest * x), p_w, r.p);
  }
  const V u = (p - p_w) * inverse_z;
  const V rho = p * reciprocal(gas * t);
  return {rho * u * area, p, -u, rho, r.y, r.t};
}

FW_INLINE Passing out_of_pipe(const Nozzle& n, const Gas& end, V z, V p_w, V area, V opening,
                              const Opposite& r, V warm, int passes) {
  const Real gas = Real(kGas);
  const V inverse_z = reciprocal(z), inverse_cc = end.rho * inverse_z * end.rho * inverse_z;
  V p = sel(lt(splat(0), warm), warm, Real(0.5) * (p_w + r.p));
  p = clamp(p, Real(0.3) * p_w, p_w);
  V rho = end.rho, w = splat(0), t0 = splat(0);
  for (int pass = 0; pass < passes; ++pass) {
    w = (p_w - p) * inverse_z;
    rho = max(end.rho + (p - end.p) * inverse_cc, Real(0.2) * end.rho);
    t0 = p * reciprocal(gas * rho) + w * w * (Real(0.5) / n.cp);
    const V ww = w * w;
    const V delta = Real(0.5) * rho * ww * (Real(1) + Real(0.25) * ww * inverse_cc);
    const V b = rho * area * inverse_z;
    const V x_now = (r.p * reciprocal(p + delta) - n.critical) * (Real(1) / n.rest);
    const V k = opening * n.choked * correction(n, x_now) * reciprocal(sqrt(gas * t0));
    const V pw2 = p_w + delta;
    const V bb = square(b * n.rest), kk = k * k;
    const V b2 = bb * pw2 + kk * n.critical * r.p;
    const V c2 = bb * pw2 * pw2 + kk * r.p * r.p;
    // b2^2 - a2 c2, multiplied out: the difference itself would be lost in float when nearly shut
    const V under = bb * (pw2 - r.p) * ((Real(1) - Real(2) * n.critical) * pw2 + r.p) +
                    kk * (n.rest * n.rest) * r.p * r.p;
    const V ellipse = c2 * reciprocal(b2 + k * sqrt(max(under, splat(0))));
    const V line = b * pw2 * reciprocal(b + k);
    const V stagnation = sel(lt(r.p, n.critical * line), line, ellipse);  // (breathing.7)
    p = clamp(stagnation - delta, Real(0.3) * p_w, p_w);
  }
  w = (p_w - p) * inverse_z;
  rho = max(end.rho + (p - end.p) * inverse_cc, Real(0.2) * end.rho);
  t0 = p * reciprocal(gas * rho) + w * w * (Real(0.5) / n.cp);
  return {-rho * w * area, p, w, rho, end.y, t0};
}

// in_m2, out_m2: effective areas, reservoir into pipe and back. warm_in, warm_out: face pressures
// of the last step where it ran that way, else 0.
FW_INLINE Passing pass(const Nozzle& n, const Gas& end, V area, V in_m2, V out_m2,
                       const Opposite& r, V warm_in, V warm_out, int passes) {
  const V z = sqrt(n.gamma * end.p * end.rho);
  const V p_w = max(end.p + z * end.u, Real(0.02) * end.p);
  const M inward = lt(p_w, r.p);
  if (!any(inward)) return out_of_pipe(n, end, z, p_w, area, out_m2, r, warm_out, passes);
  const Passing a = into_pipe(n, z, p_w, area, in_m2, r, warm_in, passes);
  if (!any(inverse(inward))) return a;
  const Passing b = out_of_pipe(n, end, z, p_w, area, out_m2, r, warm_out, passes);
  return {sel(inward, a.in, b.in), sel(inward, a.p, b.p),
          sel(inward, a.w, b.w),   sel(inward, a.rho, b.rho),
          sel(inward, a.y, b.y),   sel(inward, a.stagnation, b.stagnation)};
}

}  // namespace fuelwright::physics::FUELWRIGHT_KERNEL
