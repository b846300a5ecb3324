#include "advice/drive_plan/drive_plan.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "advice/drive_plan/internal/order.h"
#include "advice/dynamic_estimate/dynamic_estimate.h"
#include "advice/proposal/safe_limit.h"

namespace fuelwright::advice {
namespace {

using internal::Candidate;
using internal::Candidates;

constexpr double kLowLoad_pa = 32e3;
constexpr double kWorthwhile = 0.01;  // of what is unknown, that a minute must take away
constexpr std::size_t kMostSteps = 200;

Eigen::VectorXd floor_of(const MapEstimate& e) {
  const Eigen::Index n = e.covariance.rows();
  Eigen::VectorXd out(n);
  for (Eigen::Index i = 0; i < n; ++i) {
    const double sd = e.evidence.sd_log[static_cast<std::size_t>(i)];
    out[i] = std::sqrt(std::max(0.0, sd * sd - std::max(0.0, e.covariance(i, i))));
  }
  return out;
}

// Readings as those of the estimate were: how far they scatter and repeat.
Readings readings_of(const MapEstimate& e, double level_sd) {
  Readings r{.level_sd = level_sd};
  r.shared_sd = DynamicOptions{}.drift_sd;
  r.sd = std::sqrt(DynamicOptions{}.h0);
  if (e.samples <= 0 || !(e.seconds > 0)) return r;
  r.sd *= std::clamp(e.noise_scale, 0.7, 4.0);
  r.repetition = std::clamp(e.repetition, 1.0, 100.0);
  r.rows_per_second = std::clamp(static_cast<double>(e.samples) / e.seconds, 0.1, 1000.0);
  return r;
}

// Of places with errors of these standard deviations.
Expectation expected(const Use& use, const Knowing& known, double good, Duration after) {
  Expectation out{.after = after};
  double squares = 0;
  for (const Use::Place& p : use.places) {
    const double sd = known.sd(p.shares);
    squares += p.weight * sd * sd;
    out.within += p.weight * std::erf(good / (sd * std::numbers::sqrt2));
  }
  out.sd = std::sqrt(squares);
  return out;
}

// The same hold, shorter or longer: one step and no other place.
bool differs_in_time_only(const Candidate& a, const Candidate& b) {
  car::PlanStep one = a.planned.step;
  one.time = b.planned.step.time;
  return one == b.planned.step;
}

class Planner {
 public:
  Planner(const PlanInput& in, Use use, const PlanOptions& o)
      : in_(in),
        o_(o),
        use_(std::move(use)),
        weights_(use_.weights(in.estimate.evidence.grid.size())),
        candidates_(internal::candidates_of(in, o)),
        known_(start()) {}

  DrivePlan plan() {
    DrivePlan out{.options = o_, .use = use_.says, .left_out = candidates_.left_out};
    const Expectation now = expected(use_, known_, o_.good, Duration{});
    out.course.push_back(now);
    out.best = expected(use_, without_end(), o_.good, Duration{});
    pick(out);
    if (picked_.empty()) {
      out.verdict = candidates_.all.empty() ? PlanVerdict::cannot : PlanVerdict::enough;
      return out;
    }
    out.verdict = PlanVerdict::drive;
    drive(out);
    return out;
  }

 private:
  Knowing start() const {
    return {in_.estimate.covariance, floor_of(in_.estimate),
            readings_of(in_.estimate, o_.shared_sd)};
  }

  // What would be left if every place were driven without end.
  Knowing without_end() const {
    const Eigen::VectorXd kept =
        in_.estimate.covariance.diagonal().cwiseMax(0.0).cwiseMin(o_.shared_sd * o_.shared_sd);
    return {kept.asDiagonal(), floor_of(in_.estimate), Readings{.level_sd = o_.shared_sd}};
  }

