#include "service/estimate_advice.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "advice/guard/guarded_nodes.h"
#include "advice/proposal/targets.h"
#include "service/checking.h"
#include "service/climbing.h"
#include "service/estimate_map.h"
#include "service/supply_seen.h"

namespace fuelwright::service {
namespace {

using advice::Way;

Result<advice::ProposalOptions> proposal_options(const Ground& g, const EstimateRequest& request,
                                                 bool believed, car::TableWhat what) {
  advice::ProposalOptions o;
  o.ambient = g.sheet.place.pressure.value;
  o.may_extrapolate = believed;
  if (request.lean_limit) {
    o.safe.leanest = car::lambda(*request.lean_limit);
    o.safe.leanest_boosted =
        car::lambda(std::min(o.safe.leanest_boosted.value, *request.lean_limit));
  }
  if (request.lean_chance) o.lean_chance = *request.lean_chance;
  FW_CHECK(advice::validate(o, what));
  return o;
}

// No revision leans a region in which the guard fired. What was put back and why, in words.
std::string keep_guarded(const Ground& g, const car::Surface* in_force, advice::ProposedTable& p) {
  if (!in_force) return "";  // nothing yet to be leaner than
  const car::Grid& grid = p.surface.grid;
  const Guarded guarded = guarded_nodes(g, grid);
  car::Surface now = car::Surface::flat(grid, 1.0);
  for (std::size_t iy = 0; iy < grid.y.size(); ++iy) {
    for (std::size_t ix = 0; ix < grid.x.size(); ++ix) {
      now.node(ix, iy) = in_force->at(grid.x[ix], grid.y[iy]);
    }
  }
  const car::Surface wanted = p.surface;
  const int kept = advice::keep_from_leaning(p.surface, now, guarded.nodes);
  for (std::size_t i = 0; i < p.nodes.size(); ++i) {
    if (p.surface.values[i] == wanted.values[i]) continue;
    const double was = p.nodes[i].made;
    p.leaner -= std::expm1(was) < -0.01;
    p.nodes[i].made = 0;
    p.nodes[i].why = advice::Why::unchanged;
    p.nodes[i].held = advice::Held::guarded;
  }
  p.most_leaner = 0;
  for (const advice::NodeChange& n : p.nodes) {
    p.most_leaner = std::max(p.most_leaner, -std::expm1(n.made));
  }
  if (kept == 0) return "";
  return fmt::format(
      "{} nodes are not made leaner, because the guard fired there ({}); a drive with a later "
      "revision that passes there without it releases them. See fuelwright check.",
      kept, fmt::join(guarded.because, "; "));
}

}  // namespace

Status check(const EstimateRequest& request) {
  // The bounds of advice/proposal, said by the option's own name.
  if (request.lean_limit) FW_CHECK(advice::within("--lean-limit", *request.lean_limit, 0.80, 1.00));
  if (request.lean_chance) {
    FW_CHECK(advice::within("--lean-chance", *request.lean_chance, 0.0005, 0.05));
  }
  return Done{};
}

Status advise(const Ground& g, const Task& task, const Witnesses& w, const advice::MapEstimate& e,
              const std::optional<physics::FamilyTest>& family, const EstimateRequest& request,
              EstimateReply& reply) {
  const bool believed = !family || family->may_extrapolate();
  FW_TRY(const advice::ProposalOptions careful, proposal_options(g, request, believed, task.what));
  // The proposed table keeps the axes of the one in force, which may be others than the start's.
  const car::Grid& grid = reply.in_force ? reply.in_force->grid : e.evidence.grid;
  FW_TRY(const car::Surface aim, advice::target_mixture(g.in_force.calibration, g.sheet, grid));
  FW_TRY(advice::ProposedTable proposed,
         advice::propose(e, reply.in_force ? &*reply.in_force : nullptr, aim, careful));
  const std::string kept = keep_guarded(g, reply.in_force ? &*reply.in_force : nullptr, proposed);
  const advice::Reader reader{reply.units, reply.scale};
  reply.proposed = proposed.surface;
  reply.reason = advice::reason(proposed);
  reply.change_words = advice::words(proposed, reader);
  if (!kept.empty()) reply.change_words.push_back(kept);

  advice::OutlookOptions ahead;
  ahead.safe = careful.safe;
  ahead.fine_chance = careful.lean_chance;
  ahead.care_chance = std::max(ahead.care_chance, ahead.fine_chance);
  FW_TRY(ahead.supply, supply_seen(g, proposed.surface, aim));
  FW_TRY(advice::Outlook outlook,
         advice::look_ahead({e, g.sheet, proposed.surface, aim, family, g.climbed}, ahead));
  reply.outlook_words = advice::words(outlook, reader);
  for (const advice::RungCheck& c : g.climbed) reply.outlook_words.push_back(says(c, reader));
  reply.outlook = std::move(outlook);
  reply.change = std::move(proposed);

  advice::StoppingOptions stop;
  stop.shared_sd = shared_sd(w);
  reply.stopping = advice::when_to_stop(e, advice::covariance(task.prior, task.start.grid), stop);
  return Done{};
}

}  // namespace fuelwright::service
