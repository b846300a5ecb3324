#include "advice/dynamic_estimate/dynamic_estimate.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "advice/dynamic_estimate/internal/forward.h"
#include "advice/dynamic_estimate/internal/normal_equations.h"
#include "advice/dynamic_estimate/internal/outcome.h"

namespace fuelwright::advice {
namespace {

constexpr double kAfterCut_s = 2.0;   // film and exhaust settle again
constexpr double kLeanest_ln = 0.35;  // predicted beyond these: the sensor is at its stop
constexpr double kRichest_ln = -0.40;
constexpr double kJitter_s = 0.05;  // h2's time
constexpr double kSettled_s = 3.0;  // high load that has lasted
constexpr double kStill = 5e-4;     // rms: the table stands still, no further pass
constexpr int kEarlyPasses = 3;
constexpr double kEarlyRepetition = 10;  // as it usually comes out at 20 Hz
constexpr double kEarlyScale = 1.5;
constexpr double kHeld = 1e8;  // information of a held theta, against its prior's
constexpr double kWettestFilm = 0.75;
constexpr double kSlow_s = 0.35;  // a sensor slower than this is lazy (common practice)
// Steps of the derivatives, small against the priors and large against rounding.
constexpr Theta kStep{2e-3, 1e-2, 1e-2, 2e-3, 1e-2, 5e-3, 5e-3};
constexpr double kDeadStep_s = 1e-6;
constexpr double kHeatingStep = 1e-3;

struct Fit {
  Eigen::VectorXd mu;
  Eigen::VectorXd x;  // all states, not the deviation
  double noise_scale = 1;
  double repetition = 1;
  double vif_others = 1;
  NodeDriving nodes;
  long samples = 0;
  long masked = 0;
  double seconds = 0;
};

Theta theta_of(const Eigen::VectorXd& x, const DynamicLayout& l) {
  Theta t{};
  for (int k = 0; k < kThetas; ++k) t[static_cast<std::size_t>(k)] = x[l.theta(k)];
  return t;
}

class Estimator {
 public:
  Estimator(const car::Surface& start, std::span<const Driving> drives, const SampleSource& others,
            const DynamicOptions& options)
      : start_(start),
        drives_(drives),
        others_(others),
        o_(options),
        layout_(layout_of(start.grid, drives, others, options)),
        K_(dynamic_covariance(layout_, start.grid, options)) {
    fit_.mu = dynamic_mean(layout_, start.grid, options);
    fit_.x = fit_.mu;
    for (const Driving& d : drives) forward_.emplace_back(d);
  }

  DynamicEstimate run(car::TableWhat what);

 private:
  Information pass(bool gently, bool early);
  void add_drive(std::size_t r, bool gently, Sums& sums, std::vector<double>& z);
  void derivatives(Forward& f, const Theta& theta, double dd_s, double w);
  void add_others(Sums& sums);
  double step(Information information);
  void count_use();

