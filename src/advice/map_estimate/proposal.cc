#include "advice/map_estimate/proposal.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace fuelwright::advice {
namespace {

constexpr double kWorthSaying = 0.01;  // changes below 1 % are not counted

double round_up(double value, double step) { return std::ceil(value / step - 1e-6) * step; }

// Whole steps written as the shortest decimal: 824 steps of 0.001 are 0.824, not
// 0.8240000000000001.
double clean(double value, double step) {
  const double per_one = std::round(1.0 / step);
  return std::round(value * per_one) / per_one;
}

std::string words(const ProposedTable& p, bool first) {
  if (!first && p.richer == 0 && p.leaner == 0) {
    return fmt::format("nothing to change by more than 1 % yet{}",
                       p.held_back > 0
                           ? fmt::format("; {} leaner moves wait for proof", p.held_back)
                           : std::string());
  }
  if (first) return "first VE table, computed from the recordings; guesses are marked";
  std::string out = fmt::format(
      "{} nodes richer by more than 1 % (most {:.1f} %), {} leaner (most "
      "{:.1f} %)",
      p.richer, 100 * p.most_richer, p.leaner, 100 * p.most_leaner);
  if (p.cut > 0) {
    out += fmt::format("; {} nodes want more than one revision may move: look for the cause first",
                       p.cut);
  }
  if (p.held_back > 0) {
    out += fmt::format("; {} leaner moves cut short because they are not proven", p.held_back);
  }
  return out;
}

}  // namespace

ProposedTable propose(const MapEstimate& estimate, const car::Surface* in_force,
                      const ProposalOptions& options) {
  const car::Evidence& e = estimate.evidence;
  ProposedTable out{car::Surface::flat(e.grid, 0.0)};
  for (std::size_t iy = 0; iy < e.grid.y.size(); ++iy) {
    const bool high = load_coordinate(e.grid.y.kind(), e.grid.y[iy]) >= options.high_load;
    for (std::size_t ix = 0; ix < e.grid.x.size(); ++ix) {
      const std::size_t i = e.grid.index(ix, iy);
      double value = e.estimate[i];
      if (in_force) {
        const double now = in_force->at(e.grid.x[ix], e.grid.y[iy]);
        const double wanted = std::log(value / now);
        double change = wanted;
        if (wanted < 0) {
          change = std::min(0.0, wanted + options.proof_z * e.sd_log[i]);  // (proposal.1)
          if (high && e.mark[i] != car::NodeMark::measured) change = 0;
        }
        const double bounded =
            std::clamp(change, std::log1p(-options.most_change), std::log1p(options.most_change));
        out.cut += bounded != change;
        change = bounded;
        value = now * std::exp(change);
        const double share = std::expm1(change);
        out.richer += share > kWorthSaying;
        out.leaner += share < -kWorthSaying;
        out.held_back += change - wanted > kWorthSaying;
        out.most_richer = std::max(out.most_richer, share);
        out.most_leaner = std::max(out.most_leaner, -share);
      }
      const car::Limits limits = car::limits_of(e.what);
      value = clean(round_up(value, options.step), options.step);
      out.surface.values[i] = std::clamp(value, limits.lowest, limits.highest);
    }
  }
  out.reason = words(out, in_force == nullptr);
  return out;
}

}  // namespace fuelwright::advice
