#include "advice/proposal/proposal.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "advice/proposal/carried.h"
#include "advice/proposal/internal/worth.h"
#include "advice/proposal/targets.h"
#include "physics/ensemble/sample.h"

namespace fuelwright::advice {
namespace {

constexpr double kSame = 1e-9;  // of ln: no move at all

double above(double z) { return 0.5 * std::erfc(z / std::numbers::sqrt2); }

// The unit's range, as whole steps within it.
struct Cell {
  double lowest;
  double highest;
  double step;

  // Whole steps written as the shortest decimal: 824 steps of 0.001 are 0.824, not
  // 0.8240000000000001.
  double clean(double value) const {
    const double per_one = std::round(1.0 / step);
    return std::abs(per_one * step - 1) < 1e-9 ? std::round(value * per_one) / per_one : value;
  }
  double rich(double value) const {
    const double whole = clean(std::ceil(value / step - 1e-6) * step);
    return std::clamp(whole, lowest, highest);
  }
};

Cell cell_of(const UnitLimits& unit, car::TableWhat what) {
  const car::Limits limits = car::limits_of(what);
  Cell c{unit.lowest.value_or(limits.lowest), unit.highest.value_or(limits.highest), unit.step};
  c.lowest = c.clean(std::ceil(c.lowest / c.step - 1e-6) * c.step);
  c.highest = c.clean(std::floor(c.highest / c.step + 1e-6) * c.step);
  return c;
}

// One node on its way: what is known there, and what becomes of it.
struct Node {
  double ln_value, sd, learned;
  car::NodeMark mark;
  bool believed;
  double ln_aim;
  std::optional<double> ln_limit;  // at high load
};

class Proposer {
 public:
  Proposer(const ProposalOptions& options, car::TableWhat what)
      : options_(options),
        cell_(cell_of(options.unit, what)),
        proof_(physics::inverse_normal(options.lean_proof)),
        safety_(physics::inverse_normal(1 - options.lean_chance)) {}

  // The value that is proposed; `change` says how it came about.
  double value(const Node& n, std::optional<double> now, NodeChange& change) const {
    EXPECTS(n.sd > 0);
    change.sd = n.sd;
    const double from = now ? std::log(*now) : n.ln_value;
    change.wanted = n.ln_value - from;
    if (!n.believed && now) {
      if (std::abs(change.wanted) > internal::kWorthSaying_ln || n.ln_limit) {
        change.held = Held::not_believed;
      }
      return *now;
    }
    double made = now ? moved(n, change) : 0;
    made = kept_rich(n, made, change);
    made = bounded(now.has_value(), made, change);
    const double out =
        now && std::abs(made) < kSame ? *now : in_unit(std::exp(from + made), change);
    change.made = std::log(out) - from;
    if (change.why != Why::margin) {
      change.why = change.made > kSame    ? Why::richer
                   : change.made < -kSame ? Why::leaner
                                          : Why::unchanged;
    }
    if (n.ln_limit && n.believed) {
      change.lean_chance = above((*n.ln_limit - n.ln_aim + std::log(out) - n.ln_value) / n.sd);
    }
    return out;
  }

 private:
  // (proposal.5) to (proposal.7)
  double moved(const Node& n, NodeChange& change) const {
    const bool measured = n.mark == car::NodeMark::measured;
    const double rho = measured ? 1.0 : std::min(1.0, n.learned / options_.enough_learned);
    if (change.wanted >= 0) {
      if (rho < 1) change.held = Held::thin;
      return rho * change.wanted;
    }
    if (n.ln_limit && !measured) {
      change.held = Held::not_driven;
      return 0;
    }
    change.held = Held::not_proven;
    return rho * std::min(0.0, change.wanted + proof_ * n.sd);
  }

  double kept_rich(const Node& n, double made, NodeChange& change) const {
    if (!n.ln_limit) return made;
    const double margin = safety_ * n.sd - (*n.ln_limit - n.ln_aim);  // (proposal.8)
    change.margin = std::max(0.0, margin);
    const double least = change.wanted + margin;
    if (made >= least) return made;
    if (margin > 0) {
      change.why = Why::margin;
      change.held = Held::margin;
    }
    return least;
  }

  double bounded(bool in_force, double made, NodeChange& change) const {
    if (!in_force) return made;
    const double out =
        std::clamp(made, std::log1p(-options_.most_change), std::log1p(options_.most_change));
    if (out != made) change.held = Held::most_change;
    return out;
  }

