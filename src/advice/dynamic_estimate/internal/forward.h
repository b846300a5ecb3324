/// From fuel and air to the mixture that the sensor should show: wall film, delay by exhaust mass,
/// lag.
///
///   f = (1 - X_t) u + LP_tau[X_t u],   X_t = X (1 + gm (MAP - 50)/50 + gc (90 - CLT)/20),
///   0 <= X_t <= 0.75                                                                 (dynamic.4)
///   phi = AFR_st f / (air e^delta),   M(t - a) - M(t_e) = M_ex,   t_d = t_e - r 60/n(t_e),
///   phi_read = LP_lag[phi(t_d)]                                                      (dynamic.5)
///
/// MAP in kPa, CLT in degC, M cumulative exhaust mass at the sensor, r = 1.75 revolutions from the
/// look-up of the table to the exhaust stroke. Low passes are solved exactly for inputs that are
/// linear between rows; each stretch starts in equilibrium.
/// Source: one-puddle wall film (Aquino 1981, from memory); plug flow.
#pragma once

#include <array>
#include <span>
#include <vector>

#include "advice/dynamic_estimate/driving.h"
#include "advice/dynamic_estimate/theta.h"

namespace fuelwright::advice {

/// A low pass for inputs that are linear between rows: y = keep y + before x_(i-1) + now x_i.
struct LowPass {
  double keep;
  double before;
  double now;
  LowPass(double time_s, double step_s);
};

/// One recording run through the model. Columns [row]; rows outside the stretches are left alone.
class Forward {
 public:
  /// Keeps a reference.
  explicit Forward(const Driving& driving);

  /// delta_ln: of the table at each row; dd and w as in driving.h. Fills all columns below.
  void run(const Theta& theta, std::span<const double> delta_ln, double dd_s, double w);
  /// ln lambda predicted with other parameters and the same table, into `out`; NaN where the gas
  /// had not arrived. Leaves the columns alone.
  void run_again(const Theta& theta, double dd_s, double w, std::vector<double>& out);

  const Driving& driving() const { return *d_; }
  const std::vector<double>& predicted_ln() const { return predicted_; }  ///< NaN: not arrived yet
  const std::vector<double>& film_ln() const { return film_; }  ///< ln(u/f) through delay and lag
  const std::vector<double>& looked_up() const {
    return t_d_;
  }  ///< row, with its fraction; < 0: none
  const std::vector<double>& phi() const { return phi_; }

  /// d ln lambda / d delta at the nodes, row after row: calls back with (row, entries) for rows
  /// whose gas had arrived.
  template <class F>
  void each_row(const Theta& theta, int nodes, F&& f) const;

 private:
  void wet(const Theta& theta, double dd_s, double w, std::vector<double>& phi,
           std::vector<double>* film) const;
  void delay(const Theta& theta, std::vector<double>& t_d) const;
  void read(const Theta& theta, const std::vector<double>& phi, const std::vector<double>& t_d,
            std::vector<double>& ln_lambda) const;
  void through(const Theta& theta, const std::vector<double>& film, std::vector<double>& out) const;

  const Driving* d_;
  std::vector<double> map_away_, cold_;  // the brackets of (dynamic.4)
  std::vector<double> per_air_;          // AFR_st / (air e^delta) at w = w_now_
  std::vector<double> mass_;             // cumulative [kg]
  std::vector<double> predicted_, film_, t_d_, phi_;
  std::vector<double> phi_again_, t_again_;  // room for run_again
  Theta theta_now_{};
  double dd_now_ = 0;
  double w_now_ = 0;
};

/// The nodes a reading depends on: low-passed shares, small ones dropped.
class SparseLowPass {
 public:
  SparseLowPass(int nodes, const LowPass& filter)
      : filter_(filter), value_(static_cast<std::size_t>(nodes), 0.0) {}
  struct Term {
    int node;
    double value;
  };
  using Terms = std::array<Term, 8>;
  void start(const Terms& x, int count) {
    for (const int n : active_) value_[static_cast<std::size_t>(n)] = 0;
    active_.clear();
    add(x, count, 1.0);
    before_ = x;
    before_count_ = count;
  }
  /// smallest: entries below it are forgotten.
  void step(const Terms& x, int count, double smallest) {
    std::size_t kept = 0;
    for (const int n : active_) {
      double& v = value_[static_cast<std::size_t>(n)];
      v *= filter_.keep;
      if (v < smallest) {
        v = 0;
      } else {
        active_[kept++] = n;
      }
    }
    active_.resize(kept);
    add(before_, before_count_, filter_.before);
    add(x, count, filter_.now);
    before_ = x;
    before_count_ = count;
  }
  const std::vector<int>& active() const { return active_; }
  double operator[](int node) const { return value_[static_cast<std::size_t>(node)]; }

 private:
  void add(const Terms& x, int count, double factor) {
    for (int k = 0; k < count; ++k) {
      double& v = value_[static_cast<std::size_t>(x[static_cast<std::size_t>(k)].node)];
      const double more = factor * x[static_cast<std::size_t>(k)].value;
      if (more <= 0) continue;
      if (v == 0) active_.push_back(x[static_cast<std::size_t>(k)].node);
      v += more;
    }
  }
  LowPass filter_;
  std::vector<double> value_;
  std::vector<int> active_;
  Terms before_{};
  int before_count_ = 0;
};

template <class F>
void Forward::each_row(const Theta& theta, int nodes, F&& f) const {
  constexpr double kPrune = 1e-3;  // of the whole
  SparseLowPass low(nodes, LowPass(std::exp(theta[kLnLag]), d_->step_s));
  for (const Driving::Stretch& s : d_->stretches) {
    bool started = false;
    for (std::size_t i = s.first; i < s.last; ++i) {
      if (t_d_[i] < 0) continue;
      const auto j = static_cast<std::size_t>(t_d_[i]);
      const double part = t_d_[i] - static_cast<double>(j);
      SparseLowPass::Terms x;
      int count = 0;
      for (std::size_t k = j; k <= j + 1 && k < s.last; ++k) {
        const double share = (k == j ? 1 - part : part) * phi_[k];
        for (int n = 0; n < d_->at[k].count; ++n) {
          const auto m = static_cast<std::size_t>(n);
          x[static_cast<std::size_t>(count++)] = {d_->at[k].node[m], share * d_->at[k].share[m]};
        }
      }
      const double whole = std::exp(-predicted_[i]);
      if (started) {
        low.step(x, count, kPrune * whole);
      } else {
        low.start(x, count);
      }
      started = true;
      f(i, low, whole);
    }
  }
}

}  // namespace fuelwright::advice