  // Each once: what a repeat soon after reads shares the drift of the first. A step of the ladder
  // after the one below.
  bool open(const Candidate& c) const {
    const auto alike = [&c](const Candidate* p) { return differs_in_time_only(*p, c); };
    if (std::ranges::any_of(picked_, alike)) return false;
    if (c.after < 0) return true;
    const Candidate* before = &candidates_.all[static_cast<std::size_t>(c.after)];
    return std::ranges::find(picked_, before) != picked_.end();
  }

  // To change over, from whichever step leaves it nearest.
  double seconds_of(const Candidate& c) const {
    double over = internal::change_over(nullptr, c.planned, o_.dyno).si;
    for (const Candidate* p : picked_) {
      over = std::min(over, internal::change_over(&p->planned, c.planned, o_.dyno).si);
    }
    return c.planned.time.si + over;
  }

  struct Best {
    const Candidate* candidate = nullptr;
    double rate = 0;  // fall of variance a second
  };
  Best best(Knowing& known) const {
    known.look(weights_);
    Best out;
    for (const Candidate& c : candidates_.all) {
      if (!open(c)) continue;
      const double rate = known.gain(c.visits) / seconds_of(c);  // (drive_plan.7)
      if (rate > out.rate) out = {&c, rate};
    }
    return out;
  }

  bool worth(const Best& b, const Knowing& known) const {
    if (!b.candidate) return false;
    const double sd = expected(use_, known, o_.good, {}).sd;
    return b.rate * 60 > kWorthwhile * sd * sd;
  }

  void pick(DrivePlan& out) {
    Knowing known = known_;
    while (picked_.size() < kMostSteps) {
      const Best b = best(known);
      if (!worth(b, known)) {
        out.brings_little = true;
        return;
      }
      picked_.push_back(b.candidate);
      const auto steps = internal::timed(internal::in_order(picked_, o_.dyno), o_.dyno);
      if (internal::time_of(steps) > o_.most) {
        picked_.pop_back();
        return;
      }
      known.take(b.candidate->visits);
    }
  }

  void drive(DrivePlan& out) {
    const auto ordered = internal::in_order(picked_, o_.dyno);
    out.steps = internal::timed(ordered, o_.dyno);
    Knowing known = known_;
    Duration after{};
    for (std::size_t i = 0; i < ordered.size(); ++i) {
      known.take(ordered[i]->visits);
      after = after + out.steps[i].change_over + out.steps[i].time;
      out.course.push_back(expected(use_, known, o_.good, after));
    }
  }

