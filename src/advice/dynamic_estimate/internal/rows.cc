#include "advice/dynamic_estimate/internal/rows.h"

#include <algorithm>
#include <cmath>

namespace fuelwright::advice {
namespace {

constexpr double kAfterCut_s = 2.0;   // film and exhaust settle again
constexpr double kAfterLean_s = 1.0;  // until a sensor has forgotten what dilution added
constexpr double kLeanest_ln = 0.35;  // predicted beyond these: the sensor is at its stop
constexpr double kRichest_ln = -0.40;
constexpr double kNoLean = 1e-5;
constexpr double kJitter_s = 0.05;  // h2's time
constexpr double kSettled_s = 3.0;  // high load that has lasted
// Steps of the derivatives, small against the priors and large against rounding.
constexpr Theta kStep{2e-3, 1e-2, 1e-2, 2e-3, 1e-2, 5e-3, 5e-3, 2e-3, 1e-2};
constexpr double kDeadStep_s = 1e-6;
constexpr double kHeatingStep = 1e-3;

}  // namespace

DriveRows::DriveRows(const Driving& driving, std::size_t recording, const DynamicLayout& layout,
                     const DynamicOptions& options)
    : driving_(&driving),
      recording_(recording),
      layout_(&layout),
      o_(&options),
      forward_(driving),
      table_(forward_, Theta{}, layout.nodes) {}

void DriveRows::begin(const Eigen::VectorXd& x, const Eigen::VectorXd& mu,
                      std::vector<double> drift, double noise_scale, bool gently) {
  x_ = x;
  mu_ = mu;
  drift_ = std::move(drift);
  noise_scale_ = noise_scale;
  gently_ = gently;
  const Theta theta = theta_of(x, *layout_);
  const double dd_s = 1e-3 * x[layout_->dead()];
  const double w = x[layout_->heating()];
  forward_.begin(theta, dd_s, w);
  for (std::size_t k = 0; k < moved_.size(); ++k) {
    moved_[k].restart(theta, dd_s, w);
    if (k < kThetas) moved_[k].theta[k] += kStep[k];
  }
  moved_[kThetas].dd_s += kDeadStep_s;
  moved_[kThetas + 1].w += kHeatingStep;
  table_ = TableRows(forward_, theta, layout_->nodes);
  taught_ = 0;
  z_.assign(driving_->rows(), NAN);
}

void DriveRows::run(std::size_t every) {
  const Driving& d = *driving_;
  std::vector<double> delta(d.rows() - forward_.done(), 0.0);
  for (std::size_t i = forward_.done(); i < d.rows(); ++i) {
    double& here = delta[i - forward_.done()];
    for (int k = 0; k < d.at[i].count; ++k) here += d.at[i].share[k] * x_[d.at[i].node[k]];
  }
  believe_leans();
  forward_.extend(delta);
  for (Forward::Again& again : moved_) forward_.extend_again(again, every);
  z_.resize(d.rows(), NAN);
}

// Time since lean by engine time, as Driving::since_cut_s.
void DriveRows::believe_leans() {
  const Driving& d = *driving_;
  for (std::size_t i = since_lean_s_.size(); i < d.rows(); ++i) {
    leans_.push_back(o_->dynamics.dilution.at(d.rpm[i], d.map_pa[i]));
    const double before = i > 0 ? since_lean_s_[i - 1] : kAfterLean_s;
    since_lean_s_.push_back(leans_[i].mean >= o_->largest_lean ? 0.0 : before + d.step_s);
  }
}

bool DriveRows::used(std::size_t i) const {
  const Driving& d = *driving_;
  const std::vector<double>& predicted = forward_.predicted_ln();
  const auto source = static_cast<std::size_t>(forward_.looked_up()[i]);
  return d.usable[i] && d.usable[source] && d.since_cut_s[source] > kAfterCut_s &&
         since_lean_s_[source] > kAfterLean_s &&
         std::abs(forward_.film_ln()[i]) < o_->largest_film && predicted[i] < kLeanest_ln &&
         predicted[i] > kRichest_ln && i > 0 && i + 1 < forward_.done() &&
         !std::isnan(predicted[i - 1]) && !std::isnan(predicted[i + 1]);
}

double held_drift(const std::vector<double>& drift, int knot, double knot_s,
                  const DynamicOptions& o) {
  if (drift.empty()) return 0;
  const auto k = static_cast<std::size_t>(knot);
  if (k < drift.size()) return drift[k];
  const auto beyond = static_cast<double>(k + 1 - drift.size());
  return drift.back() * std::exp(-beyond * knot_s / o.drift_memory_s);
}

std::size_t DriveRows::first_row_of_knot(int knot) const {
  const auto of = [&](std::size_t row) {
    return static_cast<int>(static_cast<double>(row) / knot_rows());
  };
  auto row = static_cast<std::size_t>(knot * knot_rows());
  while (of(row) < knot) ++row;
  while (row > 0 && of(row - 1) >= knot) --row;
  return row;
}

// The row's entries; returns what stands beside the prediction.
double DriveRows::fill(std::size_t i, const SparseLowPass& low, double inside) {
  const Driving& d = *driving_;
  const double predicted = forward_.predicted_ln()[i];
  row_.clear();
  linear_ = 0;
  const auto put = [&](int state, double share) {
    row_.push_back({state, share});
    linear_ += share * (x_[state] - mu_[state]);
  };
  const auto quotient = [&](std::size_t k, double step) {
    return (moved_[k].predicted_ln[i] - predicted) / step;
  };
  for (const int n : low.active()) put(n, low[n] / inside);
  for (std::size_t k = 0; k < kThetas; ++k) {
    if (!std::isnan(moved_[k].predicted_ln[i])) {
      put(layout_->theta(static_cast<int>(k)), quotient(k, kStep[k]));
    }
  }
  put(layout_->dead(), quotient(kThetas, 1e3 * kDeadStep_s));
  put(layout_->heating(), quotient(kThetas + 1, kHeatingStep));
  double besides = 0;
  const double off = -std::expm1(-predicted);  // (lambda - 1)/lambda
  const Beside column{d.idle[i], off, off * d.exhaust_pa[i] / 1e5, d.bank_side};
  for (int k = 0; k < kBesides; ++k) {
    const double share = column[static_cast<std::size_t>(k)];
    if (share == 0) continue;
    put(layout_->beside(k), share);
    besides += share * x_[layout_->beside(k)];  // (dynamic.10)
  }
  const auto source = static_cast<std::size_t>(forward_.looked_up()[i]);
  lean_ = leans_[source].mean;
  besides += lean_;
  if (const double sd = leans_[source].sd; sd > kNoLean) {
    for (const auto& [k, share] : Dilution::places(d.rpm[source], d.map_pa[source])) {
      if (share == 0) continue;
      put(layout_->lean(k), share * sd);
      besides += share * sd * x_[layout_->lean(k)];
    }
  }
  if (d.fuel_from == FuelFrom::pulse_width && layout_->levels > 0) {
    put(layout_->level(1), 1.0);
    besides += x_[layout_->level(1)];
  }
  const double knot = static_cast<double>(i) / knot_rows();
  const int k0 = static_cast<int>(knot);
  const double part = knot - k0;
  for (const auto& [k, share] : {std::pair{k0, 1 - part}, std::pair{k0 + 1, part}}) {
    const double drift = held_drift(drift_, k, layout_->knot_s[recording_], *o_);
    row_.push_back({layout_->knot(recording_, k - dropped_), share});
    linear_ += share * drift;  // its prior mean is 0
    besides += share * drift;
  }
  return besides;
}

void DriveRows::one(std::size_t i, const SparseLowPass& low, double weight, Taught& t) {
  const Driving& d = *driving_;
  if (std::isnan(d.reading_ln[i])) return;
  if (!used(i)) {
    ++t.masked;
    return;
  }
  double inside = 0;  // share of the low pass that the kept nodes hold
  for (const int n : low.active()) inside += low[n];
  const double besides = fill(i, low, inside);
  const std::vector<double>& predicted = forward_.predicted_ln();
  const double film = forward_.film_ln()[i];
  const double residual = d.reading_ln[i] - predicted[i] - besides;
  const double slope = (predicted[i + 1] - predicted[i - 1]) / (2 * d.step_s) * kJitter_s;
  const double s2 = o_->h0 + o_->h1 * film * film + o_->h2 * slope * slope +
                    o_->h3 * lean_ * lean_;  // (dynamic.6)
  const double scaled = s2 * noise_scale_ * noise_scale_;
  const double t2 = residual * residual / scaled;
  const double soft = gently_ ? 1.0 : (o_->nu + 1) / (o_->nu + t2);
  t.sums.add(row_, residual + linear_, weight * soft / scaled);
  z_[i] = (residual < 0 ? -1 : 1) * std::sqrt(t2 * soft);
  t.weighted_squares += soft * residual * residual / s2;
  ++t.samples;
  const auto source = static_cast<std::size_t>(forward_.looked_up()[i]);
  for (const int n : low.active()) {
    const double seconds = weight * low[n] / inside * d.step_s * std::min(1.0, soft);
    t.nodes.seconds[n] += seconds;
    if (d.high_load_s[source] > kSettled_s) t.nodes.settled[n] += seconds;
  }
}

void DriveRows::teach(std::size_t last, Taught& taught, std::size_t every) {
  const double weight = driving_->weight * static_cast<double>(every);
  table_.each(last, [&](std::size_t i, const SparseLowPass& low, double) {
    if (i % every == 0) one(i, low, weight, taught);
  });
  taught_ = std::max(taught_, last);
}

void count_use(const car::Surface& start, const Driving& d, std::size_t first, std::size_t last,
               NodeDriving& n) {
  for (const Driving::Stretch& s : d.stretches) {
    for (std::size_t i = std::max(s.first, first); i < std::min(s.last, last); ++i) {
      if (!d.usable[i]) continue;
      double ve = 0;
      for (int k = 0; k < d.at[i].count; ++k) {
        const double seconds = d.weight * d.at[i].share[k] * d.step_s;
        n.all[d.at[i].node[k]] += seconds;
        if (d.fuel_from == FuelFrom::pulse_width) continue;  // VE at its own reference
        n.warmth[d.at[i].node[k]] += seconds * d.heating[i];
        n.held[d.at[i].node[k]] += seconds * d.heating[i] * d.heating_held;
        ve += d.at[i].share[k] * start.values[static_cast<std::size_t>(d.at[i].node[k])];
      }
      n.driven_s += d.weight * d.step_s;
      if (d.fuel_kg_s[i] <= 0) continue;
      const double per_open = d.dead_kg_s2[i] / d.fuel_kg_s[i];
      n.ln_open_load += std::log(per_open * ve * d.map_pa[i]);
      n.inverse_open += per_open;
      n.weight += 1;
    }
  }
}

}  // namespace fuelwright::advice
