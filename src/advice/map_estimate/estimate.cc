#include "advice/map_estimate/estimate.h"

#include <algorithm>
#include <array>
#include <cmath>

#include "advice/map_estimate/internal/repetition.h"
#include "advice/map_estimate/judge.h"
#include "advice/map_estimate/posterior.h"

namespace fuelwright::advice {
namespace {

constexpr double kLowLoad = 0.32;  // 32 kPa: overrun, where readings are worst

// Where each unknown stands in the state.
struct Layout {
  int nodes = 0;
  int instruments = 1;
  int stretches = 0;
  bool charge = false;  // is there a charge-temperature exponent?
  int states() const { return nodes + instruments - 1 + stretches + (charge ? 1 : 0); }
  int charge_state() const { return states() - 1; }
  int instrument(int k) const { return nodes + k - 1; }
  int stretch(int k) const { return nodes + instruments - 1 + k; }
};

using Row = std::array<Entry, 7>;

std::span<const Entry> row_of(const Sample& s, const car::Grid& grid, const Layout& layout,
                              Row& row) {
  const car::NodeShares shares = grid.shares(s.at);
  std::size_t n = 0;
  for (; n < static_cast<std::size_t>(shares.count); ++n) {
    row[n] = {shares.node[n], shares.share[n]};
  }
  if (s.instrument > 0) row[n++] = {layout.instrument(s.instrument), 1.0};
  if (layout.stretches > 1) row[n++] = {layout.stretch(s.stretch), 1.0};
  if (layout.charge && s.warmth != 0) row[n++] = {layout.charge_state(), s.warmth};
  return {row.data(), n};
}

double dot(std::span<const Entry> row, const Eigen::VectorXd& x) {
  double sum = 0;
  for (const Entry& e : row) sum += e.share * x[e.state];
  return sum;
}

struct Totals {
  Layout layout;
  long samples = 0;
  double seconds = 0;
  Eigen::VectorXd usage;
};

Totals count(const car::Grid& grid, const SampleSource& source) {
  Totals t;
  t.layout.nodes = static_cast<int>(grid.size());
  t.usage = Eigen::VectorXd::Zero(t.layout.nodes);
  source([&](const Sample& s) {
    EXPECTS(std::isfinite(s.y) && s.sd > 0 && s.seconds > 0 && s.instrument >= 0 && s.stretch >= 0);
    ++t.samples;
    t.seconds += s.seconds;
    t.layout.instruments = std::max(t.layout.instruments, s.instrument + 1);
    t.layout.stretches = std::max(t.layout.stretches, s.stretch + 1);
    t.layout.charge = t.layout.charge || s.warmth != 0;
    const car::NodeShares shares = grid.shares(s.at);
    for (int k = 0; k < shares.count; ++k) t.usage[shares.node[k]] += shares.share[k] * s.seconds;
  });
  if (t.seconds > 0) t.usage /= t.seconds;
  return t;
}

Eigen::MatrixXd prior_of_all_states(const Eigen::MatrixXd& nodes, const Layout& layout,
                                    const EstimateOptions& options) {
  Eigen::MatrixXd K = Eigen::MatrixXd::Zero(layout.states(), layout.states());
  K.topLeftCorner(layout.nodes, layout.nodes) = nodes;
  EXPECTS(static_cast<int>(options.instrument_level_sd.size()) >= layout.instruments - 1);
  for (int k = 1; k < layout.instruments; ++k) {
    const double sd = options.instrument_level_sd[static_cast<std::size_t>(k - 1)];
    K(layout.instrument(k), layout.instrument(k)) = sd * sd;
  }
  for (int k = 0; k < layout.stretches; ++k) {
    K(layout.stretch(k), layout.stretch(k)) = options.drift_sd * options.drift_sd;
  }
  if (layout.charge) {
    K(layout.charge_state(), layout.charge_state()) =
        options.charge_exponent_sd * options.charge_exponent_sd;
  }
  return K;
}

struct Fit {
  Eigen::VectorXd mu;  // prior mean
  Eigen::VectorXd x;   // deviation from it
  double noise_scale = 1;
  double repetition = 1;
  Information information{1};
  Eigen::VectorXd seconds;  // effective, per node
};

// One pass over the samples at the present x: weights, information, noise scale, repetition,
// effective seconds.
void pass(const car::Grid& grid, const SampleSource& source, const EstimateOptions& options,
          const Layout& layout, Fit& fit) {
  Information information(layout.states());
  Repetition repetition(options.longest_memory_s);
  fit.seconds = Eigen::VectorXd::Zero(layout.nodes);
  const double nu = options.nu;
  double weighted_squares = 0;
  double n = 0;
  const double scale = fit.noise_scale;
  source([&](const Sample& s) {
    Row buffer;
    const auto row = row_of(s, grid, layout, buffer);
    const double y = s.y - dot(row, fit.mu);
    const double r = y - dot(row, fit.x);
    const double sd = s.sd * scale;
    const double soft = (nu + 1) / (nu + (r / sd) * (r / sd));
    information.add(row, y, soft / (sd * sd));  // (estimate.5)
    weighted_squares += soft * (r / s.sd) * (r / s.sd);
    n += 1;
    repetition.add(s.run, r / sd * std::sqrt(soft), s.seconds);
    for (const Entry& e : row) {
      if (e.state < layout.nodes) fit.seconds[e.state] += e.share * s.seconds * std::min(1.0, soft);
    }
  });
  const double prior_n = options.noise_prior_samples;
  fit.noise_scale = std::sqrt((prior_n + weighted_squares) / (prior_n + n));
  fit.repetition = repetition.inflation();
  information.scale(1.0 / fit.repetition);
  fit.information = std::move(information);
}

double discrepancy_at(const car::Grid& grid, double load_si, const EstimateOptions& options) {
  return load_coordinate(grid.y.kind(), load_si) < kLowLoad &&
                 grid.y.kind() != car::AxisKind::throttle
             ? options.discrepancy_low_load
             : options.discrepancy;
}

void fill_evidence(const car::Surface& table, const Fit& fit, const EstimateOptions& options,
                   MapEstimate& out) {
  const std::size_t n = table.grid.size();
  car::Evidence& e = out.evidence;
  e.estimate.resize(n);
  e.sd_log.resize(n);
  e.seconds.resize(n);
  e.mark.resize(n);
  for (std::size_t iy = 0; iy < table.grid.y.size(); ++iy) {
    const double floor = discrepancy_at(table.grid, table.grid.y[iy], options);
    for (std::size_t ix = 0; ix < table.grid.x.size(); ++ix) {
      const std::size_t i = table.grid.index(ix, iy);
      const auto k = static_cast<Eigen::Index>(i);
      const double variance = std::max(0.0, out.covariance(k, k));
      e.estimate[i] = table.values[i] * std::exp(out.mean[k]);
      e.sd_log[i] = std::sqrt(variance + floor * floor);
      e.seconds[i] = fit.seconds[k] / fit.repetition;
      e.mark[i] = mark_of(fit.seconds[k] * second, e.sd_log[i]);
    }
  }
}

}  // namespace

const char* name_of(Verdict verdict) {
  switch (verdict) {
    case Verdict::good:
      return "good";
    case Verdict::weak:
      return "weak";
    case Verdict::do_not_know:
      return "do not know";
  }
  broken_contract("a verdict", __FILE__, __LINE__);
}

MapEstimate::At MapEstimate::at(const car::OperatingPoint& point, double warmth) const {
  const car::NodeShares s = evidence.grid.shares(point);
  At out{warmth * charge_exponent, 0};
  double variance = warmth * warmth * charge_exponent_sd * charge_exponent_sd;
  double floor = 0;
  for (int a = 0; a < s.count; ++a) {
    out.ln += s.share[a] * mean[s.node[a]];
    variance += 2 * warmth * s.share[a] * charge_covariance[s.node[a]];
    const double own = covariance(s.node[a], s.node[a]);
    const double all = evidence.sd_log[static_cast<std::size_t>(s.node[a])];
    floor += s.share[a] * std::max(0.0, all * all - own);
    for (int b = 0; b < s.count; ++b) {
      variance += s.share[a] * s.share[b] * covariance(s.node[a], s.node[b]);
    }
  }
  out.sd = std::sqrt(std::max(0.0, variance) + floor);
  return out;
}

MapEstimate estimate(const car::Surface& table, car::TableWhat what, const SampleSource& samples,
                     const EstimateOptions& options) {
  EXPECTS(options.passes >= 2);
  EXPECTS(std::all_of(table.values.begin(), table.values.end(), [](double v) { return v > 0; }));
  const Totals totals = count(table.grid, samples);
  const Layout& layout = totals.layout;
  const Eigen::MatrixXd K_nodes = covariance(options.prior, table.grid);
  const Eigen::MatrixXd K = prior_of_all_states(K_nodes, layout, options);

  Fit fit;
  fit.mu = Eigen::VectorXd::Zero(layout.states());
  fit.mu.head(layout.nodes) = mean(options.prior, table.grid);
  if (layout.charge) fit.mu[layout.charge_state()] = options.charge_exponent;
  fit.x = Eigen::VectorXd::Zero(layout.states());
  for (int i = 0; i < options.passes; ++i) {
    pass(table.grid, samples, options, layout, fit);
    fit.x = posterior_mean(K, fit.information);
  }
  pass(table.grid, samples, options, layout, fit);
  Posterior all = posterior(K, fit.information);

  MapEstimate out{.evidence = {what, table.grid, {}, {}, {}, {}}};
  out.mean = (fit.mu + all.mean).head(layout.nodes);
  out.covariance = all.covariance.topLeftCorner(layout.nodes, layout.nodes);
  out.charge_covariance = Eigen::VectorXd::Zero(layout.nodes);
  if (layout.charge) {
    const int k = layout.charge_state();
    out.charge_exponent = fit.mu[k] + all.mean[k];
    out.charge_exponent_sd = std::sqrt(all.covariance(k, k));
    out.charge_covariance = all.covariance.col(k).head(layout.nodes);
  }
  out.prior_sd = K_nodes.diagonal().cwiseSqrt();
  out.usage = totals.usage;
  out.samples = totals.samples;
  out.seconds = totals.seconds;
  out.noise_scale = fit.noise_scale;
  out.repetition = fit.repetition;
  out.shift.ln = out.usage.dot(out.mean);
  const double spread = std::sqrt(std::max(0.0, out.usage.dot(out.covariance * out.usage)));
  out.shift.sd = std::hypot(spread, options.discrepancy);
  out.instrument_level.assign(1, 0.0);
  out.instrument_level_sd.assign(1, 0.0);
  for (int k = 1; k < layout.instruments; ++k) {
    out.instrument_level.push_back(all.mean[layout.instrument(k)]);
    out.instrument_level_sd.push_back(
        std::sqrt(all.covariance(layout.instrument(k), layout.instrument(k))));
  }
  fill_evidence(table, fit, options, out);
  judge(out);
  return out;
}

}  // namespace fuelwright::advice
