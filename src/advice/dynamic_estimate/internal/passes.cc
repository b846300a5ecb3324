#include "advice/dynamic_estimate/internal/passes.h"

#include <algorithm>
#include <cmath>

namespace fuelwright::advice {
namespace {

constexpr double kHeld = 1e8;  // information of a held theta, against its prior's
constexpr double kWettestFilm = 0.75;

bool is_film(std::size_t k) { return k == kFilm || k == kSlowFilm; }

}  // namespace

Before before_driving(const DynamicLayout& layout, const car::Grid& grid,
                      const DynamicOptions& options, const Known* known) {
  if (!known) {
    return {dynamic_mean(layout, grid, options), dynamic_covariance(layout, grid, options)};
  }
  EXPECTS(known->mean.size() == layout.fixed());
  Before b{Eigen::VectorXd::Zero(layout.states()), drift_covariance(layout, options)};
  b.mu.head(layout.fixed()) = known->mean;
  b.K.topLeftCorner(layout.fixed(), layout.fixed()) = known->covariance;
  return b;
}

double noise_scale_of(double weighted_squares, long samples, const DynamicOptions& o) {
  return std::sqrt((o.noise_prior_samples + weighted_squares) /
                   (o.noise_prior_samples + static_cast<double>(samples)));
}

Step take_step(const Before& b, Information information, const Eigen::VectorXd& x,
               const DynamicLayout& layout, const DynamicOptions& o) {
  const Theta from = theta_of(x, layout);
  Step step{b.mu + posterior_mean(b.K, information)};
  std::array<bool, kThetas> held{};
  for (std::size_t round = 0; round < kThetas; ++round) {
    bool more = false;
    for (std::size_t k = 0; k < kThetas; ++k) {
      const int state = layout.theta(static_cast<int>(k));
      const double sd = o.dynamics.sd[k];
      double limit = std::clamp(step.to[state], from[k] - sd, from[k] + sd);
      if (k == kDelay) limit = std::max(limit, 0.0);
      if (is_film(k)) limit = std::clamp(limit, 0.0, kWettestFilm);
      if (held[k] || limit == step.to[state]) continue;
      const Entry itself{state, 1.0};
      information.add({&itself, 1}, limit - b.mu[state], kHeld / (sd * sd));
      held[k] = more = true;
    }
    if (!more) break;
    step.to = b.mu + posterior_mean(b.K, information);
  }
  step.moved = (step.to - x).head(layout.nodes).norm() / std::sqrt(layout.nodes);
  double& delay = step.to[layout.theta(kDelay)];
  delay = std::max(delay, 0.0);  // held to rounding
  for (const ThetaAt k : {kFilm, kSlowFilm}) {
    double& film = step.to[layout.theta(k)];
    film = std::clamp(film, 0.0, kWettestFilm);
  }
  return step;
}

}  // namespace fuelwright::advice
