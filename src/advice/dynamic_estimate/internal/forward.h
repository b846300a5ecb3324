/// From fuel and air to the mixture that the sensor should show: wall film, delay by exhaust mass,
/// lag.
///
///   f = (1 - X_t - Y_t) u + LP_tau[X_t u] + LP_slow[Y_t u],
///   X_t = X g, Y_t = Y g, g = 1 + gm ln(MAP/50 kPa) + gc (90 - CLT)/20, X_t + Y_t <= 0.8
///                                                                                    (dynamic.4)
///   phi = AFR_st f / (air e^delta),   M(t - a) - M(t_e) = M_ex,   t_d = t_e - r 60/n(t_e),
///   phi_read = LP_lag[phi(t_d)]                                                      (dynamic.5)
///
/// MAP in kPa, CLT in degC, M cumulative exhaust mass at the sensor, r = 1.75 revolutions from the
/// look-up of the table to the exhaust stroke. Low passes are solved exactly for inputs that are
/// linear between rows; each stretch starts in equilibrium.
/// Source: wall film (Aquino 1981, from memory) with a second puddle, as liquid that creeps along
/// the wall dries more slowly than drops that just landed (common practice, no source); plug flow.
#pragma once

#include <array>
#include <cmath>
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

/// How far a run has come within its stretch: all that a next row needs of the rows before.
struct Along {
  double quick = 0;  // evaporating from the two films, and what wetted them before
  double slow = 0;
  double quick_before = 0;
  double slow_before = 0;
  std::size_t exhaust = 0;  // the row whose gas passed the sensor last
  bool started = false;     // lag
  double read = 1;
  double arrived_before = 1;
};

/// One recording run through the model, as a whole or as it grows. Columns [row]; rows outside the
/// stretches are left alone. What rows say does not depend on the pieces they came in.
class Forward {
 public:
  /// Keeps a reference; the driving may grow at its end.
  explicit Forward(const Driving& driving);

  /// A new point: all rows are to be run again. dd and w as in driving.h.
  void begin(const Theta& theta, double dd_s, double w);
  /// Runs the next rows. delta_ln: of the table at each of them.
  void extend(std::span<const double> delta_ln);
  /// begin() and extend() over all rows.
  void run(const Theta& theta, std::span<const double> delta_ln, double dd_s, double w);

  /// The same table with other parameters, predictions alone.
  struct Again {
    Theta theta{};
    double dd_s = 0;
    double w = 0;
    std::vector<double> predicted_ln{};  ///< NaN: not arrived yet
    std::size_t done = 0;
    Along along{};
    std::vector<double> phi{};  // where the film differs
    void restart(const Theta& t, double dd, double charge_weight) {
      theta = t;
      dd_s = dd;
      w = charge_weight;
      done = 0;
      predicted_ln.clear();
    }
  };
  /// Brings it to where this run is; a prediction at every so manieth row, NaN at the others.
  void extend_again(Again& again, std::size_t every = 1) const;

  const Driving& driving() const { return *d_; }
  std::size_t done() const { return done_; }                              ///< rows
  const std::vector<double>& predicted_ln() const { return predicted_; }  ///< NaN: not arrived yet
  const std::vector<double>& film_ln() const { return film_; }  ///< ln(u/f) through delay and lag
  const std::vector<double>& looked_up() const {
    return t_d_;
  }  ///< row, with its fraction; < 0: none
  const std::vector<double>& phi() const { return phi_; }

 private:
  template <class F>
  void each_stretch(std::size_t first, std::size_t last, F&& f) const;
  void make_room();
  void weigh(std::size_t first, std::span<const double> delta_ln);
  /// Fuel into the cylinders, over the air there.
  void wet(const Theta& theta, double dd_s, double w, std::size_t first, std::size_t last,
           Along& along, std::vector<double>& phi, std::vector<double>* film) const;
  struct Passage {
    double steps;  // beyond the gas
    double gas_kg;
  };
  Passage passage_of(const Theta& theta) const;
  double looked_up_at(const Passage& passage, const Driving::Stretch& s, std::size_t i,
                      Along& along) const;

  const Driving* d_;
  std::size_t done_ = 0;
  std::vector<double> map_away_, cold_;  // the brackets of (dynamic.4)
  std::vector<double> per_air_;          // AFR_st / (air e^delta) at w_
  std::vector<double> mass_;             // cumulative [kg]
  std::vector<double> predicted_, film_, t_d_, phi_;
  std::vector<double> film_now_;  // ln(u/f) at the cylinder
  Theta theta_{};
  double dd_s_ = 0;
  double w_ = 0;
  Along along_;
  double flow_before_ = 0;
  double film_read_ = 0, film_before_ = 0;
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

/// d ln lambda / d delta at the nodes, row after row.
class TableRows {
 public:
  TableRows(const Forward& forward, const Theta& theta, int nodes)
      : f_(&forward), low_(nodes, LowPass(std::exp(theta[kLnLag]), forward.driving().step_s)) {}
  /// Calls back with (row, entries, their sum) for the next rows up to `last` whose gas had
  /// arrived.
  template <class F>
  void each(std::size_t last, F&& f);

 private:
  const Forward* f_;
  SparseLowPass low_;
  std::size_t done_ = 0;
  std::size_t stretch_ = 0;
  bool started_ = false;
};

template <class F>
void TableRows::each(std::size_t last, F&& f) {
  constexpr double kPrune = 1e-3;  // of the whole
  const Driving& d = f_->driving();
  for (; done_ < last; ++done_) {
    const std::size_t i = done_;
    while (stretch_ < d.stretches.size() && d.stretches[stretch_].last <= i) ++stretch_;
    if (stretch_ == d.stretches.size() || i < d.stretches[stretch_].first) continue;
    if (i == d.stretches[stretch_].first) started_ = false;
    const double t_d = f_->looked_up()[i];
    if (t_d < 0) continue;
    const auto j = static_cast<std::size_t>(t_d);
    const double part = t_d - static_cast<double>(j);
    SparseLowPass::Terms x;
    int count = 0;
    for (std::size_t k = j; k <= j + 1; ++k) {
      const double share = (k == j ? 1 - part : part) * f_->phi()[k];
      for (int n = 0; n < d.at[k].count; ++n) {
        const auto m = static_cast<std::size_t>(n);
        x[static_cast<std::size_t>(count++)] = {d.at[k].node[m], share * d.at[k].share[m]};
      }
    }
    const double whole = std::exp(-f_->predicted_ln()[i]);
    if (started_) {
      low_.step(x, count, kPrune * whole);
    } else {
      low_.start(x, count);
    }
    started_ = true;
    f(i, low_, whole);
  }
}

}  // namespace fuelwright::advice
