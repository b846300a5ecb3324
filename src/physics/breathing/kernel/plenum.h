// The plenum of the one-cylinder form: its pressure swings as the N cylinders on it draw one after
// the other.
//
// N equal cylinders, evenly phased, leave of one runner's flow only the harmonics k N of the cycle,
// N times as large. Volume, duct and throttle answer each with
//   p_k = Q_k/Y_k,   Y = i w V/(gamma R T) + 1/(Z_throttle + i w l/A) (breathing.14)
// The runner answers back; a secant per harmonic, from cycle to cycle, finds the swing that is its
// own cause.
#pragma once

#include "physics/breathing/kernel/orifice.h"

namespace fuelwright::physics::FUELWRIGHT_KERNEL {

inline constexpr int kHarmonics = 3;

struct Complex {
  double re = 0, im = 0;
};
inline Complex operator+(Complex a, Complex b) { return {a.re + b.re, a.im + b.im}; }
inline Complex operator-(Complex a, Complex b) { return {a.re - b.re, a.im - b.im}; }
inline Complex operator*(Complex a, Complex b) {
  return {a.re * b.re - a.im * b.im, a.re * b.im + a.im * b.re};
}
inline Complex operator*(double k, Complex a) { return {k * a.re, k * a.im}; }
inline double size2(Complex a) { return a.re * a.re + a.im * a.im; }
inline Complex operator/(Complex a, Complex b) {
  const double s = 1 / size2(b);
  return {(a.re * b.re + a.im * b.im) * s, (a.im * b.re - a.re * b.im) * s};
}

struct PlenumSwing {
  V cosine[kHarmonics], sine[kHarmonics];  // pressure: sum of cosine cos(k N a) + sine sin(k N a)
  V flow_cosine[kHarmonics],
      flow_sine[kHarmonics];  // of the flow into the plenum, sums over the cycle
  Complex last_p[kHarmonics][kernel::kMostLanes], last_f[kHarmonics][kernel::kMostLanes],
      slope[kHarmonics][kernel::kMostLanes];
  int updates = 0;
  bool moved =
      false;  // what it was compared with is of another pressure: the first cycle teaches nothing
};

inline void still(PlenumSwing& s) {
  for (int k = 0; k < kHarmonics; ++k)
    s.cosine[k] = s.sine[k] = s.flow_cosine[k] = s.flow_sine[k] = splat(0);
  s.updates = 0;
  s.moved = false;
}

// The next pressure begins with the swing of this one, in proportion.
inline void scale_swing(PlenumSwing& s, V ratio) {
  for (int k = 0; k < kHarmonics; ++k) {
    s.cosine[k] = s.cosine[k] * ratio;
    s.sine[k] = s.sine[k] * ratio;
    s.flow_cosine[k] = s.flow_sine[k] = splat(0);
  }
  s.moved = true;
}

// Pressure above the mean at this angle, and notes what flows.
inline V swing(PlenumSwing& s, int cylinders, double theta, V mass_in) {
  V p = splat(0);
  const double a =
      theta * (3.14159265358979 / 360);  // 720 degrees are one turn of the first harmonic
  for (int k = 0; k < kHarmonics; ++k) {
    const Real c = static_cast<Real>(::cos(a * cylinders * (k + 1))),
               n = static_cast<Real>(::sin(a * cylinders * (k + 1)));
    p = p + c * s.cosine[k] + n * s.sine[k];
    s.flow_cosine[k] = s.flow_cosine[k] + c * mass_in;
    s.flow_sine[k] = s.flow_sine[k] + n * mass_in;
  }
  return p;
}

struct PlenumParts {  // of one lane
  double volume_m3, inertance, throttle_m2, before_pa, map_pa, temperature_k;
};

// Y of (breathing.14) at the angular frequency w; mass flow through the throttle on the mean.
inline Complex admittance(const PlenumParts& l, const Nozzle& n, double w, double mean_flow) {
  const double x = (l.map_pa / l.before_pa - n.critical) / n.rest;
  const double by_pressure = x < 0 ? 1 : x > 1 ? 0 : ::sqrt(1 - x * x);
  const double open =
      mean_flow * ::sqrt(kGas * l.temperature_k) / (l.throttle_m2 * l.before_pa * n.choked);
  const double s = ::fmin(::fmax(::fmax(by_pressure, open), 0.02), 1.0);
  const double slope = ::sqrt(1 - s * s) / (s * s * n.rest * l.before_pa);  // -psi'/psi per pascal
  const double y_throttle = ::fmax(mean_flow * slope, 1e-12);
  const Complex duct{1 / y_throttle, w * l.inertance};
  const Complex volume{0, w * l.volume_m3 / (n.gamma * kGas * l.temperature_k)};
  return volume + Complex{1, 0} / duct;
}

// A cycle is over: the next swing of every lane and harmonic.
inline void turn_over(PlenumSwing& s, const Nozzle& n, int cylinders, double cycle_s, int lanes,
                      V mean_flow, const PlenumParts* parts) {
  constexpr double kFirst = 0.3, kNoise_pa = 40,
                   kMost = 0.06;  // first share; smallest step that teaches; of MAP
  for (int k = 0; k < kHarmonics; ++k) {
    const double w = 2 * 3.14159265358979 * cylinders * (k + 1) / cycle_s;
    for (int l = 0; l < lanes; ++l) {
      const Complex p{lane(s.cosine[k], l), -lane(s.sine[k], l)};  // Re(p e^iwt)
      const double scale = 2.0 * cylinders / cycle_s;
      const Complex q{scale * lane(s.flow_cosine[k], l), -scale * lane(s.flow_sine[k], l)};
      const Complex f = q / admittance(parts[l], n, w, cylinders * lane(mean_flow, l)) - p;
      Complex& slope = s.slope[k][l];
      if (s.updates == 0) {
        slope = {-1 / kFirst, 0};
      } else if (!s.moved) {
        const Complex dp = p - s.last_p[k][l];
        if (size2(dp) > kNoise_pa * kNoise_pa) {
          const Complex seen = (f - s.last_f[k][l]) / dp;
          if (size2(seen) > 0.09) slope = 0.5 * (slope + seen);
        }
      }
      s.last_p[k][l] = p;
      s.last_f[k][l] = f;
      Complex step = Complex{-1, 0} * f / slope;
      const double most = kMost * parts[l].map_pa, length = ::sqrt(size2(step));
      if (length > most) step = (most / length) * step;
      set_lane(s.cosine[k], l, p.re + step.re);
      set_lane(s.sine[k], l, -(p.im + step.im));
    }
    s.flow_cosine[k] = s.flow_sine[k] = splat(0);
  }
  ++s.updates;
  s.moved = false;
}

}  // namespace fuelwright::physics::FUELWRIGHT_KERNEL
