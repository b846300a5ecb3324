// From a job's recordings to evidence and a proposal.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "service/climbing.h"
#include "service/ensembles.h"
#include "service/estimate_advice.h"
#include "service/estimate_map.h"
#include "service/estimate_words.h"
#include "service/service.h"

namespace fuelwright::service {
namespace {

// Half-width that half of the driving is better than.
double driven_half_width(const advice::MapEstimate& e) {
  std::vector<std::pair<double, double>> by_width;
  for (std::size_t i = 0; i < e.evidence.sd_log.size(); ++i) {
    by_width.emplace_back(e.evidence.half_width(i), e.usage[static_cast<Eigen::Index>(i)]);
  }
  std::sort(by_width.begin(), by_width.end());
  double sum = 0;
  for (const auto& [width, share] : by_width) {
    sum += share;
    if (sum >= 0.5) return width;
  }
  return by_width.back().first;
}

// The whole-table factor against the table in force: ln(true / in force), weighted by where the car
// was driven.
double shift_against(const advice::MapEstimate& e, const car::Surface& start,
                     const car::Surface* in_force) {
  double shift = e.shift.ln;
  if (!in_force) return shift;
  const car::Grid& g = e.evidence.grid;
  for (std::size_t iy = 0; iy < g.y.size(); ++iy) {
    for (std::size_t ix = 0; ix < g.x.size(); ++ix) {
      const double share = e.usage[static_cast<Eigen::Index>(g.index(ix, iy))];
      shift += share * std::log(start.node(ix, iy) / in_force->at(g.x[ix], g.y[iy]));
    }
  }
  return shift;
}

void fill(EstimateReply& reply, const advice::MapEstimate& e) {
  reply.verdict = e.verdict;
  reply.because = e.because;
  reply.evidence = e.evidence;
  reply.shift_half_width = 1.959964 * e.shift.sd;
  reply.driven_half_width = driven_half_width(e);
  reply.repetition = e.repetition;
  reply.noise_scale = e.noise_scale;
  for (const car::NodeMark m : e.evidence.mark) {
    ++(m == car::NodeMark::measured   ? reply.measured
       : m == car::NodeMark::inferred ? reply.inferred
                                      : reply.prior_only);
  }
}

bool is_unboosted(const car::Axis& load) {
  switch (load.kind()) {
    case car::AxisKind::map_absolute:
      return load[load.size() - 1] < 110e3;
    case car::AxisKind::vacuum:
      return load[0] > -8e3;
    default:
      return true;
  }
}

// A slow sensor is taken into account; it is said all the same.
void look_at_sensor(const advice::DynamicEstimate& e, const advice::DynamicsPrior& prior,
                    const Witnesses& w, EstimateReply& reply) {
  const auto square = [](double x) { return x * x; };
  const auto d =
      advice::doubts::lazy_sensor({e.theta[advice::kLnLag], square(e.theta_sd[advice::kLnLag])},
                                  {prior.mean[advice::kLnLag], square(prior.sd[advice::kLnLag])});
  for (const std::size_t listed : w.listed) reply.recordings[listed].doubts.push_back(d);
}

// As learn_map(), and what it found besides goes into the reply.
LearnedMap learned(const Ground& ground, const Task& task, const Witnesses& w,
                   EstimateReply& reply) {
  LearnedMap out = learn_map(ground, task, w);
  const EstimatedMap& e = out.by;
  if (e.dynamic && e.map.samples > 0) {
    reply.dynamics = dynamics_found(*e.dynamic, w.drives);
    look_at_sensor(*e.dynamic, e.dynamics_prior, w, reply);
  }
  return out;
}

std::string details_json(const EstimateReply& r) {
  nlohmann::json j{{"verdict", advice::name_of(r.verdict)},
                   {"because", r.because},
                   {"shift", r.shift},
                   {"shift_half_width", r.shift_half_width},
                   {"repetition", r.repetition},
                   {"noise_scale", r.noise_scale}};
  if (r.dynamics) j["dynamics"] = r.dynamics->sentence;
  if (r.outlook) j["ladder"] = predicted_steps(*r.outlook);
  return j.dump();
}

// A step begins, unless it was asked to stop.
Status goes_on(const EstimateRequest& request, const char* says) {
  if (request.stop.stop_requested()) {
    return Error{ErrorCode::conflict, request.job, "the estimate was stopped; nothing was written"};
  }
  if (request.says) request.says(says);
  return Done{};
}

}  // namespace

Result<EstimateReply> estimate(const EstimateRequest& request) {
  FW_CHECK(goes_on(request, "reading the recordings"));
  FW_TRY(Job job, Job::open(request.job, Access::write));
  if (request.cause_found) FW_CHECK(cause_is_found(job, request.who));
  FW_TRY(const Ground ground, load_ground(job, request.job));
  EstimateReply reply;
  reply.units = ground.units;
  reply.parent = ground.in_force.number;
  if (ground.recordings.empty()) {
    return Error{ErrorCode::not_found, request.job, "no recording in this job; add one first"};
  }
  FW_CHECK(check(request));
  const Task asked = task_of(ground, request);
  FW_CHECK(goes_on(request, "checking what can be believed"));
  FW_TRY(const Witnesses witnesses, witnesses_of(ground, asked, request, reply.recordings));
  FW_CHECK(goes_on(request, "estimating the table"));
  const LearnedMap found = learned(ground, asked, witnesses, reply);
  const Task& task = found.task;
  const advice::MapEstimate& e = found.by.map;
  const std::optional<physics::FamilyTest>& family = found.family;
  FW_CHECK(goes_on(request, "weighing the changes"));
  fill(reply, e);
  reply.prior = task.prior.description;
  reply.scale = ground.sheet.wishes.scale.value;
  if (!task.said.empty()) reply.warnings.push_back(task.said);
  warn_of_doubts(reply);
  warn_of_disagreement(witnesses, task, e, reply);
  if (is_unboosted(task.start.grid.y)) warn_of_impossible_ve(e, reply);
  if (family) {
    reply.family = family->says();
    if (!family->may_extrapolate()) reply.warnings.push_back(reply.family);
  }

  const car::Surface* in_force = ground.in_force.calibration.find(task.what);
  if (in_force) reply.in_force = *in_force;
  const car::Surface one = car::Surface::flat(task.start.grid, 1.0);
  if (task.what == car::TableWhat::correction && !in_force) reply.in_force = one;
  reply.shift =
      std::expm1(shift_against(e, task.start, reply.in_force ? &*reply.in_force : nullptr));
  reply.sentence = sentence_of(reply);
  reply.not_known = not_known_of(reply);
  if (reply.verdict == advice::Verdict::do_not_know) return reply;  // nothing to propose

  FW_CHECK(advise(ground, task, witnesses, e, family, request, reply));
  ProposalIn in{{reply.parent, ground.in_force.calibration, e.evidence, reply.reason},
                details_json(reply),
                {}};
  in.proposal.calibration.tables.insert_or_assign(task.what, *reply.proposed);
  in.proposal.calibration.origins.insert_or_assign(
      task.what, car::origin_of(e.evidence, reply.proposed->grid, reply.reason));
  for (const UsedRecording& u : reply.recordings) {
    if (u.left_out.empty()) in.recordings.push_back({u.id});
  }
  FW_CHECK(goes_on(request, "writing the proposal"));
  FW_TRY(reply.proposal, job.save_proposal(in, {request.who.name, request.who.when, ""}));
  return reply;
}

}  // namespace fuelwright::service
