/// The closed cycle as one template over the gas: compress, light, burn, expand, with a ledger that
/// closes by construction. The tests run it with a perfect gas against the ideal cycles.
///
/// Implicit trapezoidal rule for p dV (second order), explicit heat with the previous step's
/// extrapolation. Each step solves volume and energy of both zones for p and the burnt temperature
/// by Newton; the fresh zone is compressed isentropically less its own heat (combustion.8).
#pragma once

#include <algorithm>
#include <cmath>

#include "physics/combustion/internal/start.h"

namespace fuelwright::physics {

struct ClosedProblem {
  Slider slider;
  double theta0, theta_open, burn_start, burn_duration;  // after TDC [rad]
  double completeness;                                   // share of the mass that burns
  double kernel;                                         // share of it burnt at once, at burn_start
  double mass, p0, t0;
  double speed_rad_s, piston_speed, swept;
  double wall_k, heat_factor;  // factor 0: adiabatic
  double octane, end_gas_shift_k;
  double grid;
};
struct ClosedSolution {
  double work = 0, walls = 0, start = 0, end = 0;  // [J]
  double p = 0, t_mean = 0;                        // exhaust opening
  double peak = 0, peak_at = 0;
  double knock = 0;
  double fresh_t = 0, burnt_t = 0;
  double fresh_mass = 0, burnt_mass = 0;
  int steps = 0;
};

/// exp(x); near zero, where most calls are, by its series (relative error below 2e-11).
inline double exp_near(double x) {
  if (std::abs(x) > 0.1) return std::exp(x);
  return 1 + x * (1 + x * (1.0 / 2 +
                           x * (1.0 / 6 + x * (1.0 / 24 + x * (1.0 / 120 + x * (1.0 / 720))))));
}

template <class Gas>
class ClosedIntegrator {
 public:
  ClosedIntegrator(const Gas& gas, const ClosedProblem& problem) : gas_(gas), q_(problem) {}

  ClosedSolution run() {
    bore_factor_ = std::pow(q_.slider.bore, -0.2);
    p_ = q_.p0;
    lnp_ = std::log(p_);
    tu_ = core_ = q_.t0;
    theta_ = q_.theta0;
    v_ = v0_ = q_.slider.volume(theta_);
    mu_ = q_.mass;
    out_.start = energy_now();
    u_ = out_.start;
    const double light = std::clamp(q_.burn_start, q_.theta0, q_.theta_open);
    const double burnt = std::clamp(q_.burn_start + q_.burn_duration, light, q_.theta_open);
    burning_ = false;
    advance_to(light, kCoarse);
    if (q_.completeness > 0 && light < q_.theta_open) {
      burning_ = true;
      ignite();
      advance_to(burnt, kFine);
      advance_to(q_.theta_open, kCoarse);
    } else {
      advance_to(q_.theta_open, kCoarse);
    }
    out_.end = energy_now();
    out_.p = p_;
    out_.t_mean = mean_t();
    out_.fresh_t = tu_;
    out_.burnt_t = tb_;
    out_.fresh_mass = mu_;
    out_.burnt_mass = mb_;
    return out_;
  }

 private:
  static constexpr double kCoarse = 2 * 3.14159265358979 / 180, kFine = kCoarse / 2;
  static constexpr int kMostNewton = 12;
  // A Newton step this small leaves an error of its square.
  static constexpr double kSettled = 1e-6;
  static constexpr double kKnockBy = 0.772;  // of the burn: 90 % burnt

  double energy_now() const {
    double u = mu_ * gas_.unburnt(tu_).u;
    if (mb_ > 0) u += mb_ * gas_.burnt(tb_, lnp_).u;
    return u;
  }
  double mean_t() const { return (mu_ * tu_ + mb_ * tb_) / q_.mass; }

  void advance_to(double theta_end, double step) {
    const double span = theta_end - theta_;
    if (span <= 1e-12) return;
    const int n = std::max(1, static_cast<int>(std::ceil(span / (step * q_.grid) - 1e-9)));
    const double h = span / n, from = theta_;
    have_last_ = have_kappa_ = false;
    guess_lnp_ = guess_tb_ = 0;
    for (int i = 1; i <= n; ++i) one_step(i == n ? theta_end : from + i * h);
  }

