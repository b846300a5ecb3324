/// The exact solution of a shock tube in a gas of constant gamma: what a flow scheme is measured
/// against. Used by tests and benches only.
///
///   RiemannReference tube({1, 0, 1}, {0.125, 0, 0.1}, 1.4);
///   tube.at(0.1).density;      // at x/t = 0.1
///
/// f_K(p) is the velocity change across the left or right wave when the pressure behind it is p:
///   shock        p > p_K:  (p - p_K) sqrt(A/(p + B)),  A = 2/((g+1) rho_K),  B = (g-1)/(g+1) p_K
///   rarefaction  else:     2 c_K/(g-1) ((p/p_K)^((g-1)/(2g)) - 1)
/// and p* is the root of f_L + f_R + u_R - u_L = 0.
/// Limits: no vacuum is formed (2 (c_L + c_R)/(g-1) > u_R - u_L), which is the caller's to keep.
/// Source: Toro, Riemann Solvers and Numerical Methods for Fluid Dynamics, chapter 4 (from memory).
#pragma once

#include <algorithm>
#include <cmath>

namespace fuelwright::physics {

struct GasState {  ///< any consistent units
  double density = 1, velocity = 0, pressure = 1;
};

class RiemannReference {
 public:
  RiemannReference(GasState left, GasState right, double gamma)
      : left_(left), right_(right), g_(gamma) {
    solve();
  }

  double star_pressure() const { return p_; }
  double star_velocity() const { return u_; }
  double star_density_left() const { return star_density(left_); }
  double star_density_right() const { return star_density(right_); }

  /// The state on the line x/t = speed.
  GasState at(double speed) const {
    if (speed <= u_) return side(left_, 1, speed);
    GasState out = side({right_.density, -right_.velocity, right_.pressure}, -1, -speed);
    out.velocity = -out.velocity;
    return out;
  }

 private:
  double sound(const GasState& s) const { return std::sqrt(g_ * s.pressure / s.density); }

  struct Jump {
    double value, slope;
  };
  Jump jump(const GasState& s, double p) const {
    if (p > s.pressure) {
      const double a = 2 / ((g_ + 1) * s.density), b = (g_ - 1) / (g_ + 1) * s.pressure;
      const double root = std::sqrt(a / (p + b));
      return {(p - s.pressure) * root, root * (1 - (p - s.pressure) / (2 * (p + b)))};
    }
    const double c = sound(s), ratio = p / s.pressure;
    return {2 * c / (g_ - 1) * (std::pow(ratio, (g_ - 1) / (2 * g_)) - 1),
            std::pow(ratio, -(g_ + 1) / (2 * g_)) / (s.density * c)};
  }

  // Newton from two rarefactions' pressure; the function is monotone and concave, so it cannot run
  // away upwards.
  void solve() {
    const double z = (g_ - 1) / (2 * g_);
    const double cl = sound(left_), cr = sound(right_);
    const double top = cl + cr - (g_ - 1) / 2 * (right_.velocity - left_.velocity);
    p_ = std::pow(top / (cl / std::pow(left_.pressure, z) + cr / std::pow(right_.pressure, z)),
                  1 / z);
    for (int i = 0; i < 200; ++i) {
      const Jump l = jump(left_, p_), r = jump(right_, p_);
      const double f = l.value + r.value + right_.velocity - left_.velocity;
      const double next = std::max(p_ * 1e-3, p_ - f / (l.slope + r.slope));
      const bool done = std::abs(next - p_) < 1e-15 * p_;
      p_ = next;
      if (done) break;
    }
    u_ = (left_.velocity + right_.velocity + jump(right_, p_).value - jump(left_, p_).value) / 2;
  }

  double star_density(const GasState& s) const {
    const double ratio = p_ / s.pressure, k = (g_ - 1) / (g_ + 1);
    if (ratio > 1) return s.density * (ratio + k) / (k * ratio + 1);
    return s.density * std::pow(ratio, 1 / g_);
  }

  // Left of the contact; `turn` is -1 for the mirrored right side, whose star velocity has the
  // other sign.
  GasState side(const GasState& s, double turn, double speed) const {
    const double u = turn * u_;
    const double c = sound(s);
    if (p_ > s.pressure) {
      const double front =
          s.velocity - c * std::sqrt((g_ + 1) / (2 * g_) * p_ / s.pressure + (g_ - 1) / (2 * g_));
      if (speed <= front) return s;
      return {star_density(s), u, p_};
    }
    const double head = s.velocity - c;
    const double tail = u - c * std::pow(p_ / s.pressure, (g_ - 1) / (2 * g_));
    if (speed <= head) return s;
    if (speed >= tail) return {star_density(s), u, p_};
    const double inside = 2 / (g_ + 1) + (g_ - 1) / ((g_ + 1) * c) * (s.velocity - speed);
    return {s.density * std::pow(inside, 2 / (g_ - 1)),
            2 / (g_ + 1) * (c + (g_ - 1) / 2 * s.velocity + speed),
            s.pressure * std::pow(inside, 2 * g_ / (g_ - 1))};
  }

  GasState left_, right_;
  double g_;
  double p_ = 1, u_ = 0;
};

}  // namespace fuelwright::physics
