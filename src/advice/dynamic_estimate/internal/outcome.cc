#include "advice/dynamic_estimate/internal/outcome.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "advice/map_estimate/judge.h"

namespace fuelwright::advice {
namespace {

constexpr double kLowLoad = 0.32;
constexpr double kFullLoad = 0.85;
constexpr double kSettledShare = 0.5;
constexpr double kFewest_s = 2;  // of driving at a node, against the mean of all nodes
constexpr int kDeadAndHeating = 2;
constexpr double kSlow_s = 0.35;  // a sensor slower than this is lazy (common practice)

// 1/(PW - d0) at a node [1/ms]: the opening goes with VE times pressure.
double inverse_open_per_ms(const car::Surface& start, std::size_t i, double load_si,
                           const NodeDriving& n) {
  if (n.weight <= 0) return 0;
  if (start.grid.y.kind() == car::AxisKind::throttle) return 1e-3 * n.inverse_open / n.weight;
  const double p = 100e3 * std::max(load_coordinate(start.grid.y.kind(), load_si), 0.1);
  return 1e-3 * std::exp(n.ln_open_load / n.weight) / (start.values[i] * p);
}

double floor_at(const car::Grid& grid, double rpm, double load_si, Eigen::Index node,
                const NodeDriving& n, const DynamicOptions& o) {
  if (grid.y.kind() == car::AxisKind::throttle) return o.discrepancy;
  const double load = load_coordinate(grid.y.kind(), load_si);
  const double lean = o.dynamics.dilution.at(rpm, 100e3 * load).mean;
  const double dilution = std::min(o.discrepancy_dilution * lean, o.most_discrepancy_dilution);
  if (load < kLowLoad) return std::hypot(o.discrepancy_low_load, dilution);
  const bool pulls = load >= kFullLoad && n.settled[node] < kSettledShare * n.seconds[node];
  return std::hypot(pulls ? o.discrepancy_short_pulls : o.discrepancy, dilution);
}

}  // namespace

MapEstimate outcome(const car::Surface& start, car::TableWhat what, const DynamicLayout& layout,
                    const Eigen::VectorXd& x, const Eigen::MatrixXd& C, const NodeDriving& nodes,
                    const Eigen::VectorXd& prior_sd, double repetition,
                    const DynamicOptions& options) {
  const car::Grid& grid = start.grid;
  MapEstimate out{.evidence = {what, grid, {}, {}, {}, {}}};
  const int n = layout.nodes;
  Eigen::VectorXd floor(n);
  // What driving cannot tell from the nodes: the dead time, and the temperature of the charge.
  Eigen::MatrixX2d basis(n, 2);
  const double all_s = nodes.all.sum();
  const auto mean_of = [&](const Eigen::VectorXd& sum, Eigen::Index k) {
    if (!(all_s > 0)) return 0.0;
    return (sum[k] + kFewest_s * sum.sum() / all_s) / (nodes.all[k] + kFewest_s);
  };
  out.mean = x.head(n);
  for (std::size_t iy = 0; iy < grid.y.size(); ++iy) {
    for (std::size_t ix = 0; ix < grid.x.size(); ++ix) {
      const std::size_t i = grid.index(ix, iy);
      const auto k = static_cast<Eigen::Index>(i);
      basis(k, 0) = inverse_open_per_ms(start, i, grid.y[iy], nodes);
      basis(k, 1) = mean_of(nodes.warmth, k);
      out.mean[k] += mean_of(nodes.held, k);
      floor[k] = std::hypot(floor_at(grid, grid.x[ix], grid.y[iy], k, nodes, options),
                            options.dynamics.film_discrepancy);
    }
  }
  static_assert(kDeadAndHeating == 2);
  const int dead = layout.dead();  // and the heating after it
  out.mean += basis * x.segment<kDeadAndHeating>(dead);  // (dynamic.7)
  const Eigen::MatrixX2d with = C.block(0, dead, n, kDeadAndHeating);
  out.covariance = C.topLeftCorner(n, n) + with * basis.transpose() + basis * with.transpose() +
                   basis * C.block<2, 2>(dead, dead) * basis.transpose();
  out.prior_sd = prior_sd;
  out.charge_covariance = Eigen::VectorXd::Zero(n);
  out.repetition = repetition;
  const double all = nodes.all.sum();
  out.usage = all > 0 ? Eigen::VectorXd(nodes.all / all) : Eigen::VectorXd::Zero(n);

  car::Evidence& e = out.evidence;
  for (Eigen::Index k = 0; k < n; ++k) {
    const double variance = std::max(0.0, out.covariance(k, k));
    e.estimate.push_back(start.values[static_cast<std::size_t>(k)] * std::exp(out.mean[k]));
    e.sd_log.push_back(std::sqrt(variance + floor[k] * floor[k]));
    e.seconds.push_back(nodes.seconds[k] / repetition);
    e.mark.push_back(mark_of(nodes.seconds[k] * second, e.sd_log.back()));
  }
  out.shift.ln = out.usage.dot(out.mean);
  const double spread = std::sqrt(std::max(0.0, out.usage.dot(out.covariance * out.usage)));
  out.shift.sd = std::hypot(spread, options.discrepancy);
  out.instrument_level.assign(1, 0.0);
  out.instrument_level_sd.assign(1, 0.0);
  for (int k = 1; k <= layout.levels; ++k) {
    out.instrument_level.push_back(x[layout.level(k)]);
    out.instrument_level_sd.push_back(
        std::sqrt(std::max(0.0, C(layout.level(k), layout.level(k)))));
  }
  return out;
}

DynamicEstimate describe_known(const car::Surface& start, car::TableWhat what,
                               const DynamicLayout& layout, const Known& known,
                               const HeldPoint& point, const Eigen::VectorXd& prior_sd,
                               const DynamicOptions& options) {
  const Eigen::VectorXd& x = known.mean;
  DynamicEstimate out{.map = outcome(start, what, layout, x, known.covariance, known.nodes,
                                     prior_sd, point.repetition, options)};
  out.map.samples = known.samples;
  out.map.seconds = known.nodes.driven_s;
  out.map.noise_scale = point.noise_scale;
  judge(out.map);
  const auto learned = [&](int state) {
    return Learned{x[state], std::sqrt(std::max(0.0, known.covariance(state, state)))};
  };
  out.theta = theta_of(x, layout);
  for (int k = 0; k < kThetas; ++k) {
    out.theta_sd[static_cast<std::size_t>(k)] = learned(layout.theta(k)).sd;
  }
  out.dead_time_ms = learned(layout.dead());
  out.heating = learned(layout.heating());
  for (int k = 0; k < kBesides; ++k) {
    out.beside[static_cast<std::size_t>(k)] = learned(layout.beside(k));
  }
  out.point = point;
  out.known = known;
  if (const double lag = std::exp(out.theta[kLnLag]); lag > kSlow_s) {
    out.notes.push_back(fmt::format(
        "the mixture sensor answers slowly ({:.2f} s, usual is 0.1 s): old, fouled or cold", lag));
  }
  return out;
}

}  // namespace fuelwright::advice