  double burnt_target(double theta) const {
    const double z = (theta - q_.burn_start) / q_.burn_duration;
    const double x = z >= 1 ? 1 : 1 - std::exp(-5 * z * z * z);  // (combustion.6)
    return q_.completeness * (q_.kernel + (1 - q_.kernel) * x);
  }

  /// Heat rates into the walls per radian, split by volume.                        (combustion.9)
  void heat_rates(double& fresh, double& burnt) const {
    fresh = burnt = 0;
    if (q_.heat_factor <= 0) return;
    const double t = mean_t();
    double w = 2.28 * q_.piston_speed;
    if (burning_) {
      const double motored = q_.p0 * std::exp(1.32 * std::log(v0_ / v_));
      w += 3.24e-3 * q_.swept * q_.t0 / (q_.p0 * v0_) * std::max(0.0, p_ - motored);
    }
    const double h = 3.26 * q_.heat_factor * bore_factor_ *
                     std::exp(0.8 * (lnp_ - kLog1000 + std::log(w)) - 0.55 * std::log(t));
    const double rate = h * q_.slider.area(v_) / q_.speed_rad_s;
    const double share =
        mb_ > 0 ? std::clamp(mu_ * gas_.unburnt_r() * tu_ / (p_ * v_), 0.0, 1.0) : 1;
    fresh = rate * share * (tu_ - q_.wall_k);
    if (mb_ > 0) burnt = rate * (1 - share) * (tb_ - q_.wall_k);
  }

  void one_step(double theta) {
    const double h = theta - theta_, v1 = q_.slider.volume(theta);
    double fresh = 0, burnt = 0;
    heat_rates(fresh, burnt);
    double qu = fresh * h, qb = burnt * h;
    if (have_last_) {  // Adams-Bashforth, equal steps
      qu += 0.5 * h * (fresh - last_fresh_);
      qb += 0.5 * h * (burnt - last_burnt_);
    }
    last_fresh_ = fresh;
    last_burnt_ = burnt;
    have_last_ = true;
    const double p_old = p_, core_old = core_;
    if (burning_) {
      const double moved =
          q_.burn_duration > 0 ? std::min(q_.mass * burnt_target(theta) - mb_, mu_) : 0.0;
      solve_two(v1, qu, qb, moved);
    } else {
      solve_one(v1, qu);
    }
    const double work = 0.5 * (p_old + p_) * (v1 - v_);
    out_.work += work;
    out_.walls += qu + qb;
    u_ -= work + qu + qb;
    v_ = v1;
    theta_ = theta;
    ++out_.steps;
    knock(p_old, core_old, h);
    if (p_ > out_.peak) {
      out_.peak = p_;
      out_.peak_at = theta_;
    }
  }

  /// Fresh charge alone: one unknown, its temperature.
  void solve_one(double v1, double heat) {
    const double half = 0.5 * (v1 - v_), known = u_ - half * p_ - heat;
    const double r = gas_.unburnt_r(), mr_over_v = mu_ * r / v1;
    double t = tu_;
    double cv = 0;
    for (int i = 0; i < kMostNewton; ++i) {
      const auto g = gas_.unburnt(t);
      cv = g.cv;
      const double f = mu_ * g.u + half * mr_over_v * t - known;
      const double d = f / (mu_ * g.cv + half * mr_over_v);
      t -= d;
      if (std::abs(d) < kSettled * t) break;
    }
    const double kappa = r / (cv + r);
    p_ = mr_over_v * t;
    const double lnp = std::log(p_);
    core_ *= exp_near(0.5 * (kappa + (core_kappa_ > 0 ? core_kappa_ : kappa)) * (lnp - lnp_));
    core_kappa_ = kappa;
    lnp_ = lnp;
    tu_ = t;
  }