  const car::Surface& start_;
  std::span<const Driving> drives_;
  const SampleSource& others_;
  const DynamicOptions& o_;
  DynamicLayout layout_;
  Eigen::MatrixXd K_;
  Fit fit_;
  std::vector<Forward> forward_;
  std::array<std::vector<double>, kThetas + 2> moved_;  // predictions with one parameter moved
  double weighted_squares_ = 0;
};

void Estimator::derivatives(Forward& f, const Theta& theta, double dd_s, double w) {
  for (std::size_t k = 0; k < kThetas; ++k) {
    Theta t = theta;
    t[k] += kStep[k];
    f.run_again(t, dd_s, w, moved_[k]);
  }
  f.run_again(theta, dd_s + kDeadStep_s, w, moved_[kThetas]);
  f.run_again(theta, dd_s, w + kHeatingStep, moved_[kThetas + 1]);
}

// One recording's rows at the present x. z: standardised residuals, NaN where a row was masked.
void Estimator::add_drive(std::size_t r, bool gently, Sums& sums, std::vector<double>& z) {
  const Driving& d = drives_[r];
  Forward& f = forward_[r];
  const Eigen::VectorXd& x = fit_.x;
  std::vector<double> delta(d.rows(), 0.0);
  for (std::size_t i = 0; i < d.rows(); ++i) {
    const car::NodeShares& at = d.at[i];
    for (int k = 0; k < at.count; ++k) delta[i] += at.share[k] * x[at.node[k]];
  }
  const Theta theta = theta_of(x, layout_);
  const double dd_s = 1e-3 * x[layout_.dead()];
  const double w = x[layout_.heating()];
  f.run(theta, delta, dd_s, w);
  derivatives(f, theta, dd_s, w);
  const std::vector<double>& predicted = f.predicted_ln();
  const double knot_rows = layout_.knot_s[r] / d.step_s;
  const bool level = d.fuel_from == FuelFrom::pulse_width && layout_.levels > 0;
  z.assign(d.rows(), NAN);
  std::vector<Entry> row;
  f.each_row(theta, layout_.nodes, [&](std::size_t i, const SparseLowPass& low, double) {
    if (std::isnan(d.reading_ln[i])) return;
    const auto source = static_cast<std::size_t>(f.looked_up()[i]);
    const double film = f.film_ln()[i];
    const bool used = d.usable[i] && d.usable[source] && d.since_cut_s[source] > kAfterCut_s &&
                      std::abs(film) < o_.largest_film && predicted[i] < kLeanest_ln &&
                      predicted[i] > kRichest_ln && i > 0 && i + 1 < d.rows() &&
                      !std::isnan(predicted[i - 1]) && !std::isnan(predicted[i + 1]);
    if (!used) {
      ++fit_.masked;
      return;
    }
    double inside = 0;  // share of the low pass that the kept nodes hold
    for (const int n : low.active()) inside += low[n];
    row.clear();
    double linear = 0;
    const auto put = [&](int state, double share) {
      row.push_back({state, share});
      linear += share * (x[state] - fit_.mu[state]);
    };
    for (const int n : low.active()) put(n, low[n] / inside);
    const double idle = d.idle[i];
    for (std::size_t k = 0; k < kThetas; ++k) {
      const double moved = moved_[k][i];
      if (!std::isnan(moved))
        put(layout_.theta(static_cast<int>(k)), (moved - predicted[i]) / kStep[k]);
    }
    put(layout_.dead(), (moved_[kThetas][i] - predicted[i]) / (1e3 * kDeadStep_s));
    put(layout_.heating(), (moved_[kThetas + 1][i] - predicted[i]) / kHeatingStep);
    double besides = 0;  // what is added to the prediction
    if (idle > 0) {
      put(layout_.idle(), idle);
      besides += idle * x[layout_.idle()];
    }
    if (level) {
      put(layout_.level(1), 1.0);
      besides += x[layout_.level(1)];
    }
    const double knot = static_cast<double>(i) / knot_rows;
    const int k0 = static_cast<int>(knot);
    const double part = knot - k0;
    put(layout_.knot(r, k0), 1 - part);
    put(layout_.knot(r, k0 + 1), part);
    besides += (1 - part) * x[layout_.knot(r, k0)] + part * x[layout_.knot(r, k0 + 1)];

    const double residual = d.reading_ln[i] - predicted[i] - besides;
    const double slope = (predicted[i + 1] - predicted[i - 1]) / (2 * d.step_s) * kJitter_s;
    const double s2 = o_.h0 + o_.h1 * film * film + o_.h2 * slope * slope;  // (dynamic.6)
    const double t2 = residual * residual / (s2 * fit_.noise_scale * fit_.noise_scale);
    const double soft = gently ? 1.0 : (o_.nu + 1) / (o_.nu + t2);
    sums.add(row, residual + linear, soft / (s2 * fit_.noise_scale * fit_.noise_scale));
    z[i] = (residual < 0 ? -1 : 1) * std::sqrt(t2 * soft);
    weighted_squares_ += soft * residual * residual / s2;
    ++fit_.samples;
    for (const int n : low.active()) {
      const double seconds = low[n] / inside * d.step_s * std::min(1.0, soft);
      fit_.nodes.seconds[n] += seconds;
      if (d.high_load_s[source] > kSettled_s) fit_.nodes.settled[n] += seconds;
    }
  });
}

void Estimator::add_others(Sums& sums) {
  if (!others_) return;
  Sums own(layout_.states());
  std::vector<double> z;
  int run = -1;
  double step_s = 1;
  others_([&](const Sample& s) {
    const car::NodeShares at = start_.grid.shares(s.at);
    std::array<Entry, 6> row;
    std::size_t n = 0;
    for (; n < static_cast<std::size_t>(at.count); ++n) row[n] = {at.node[n], at.share[n]};
    if (s.instrument > 0 && s.instrument <= layout_.levels) {
      row[n++] = {layout_.level(s.instrument), 1.0};
    }
    row[n++] = {layout_.stretch(s.stretch), 1.0};
    double y = s.y - EstimateOptions{}.charge_exponent * s.warmth;
    double r = y;
    for (std::size_t k = 0; k < n; ++k) {
      y -= row[k].share * fit_.mu[row[k].state];
      r -= row[k].share * fit_.x[row[k].state];
    }
    const double t2 = r * r / (s.sd * s.sd);
    const double soft = (o_.nu + 1) / (o_.nu + t2);
    own.add({row.data(), n}, y, soft / (s.sd * s.sd));
    if (s.run != run) z.push_back(NAN);
    run = s.run;
    step_s = s.seconds;
    z.push_back(r / s.sd * std::sqrt(soft));
    ++fit_.samples;
    for (int k = 0; k < at.count; ++k) {
      fit_.nodes.seconds[at.node[k]] += at.share[k] * s.seconds * std::min(1.0, soft);
    }
  });
  fit_.vif_others = inflation(z, std::max(3, static_cast<int>(o_.longest_memory_s / step_s)));
  sums.add_scaled(own, 1 / fit_.vif_others);
}

Information Estimator::pass(bool gently, bool early) {
  fit_.nodes.seconds = Eigen::VectorXd::Zero(layout_.nodes);
  fit_.nodes.settled = Eigen::VectorXd::Zero(layout_.nodes);
  fit_.samples = fit_.masked = 0;
  weighted_squares_ = 0;
  Sums driven(layout_.states());
  double vif = 0;
  std::vector<double> z;
  long before = 0;
  for (std::size_t r = 0; r < drives_.size(); ++r) {
    add_drive(r, gently, driven, z);
    const auto lags = static_cast<int>(o_.longest_memory_s / drives_[r].step_s);
    vif += static_cast<double>(fit_.samples - before) * inflation(z, lags);
    before = fit_.samples;
  }
  const auto n = static_cast<double>(fit_.samples);
  fit_.repetition = n > 0 ? vif / n : 1.0;
  fit_.noise_scale =
      std::sqrt((o_.noise_prior_samples + weighted_squares_) / (o_.noise_prior_samples + n));
  if (early) {  // residuals are still the table's error, not noise
    fit_.repetition = std::min(fit_.repetition, kEarlyRepetition);
    fit_.noise_scale = std::min(fit_.noise_scale, kEarlyScale);
  }
  Sums sums(layout_.states());
  sums.add_scaled(driven, 1 / fit_.repetition);
  add_others(sums);
  return sums.information();
}

// Takes the step. A theta that would go further than one prior standard deviation, or to what
// cannot be, is held at that limit, and everything else is solved again as if it were known to be
// there. Returns how far the table moved, rms over its nodes.
double Estimator::step(Information information) {
  const Theta before = theta_of(fit_.x, layout_);
  Eigen::VectorXd to = fit_.mu + posterior_mean(K_, information);
  std::array<bool, kThetas> held{};
  for (std::size_t round = 0; round < kThetas; ++round) {
    bool more = false;
    for (std::size_t k = 0; k < kThetas; ++k) {
      const int state = layout_.theta(static_cast<int>(k));
      const double sd = o_.dynamics.sd[k];
      double limit = std::clamp(to[state], before[k] - sd, before[k] + sd);
      if (k == kDelay) limit = std::max(limit, 0.0);
      if (k == kFilm) limit = std::clamp(limit, 0.0, kWettestFilm);
      if (held[k] || limit == to[state]) continue;
      const Entry itself{state, 1.0};
      information.add({&itself, 1}, limit - fit_.mu[state], kHeld / (sd * sd));
      held[k] = more = true;
    }
    if (!more) break;
    to = fit_.mu + posterior_mean(K_, information);
  }
  const double moved = (to - fit_.x).head(layout_.nodes).norm() / std::sqrt(layout_.nodes);
  fit_.x = to;
  double& delay = fit_.x[layout_.theta(kDelay)];
  delay = std::max(delay, 0.0);  // held to rounding
  double& film = fit_.x[layout_.theta(kFilm)];
  film = std::clamp(film, 0.0, kWettestFilm);
  return moved;
}

// How the car is used, and how long its injectors open where.
void Estimator::count_use() {
  NodeDriving& n = fit_.nodes;
  n.all = Eigen::VectorXd::Zero(layout_.nodes);
  for (const Driving& d : drives_) {
    for (const Driving::Stretch& s : d.stretches) {
      for (std::size_t i = s.first; i < s.last; ++i) {
        if (!d.usable[i]) continue;
        double ve = 0;
        for (int k = 0; k < d.at[i].count; ++k) {
          n.all[d.at[i].node[k]] += d.at[i].share[k] * d.step_s;
          ve += d.at[i].share[k] * start_.values[static_cast<std::size_t>(d.at[i].node[k])];
        }
        fit_.seconds += d.step_s;
        if (d.fuel_kg_s[i] <= 0) continue;
        const double per_open = d.dead_kg_s2[i] / d.fuel_kg_s[i];
        n.ln_open_load += std::log(per_open * ve * d.map_pa[i]);
        n.inverse_open += per_open;
        n.weight += 1;
      }
    }
  }
  if (n.weight > 0) {
    n.ln_open_load /= n.weight;
    n.inverse_open /= n.weight;
  }
  if (!others_) return;
  others_([&](const Sample& s) {
    const car::NodeShares at = start_.grid.shares(s.at);
    for (int k = 0; k < at.count; ++k) n.all[at.node[k]] += at.share[k] * s.seconds;
    fit_.seconds += s.seconds;
  });
}

DynamicEstimate Estimator::run(car::TableWhat what) {
  int passes = 0;
  for (int i = 0; i < o_.passes; ++i) {
    const double moved = step(pass(i == 0, i < kEarlyPasses));
    ++passes;
    if (i > kEarlyPasses && moved < kStill) break;
  }
  const Posterior all = posterior(K_, pass(false, false));
  count_use();
  DynamicEstimate out{.map = outcome(start_, what, layout_, fit_.x, all.covariance, fit_.nodes,
                                     fit_.repetition, o_)};
  out.passes = passes;
  out.map.samples = fit_.samples;
  out.map.seconds = fit_.seconds;
  out.map.noise_scale = fit_.noise_scale;
  judge_outcome(out.map);
  const auto learned = [&](int state) {
    return Learned{fit_.x[state], std::sqrt(std::max(0.0, all.covariance(state, state)))};
  };
  out.theta = theta_of(fit_.x, layout_);
  for (int k = 0; k < kThetas; ++k) {
    out.theta_sd[static_cast<std::size_t>(k)] = learned(layout_.theta(k)).sd;
  }
  out.dead_time_ms = learned(layout_.dead());
  out.heating = learned(layout_.heating());
  out.idle_bias = learned(layout_.idle());
  out.masked = fit_.masked;
  if (const double lag = std::exp(out.theta[kLnLag]); lag > kSlow_s) {
    out.notes.push_back(fmt::format(
        "the mixture sensor answers slowly ({:.2f} s, usual is 0.1 s): old, fouled or cold", lag));
  }
  return out;
}

}  // namespace

DynamicEstimate estimate_dynamic(const car::Surface& start, car::TableWhat what,
                                 std::span<const Driving> drives, const SampleSource& others,
                                 const DynamicOptions& options) {
  EXPECTS(!drives.empty());
  EXPECTS(options.passes >= 3);
  EXPECTS(std::all_of(start.values.begin(), start.values.end(), [](double v) { return v > 0; }));
  return Estimator(start, drives, others, options).run(what);
}

}  // namespace fuelwright::advice
