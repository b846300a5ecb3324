// From what a job knows to the next drive.
#include <fmt/format.h>

#include <algorithm>

#include "advice/proposal/targets.h"
#include "car/build/derived.h"
#include "service/checking.h"
#include "service/estimate_map.h"
#include "service/service.h"
#include "service/supply_seen.h"
#include "sim/virtual_car/cycle.h"

namespace fuelwright::service {
namespace {

using signals::Quantity;

constexpr double kFewestMinutes = 3;  // of recordings that show what a car is used for
constexpr double kWarmUse_k = 333.15;
constexpr Speed kUsualMetric{90 / 3.6}, kUsualUs{55 * 0.44704};
// Of a dyno's rollers: what every road tyre is made for (common practice, no source).
constexpr Speed kRollersMetric{160 / 3.6}, kRollersUs{100 * 0.44704};

Speed usual_top_speed(bool dyno, UnitSystem units) {
  const bool us = units == UnitSystem::us;
  return dyno ? (us ? kRollersUs : kRollersMetric) : (us ? kUsualUs : kUsualMetric);
}

struct Learned {
  advice::MapEstimate estimate;
  double shared_sd = 0;  // level that the readings have in common
  int recordings = 0;
  std::optional<physics::FamilyTest> family = {};
};

Result<Learned> learned_of(const Ground& ground, const Task& task, const EstimateRequest& request) {
  if (ground.recordings.empty()) {
    return Learned{advice::not_driven(task.start, task.what, task.prior, ground.sheet)};
  }
  std::vector<UsedRecording> list;
  FW_TRY(const Witnesses witnesses, witnesses_of(ground, task, request, list));
  LearnedMap found = learn_map(ground, task, witnesses);
  if (found.by.map.samples > 0) {
    return Learned{std::move(found.by.map), shared_sd(witnesses),
                   static_cast<int>(witnesses.drives.size() + witnesses.speakers.size()),
                   std::move(found.family)};
  }
  return Learned{advice::not_driven(task.start, task.what, task.prior, ground.sheet)};
}

/// The table that will be in the unit: the one in force, else what is believed.
car::Surface in_unit(const Ground& ground, const Task& task, const advice::MapEstimate& e) {
  if (const car::Surface* t = ground.in_force.calibration.find(task.what)) return *t;
  if (task.what == car::TableWhat::correction) return car::Surface::flat(task.start.grid, 1.0);
  return {e.evidence.grid, e.evidence.estimate};
}

Result<std::optional<advice::Outlook>> outlook_of(const Ground& ground, const Learned& known,
                                                  const car::Surface& table) {
  if (!(known.estimate.seconds > 0)) return std::optional<advice::Outlook>{};
  FW_TRY(const car::Surface aim,
         advice::target_mixture(ground.in_force.calibration, ground.sheet, table.grid));
  advice::OutlookOptions options;
  FW_TRY(options.supply, supply_seen(ground, table, aim));
  FW_TRY(advice::Outlook out,
         advice::look_ahead(
             {known.estimate, ground.sheet, table, aim, known.family, ground.climbed}, options));
  return std::optional{std::move(out)};
}

/// Once a second, warm: where the car was.
void points_of(const signals::Recording& r, AbsolutePressure ambient,
               std::vector<car::OperatingPoint>& out) {
  const auto* n = r.find(Quantity::rpm);
  const auto* p = r.find(Quantity::map);
  const auto* warm = r.find(Quantity::coolant);
  if (!n || !p) return;
  const double step = r.row_step ? r.row_step->si : 1.0;
  const auto every = static_cast<std::size_t>(std::max(1.0, 1 / step));
  for (std::size_t i = 0; i < r.rows; i += every) {
    if (warm && !(warm->si[i] > kWarmUse_k)) continue;
    if (!(n->si[i] > 0) || !(p->si[i] > 0)) continue;
    out.push_back({.speed = rpm(n->si[i]), .map = absolute(p->si[i] * pascal), .ambient = ambient});
  }
}

Result<advice::Use> use_by_recordings(const Ground& ground, const PlanRequest& request,
                                      const car::Grid& grid) {
  std::vector<car::OperatingPoint> points;
  for (const std::int64_t id : request.use) {
    const auto at =
        std::ranges::find(ground.recordings, id, [](const Loaded& l) { return l.row.id.value; });
    if (at == ground.recordings.end()) {
      return Error{ErrorCode::not_found, request.job,
                   fmt::format("has no recording {}; show recordings lists them", id)};
    }
    points_of(at->recording, ground.sheet.place.pressure.value, points);
  }
  return advice::Use::of_points(grid, points,
                                fmt::format("recording {}", fmt::join(request.use, ", ")));
}

Result<advice::Use> use_of(const Ground& ground, const PlanRequest& request,
                           const advice::MapEstimate& e, const advice::OnRoad& road) {
  const car::Grid& grid = e.evidence.grid;
  if (grid.y.kind() == car::AxisKind::throttle) return advice::Use{};  // refused later, in words
  if (!request.use.empty()) return use_by_recordings(ground, request, grid);
  if (!request.cycle_csv.empty()) {
    FW_TRY(const auto cycle, sim::virtual_car::read_cycle(request.cycle_csv, request.cycle_name));
    std::vector<double> speeds;
    for (double t = 0; t <= cycle.length().si; t += 1) {
      speeds.push_back(std::max(0.0, cycle.speed_at(t * second).si));
    }
    return advice::Use::of_speeds(road, grid, speeds, "the cycle " + request.cycle_name);
  }
  if (e.seconds < 60 * kFewestMinutes) return advice::Use{};
  return advice::Use::of_estimate(e);
}

/// Whether the newest recording shows a sensor that must be put right first: an older one may have
/// been.
bool stop_stands(const Ground& ground) {
  if (ground.recordings.empty()) return false;
  const auto findings = check_recording(ground, ground.recordings.back()).findings;
  return std::ranges::any_of(findings,
                             [](const auto& f) { return f.grade == advice::Grade::stop; });
}

advice::PlanOptions options_of(const PlanRequest& request, const Learned& known, UnitSystem units) {
  advice::PlanOptions o;
  if (request.minutes) o.most = *request.minutes * minute;
  if (request.good) o.good = *request.good;
  o.top_speed = request.top_speed.value_or(usual_top_speed(request.dyno, units));
  o.grade = request.grade;
  o.dyno = request.dyno;
  o.shared_sd = known.shared_sd;
  return o;
}

void put_in_words(const PlanRequest& request, const advice::Reader& reader, PlanReply& reply) {
  reply.sentence = advice::sentence(reply.plan);
  for (const auto& s : reply.plan.steps) {
    reply.steps.push_back(advice::says(s, reader, request.dyno));
  }
  reply.cautions = advice::cautions(reply.plan, reader);
  reply.assumed = reply.plan.assumed;
  reply.left_out = reply.plan.left_out;
  if (request.top_speed) return;
  const bool us = reader.units == UnitSystem::us;
  const Speed taken = usual_top_speed(request.dyno, reader.units);
  reply.assumed.insert(
      reply.assumed.begin(),
      fmt::format("no {} was stated: {:.0f} {} was taken; --top-speed says another",
                  request.dyno ? "top speed of the wheels" : "speed limit",
                  us ? taken.in(mile_per_h) : taken.in(km_per_h), us ? "mph" : "km/h"));
}

}  // namespace

Result<PlanReply> plan(const PlanRequest& request) {
  FW_TRY(Job job, Job::open(request.job, Access::read));
  FW_TRY(const Ground ground, load_ground(job, request.job));
  const EstimateRequest as_estimate{
      .job = request.job, .way = request.way, .open_loop = request.open_loop, .who = {}};
  const Task task = task_of(ground, as_estimate);
  FW_TRY(const Learned known, learned_of(ground, task, as_estimate));
  const car::Surface table = in_unit(ground, task, known.estimate);
  FW_TRY(const auto outlook, outlook_of(ground, known, table));

  const bool ve = task.what == car::TableWhat::ve && table.grid.y.kind() != car::AxisKind::throttle;
  std::vector<const signals::Recording*> seen;
  for (const Loaded& l : ground.recordings) seen.push_back(&l.recording);
  advice::PlanInput in{.estimate = known.estimate,
                       .sheet = ground.sheet,
                       .ve = ve ? &table : nullptr,
                       .outlook = outlook ? &*outlook : nullptr,
                       .seen = advice::seen_in(seen, ground.sheet, ve ? &table : nullptr),
                       .stop_finding = request.stop_finding || stop_stands(ground)};
  const advice::OnRoad road(ground.sheet, in.ve, in.seen);
  FW_TRY(in.use, use_of(ground, request, known.estimate, road));
  PlanReply reply;
  reply.units = ground.units;
  reply.recordings = known.recordings;
  FW_TRY(reply.plan, advice::plan_drive(in, options_of(request, known, ground.units)));
  put_in_words(request, {ground.units, ground.sheet.wishes.scale.value}, reply);
  return reply;
}

}  // namespace fuelwright::service