  double in_unit(double value, NodeChange& change) const {
    const double out = cell_.rich(value);
    if (value > cell_.highest || value < cell_.lowest) change.held = Held::unit_range;
    return out;
  }

  const ProposalOptions& options_;
  Cell cell_;
  double proof_;   // z of (proposal.7)
  double safety_;  // z_c of (proposal.8)
};

void count(const NodeChange& c, const Node& n, ProposedTable& out) {
  const double share = std::expm1(c.made);
  if (!out.first) {
    out.richer += share > internal::kWorthSaying;
    out.leaner += share < -internal::kWorthSaying;
    const bool leaner = c.wanted < 0 && c.held != Held::no && c.held != Held::not_believed;
    out.held_back += leaner && c.made - c.wanted > internal::kWorthSaying;
    out.most_richer = std::max(out.most_richer, share);
    out.most_leaner = std::max(out.most_leaner, -share);
  }
  out.cut += c.held == Held::most_change;
  out.kept_rich += c.margin > 0 && c.made - c.wanted > kSame;
  out.lean_targets += n.ln_limit && n.ln_aim > *n.ln_limit + kSame;
  // Rounding of the normal's inverse is no unsafe node.
  out.unsafe += c.lean_chance && *c.lean_chance > out.options.lean_chance * (1 + 1e-6);
}

Status fits(const car::Grid& grid, const UnitLimits& unit) {
  if (grid.x.size() <= unit.most_columns && grid.y.size() <= unit.most_rows) return Done{};
  return Error{ErrorCode::out_of_range, "table size",
               fmt::format("came {} speeds x {} loads, expected at most {} x {}, which is what the "
                           "unit holds",
                           grid.x.size(), grid.y.size(), unit.most_columns, unit.most_rows)};
}

}  // namespace

Status validate(const ProposalOptions& o, car::TableWhat what) {
  FW_CHECK(validate(o.safe));
  FW_CHECK(within("chance of being leaner than the safe limit", o.lean_chance, 0.0005, 0.05));
  FW_CHECK(within("proof of a leaner move", o.lean_proof, 0.80, 0.999));
  FW_CHECK(within("share to be learned before a node moves whole", o.enough_learned, 0.10, 1));
  FW_CHECK(within("most change of a node in one revision", o.most_change, 0.02, 0.50));
  FW_CHECK(within("ambient pressure in Pa", o.ambient.from_zero.si, 40e3, 115e3));
  FW_CHECK(within("step of the unit's table", o.unit.step, 1e-6, 0.05));
  const car::Limits limits = car::limits_of(what);
  const double low = o.unit.lowest.value_or(limits.lowest);
  const double high = o.unit.highest.value_or(limits.highest);
  FW_CHECK(within("lowest value of a cell", low, limits.lowest, limits.highest));
  return within("highest value of a cell", high, low + o.unit.step, limits.highest);
}

Result<ProposedTable> propose(const MapEstimate& estimate, const car::Surface* in_force,
                              const car::Surface& aim, const ProposalOptions& options) {
  const car::TableWhat what = estimate.evidence.what;
  EXPECTS(what == car::TableWhat::ve || what == car::TableWhat::correction);
  FW_CHECK(validate(options, what));
  const car::Grid& grid = in_force ? in_force->grid : estimate.evidence.grid;
  FW_CHECK(fits(grid, options.unit));
  FW_TRY(const Carried known, Carried::onto(estimate, grid));
  FW_TRY(const car::Surface aims, read_off(aim, grid, "lambda_target"));
  ProposedTable out{.what = what, .surface = car::Surface::flat(grid, 0), .options = options};
  out.first = in_force == nullptr;
  out.nodes.resize(grid.size());
  const Proposer proposer(options, what);
  for (std::size_t i = 0; i < grid.size(); ++i) {
    const double load = load_share(grid.y.kind(), grid.y[i / grid.x.size()], options.ambient);
    const double t = aims.values[i];
    FW_CHECK(within("lambda_target", t, 0.5, 2));
    Node n{known.ln_value(i), known.sd(i), known.learned(i), known.mark(i),
           known.inside(i),   std::log(t), std::nullopt};
    if (!options.may_extrapolate && n.mark == car::NodeMark::prior_only) n.believed = false;
    if (const auto limit = options.safe.at(load)) n.ln_limit = std::log(limit->value);
    std::optional<double> now;
    if (in_force) now = in_force->values[i];
    EXPECTS(!now || *now > 0);
    out.surface.values[i] = proposer.value(n, now, out.nodes[i]);
    count(out.nodes[i], n, out);
  }
  return out;
}

}  // namespace fuelwright::advice