  /// Both zones: two unknowns, ln p and the burnt temperature. `moved`: mass that burns.
  void solve_two(double v1, double fresh_heat, double burnt_heat, double moved) {
    const double half = 0.5 * (v1 - v_), known = u_ - half * p_ - fresh_heat - burnt_heat;
    const double r = gas_.unburnt_r();
    const auto before = gas_.unburnt(tu_);
    const double kappa_now = r / (before.cv + r);
    const double kappa = have_kappa_ ? kappa_now + 0.5 * (kappa_now - kappa_) : kappa_now;
    const double cooled = mu_ > 0 ? tu_ - fresh_heat / (mu_ * (before.cv + r)) : tu_;
    const double mu = mu_ - moved, mb = mb_ + moved;
    double lnp = lnp_ + guess_lnp_, tb = tb_ + guess_tb_, tu = tu_, growth = 1;
    growth = exp_near(kappa * (lnp - lnp_));
    double p = p_ * exp_near(lnp - lnp_);
    for (int i = 0; i < kMostNewton; ++i) {
      tu = cooled * growth;
      const auto g = gas_.unburnt(tu);
      const auto b = gas_.burnt(tb, lnp);
      // Volume and energy, and their slopes to ln p and the burnt temperature.
      const double f1 = p * v1 - mu * r * tu - mb * b.r * tb;
      const double f2 = mu * g.u + mb * b.u + half * p - known;
      const double f1p = p * v1 - mu * r * kappa * tu - mb * b.r_lnp * tb;
      const double f1t = -mb * (b.r + b.r_t * tb);
      const double f2p = mu * g.cv * kappa * tu + mb * b.u_lnp + half * p;
      const double f2t = mb * b.u_t;
      const double det = f1p * f2t - f1t * f2p;
      const double dp = std::clamp(-(f1 * f2t - f1t * f2) / det, -0.7, 0.7);
      const double dt = std::clamp(-(f1p * f2 - f2p * f1) / det, -800.0, 800.0);
      lnp += dp;
      p *= exp_near(dp);
      growth *= exp_near(kappa * dp);
      tb = std::max(tb + dt, 150.0);
      if (std::abs(dp) < kSettled && std::abs(dt) < kSettled * tb) break;
    }
    guess_lnp_ = v1 == v_ ? 0 : lnp - lnp_;
    guess_tb_ = v1 == v_ ? 0 : tb - tb_;
    tu_ = cooled * growth;
    core_ *= growth;
    kappa_ = kappa_now;
    have_kappa_ = true;
    p_ = p;
    lnp_ = lnp;
    tb_ = tb;
    mu_ = mu;
    mb_ = mb;
  }

  void ignite() {
    const auto g = gas_.unburnt(tu_);
    // First guess: the temperature at which burnt gas has the energy of the fresh one.
    double t = tu_ + 1500;
    for (int i = 0; i < kMostNewton; ++i) {
      const auto b = gas_.burnt(t, lnp_);
      t += std::clamp((g.u - b.u) / b.u_t, -800.0, 800.0);
    }
    tb_ = t;
    solve_two(v_, 0, 0, q_.mass * q_.completeness * q_.kernel);
  }

  /// Share of the ignition delay used up, with the end gas at its isentropic temperature.
  void knock(double p_old, double core_old, double h) {
    if (q_.octane <= 0) return;
    double share = 1;  // of this step that lies before 90 % burnt
    if (burning_) {
      const double until = q_.burn_start + kKnockBy * q_.burn_duration;
      share = std::clamp((until - (theta_ - h)) / h, 0.0, 1.0);
      if (share <= 0) return;
    }
    const double p = 0.5 * (p_old + p_) / 101325.0;
    if (p < 2) return;
    const double t = 0.5 * (core_old + core_) + q_.end_gas_shift_k;
    if (octane_factor_ == 0) octane_factor_ = 1 / (17.68e-3 * std::pow(q_.octane / 100, 3.402));
    out_.knock += share * h / q_.speed_rad_s * octane_factor_ *
                  std::exp(1.7 * std::log(p) - 3800.0 / t);  // (combustion.10)
  }

  static constexpr double kLog1000 = 6.907755278982137;
  const Gas& gas_;
  const ClosedProblem& q_;
  ClosedSolution out_;
  double p_ = 0, lnp_ = 0, tu_ = 0, tb_ = 0, core_ = 0, v_ = 0, v0_ = 0, theta_ = 0;
  double mu_ = 0, mb_ = 0, u_ = 0, kappa_ = 0, core_kappa_ = 0, octane_factor_ = 0;
  double bore_factor_ = 0;
  double last_fresh_ = 0, last_burnt_ = 0, guess_lnp_ = 0, guess_tb_ = 0;
  bool burning_ = false, have_last_ = false, have_kappa_ = false;
};

}  // namespace fuelwright::physics