  const PlanInput& in_;
  const PlanOptions& o_;
  Use use_;
  Eigen::MatrixXd weights_;
  Candidates candidates_;
  Knowing known_;
  std::vector<const Candidate*> picked_;
};

bool guessed(car::Source source) { return source == car::Source::typical; }

std::vector<std::string> assumptions(const PlanInput& in, const PlanOptions& o) {
  std::vector<std::string> out;
  const car::Car& c = in.sheet.car;
  if (!o.dyno) {
    std::vector<std::string> missing;
    if (guessed(c.gears.source)) missing.emplace_back("gears");
    if (guessed(c.axle.source)) missing.emplace_back("axle");
    if (guessed(c.tyre_radius.source)) missing.emplace_back("tyre_radius");
    if (!missing.empty()) {
      out.push_back(fmt::format(
          "the sheet does not say {}: usual ones were taken, so road speeds may be off; go by "
          "engine speed, and stay within the speed limit whatever the plan says",
          fmt::join(missing, ", ")));
    }
    if (guessed(c.mass.source)) {
      out.emplace_back(
          "the sheet does not say mass: manifold pressures of holds and times of "
          "pulls are those of a usual car");
    }
  }
  if (!in.ve) out.emplace_back("the unit's VE is not known: a usual engine's was taken for loads");
  if (!(in.estimate.seconds > 0)) {
    out.emplace_back(
        "nothing has been driven yet: what is known is what was believed before "
        "driving, and readings scatter as they usually do");
  }
  return out;
}

}  // namespace

const char* name_of(Feel feel) {
  switch (feel) {
    case Feel::idle:
      return "idle";
    case Feel::light:
      return "light";
    case Feel::moderate:
      return "moderate";
    case Feel::high:
      return "high";
    case Feel::overrun:
      return "overrun";
    case Feel::full:
      return "full throttle";
  }
  broken_contract("a feel of the list", __FILE__, __LINE__);
}

const char* name_of(PlanVerdict verdict) {
  switch (verdict) {
    case PlanVerdict::drive:
      return "drive";
    case PlanVerdict::enough:
      return "enough";
    case PlanVerdict::cannot:
      return "cannot";
  }
  broken_contract("a verdict of the list", __FILE__, __LINE__);
}

Status validate(const PlanOptions& o) {
  FW_CHECK(within("minutes", o.most.in(minute), 0.5, 60));
  FW_CHECK(within("top speed in m/s", o.top_speed.si, 5, 70));
  FW_CHECK(within("grade", o.grade, -0.06, 0.06));
  FW_CHECK(within("good", o.good, 0.005, 0.10));
  return within("shared error of the readings", o.shared_sd, 0, 0.2);
}

car::Plan DrivePlan::plan() const {
  car::Plan out;
  for (const PlannedStep& s : steps) out.steps.push_back(s.step);
  return out;
}

Result<DrivePlan> plan_drive(const PlanInput& in, const PlanOptions& o) {
  FW_CHECK(validate(o));
  const car::Grid& grid = in.estimate.evidence.grid;
  const auto n = static_cast<Eigen::Index>(grid.size());
  EXPECTS(in.estimate.covariance.rows() == n && in.estimate.covariance.cols() == n);
  EXPECTS(in.estimate.evidence.sd_log.size() == grid.size());
  if (grid.y.kind() == car::AxisKind::throttle) {
    return Error{ErrorCode::bad_input, "plan",
                 "the table stands over throttle; expected manifold pressure or vacuum: which "
                 "throttle belongs to which road load is not known"};
  }
  const OnRoad road(in.sheet, in.ve, in.seen);
  Use use = in.use.known() ? in.use : Use::assumed(road, grid, o.top_speed);
  DrivePlan out = Planner(in, std::move(use), o).plan();
  out.assumed = assumptions(in, o);
  return out;
}

MapEstimate not_driven(const car::Surface& start, car::TableWhat what, const Prior& prior,
                       const car::Sheet& sheet) {
  const car::Grid& grid = start.grid;
  const std::size_t n = grid.size();
  const DynamicOptions usual;
  const DynamicsPrior dynamics = DynamicsPrior::of(sheet);
  MapEstimate e{.because = "nothing has been driven yet",
                .evidence = {what,
                             grid,
                             start.values,
                             {},
                             std::vector<double>(n, 0.0),
                             std::vector<car::NodeMark>(n, car::NodeMark::prior_only)}};
  e.covariance = covariance(prior, grid);
  e.mean = mean(prior, grid);
  e.prior_sd = e.covariance.diagonal().cwiseSqrt();
  e.usage = Eigen::VectorXd::Zero(static_cast<Eigen::Index>(n));
  for (std::size_t i = 0; i < n; ++i) {
    e.evidence.estimate[i] *= std::exp(e.mean[static_cast<Eigen::Index>(i)]);
    const double load_pa = 100e3 * load_coordinate(grid.y.kind(), grid.y[i / grid.x.size()]);
    const bool pressure = grid.y.kind() != car::AxisKind::throttle;
    const double lean =
        pressure ? dynamics.dilution.at(grid.x[i % grid.x.size()], load_pa).mean : 0;
    const double dilution =
        std::min(usual.discrepancy_dilution * lean, usual.most_discrepancy_dilution);
    const double plain =
        pressure && load_pa < kLowLoad_pa ? usual.discrepancy_low_load : usual.discrepancy;
    const double variance =
        e.covariance(static_cast<Eigen::Index>(i), static_cast<Eigen::Index>(i));
    e.evidence.sd_log.push_back(std::sqrt(variance + plain * plain + dilution * dilution +
                                          dynamics.film_discrepancy * dynamics.film_discrepancy));
  }
  return e;
}

}  // namespace fuelwright::advice
