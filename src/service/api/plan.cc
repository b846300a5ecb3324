// A plan as JSON.
#include "service/api/json.h"
#include "service/api/pieces.h"

namespace fuelwright::service {
namespace {

using pieces::done;
using pieces::Json;

const char* kind(car::PlanStepKind k) {
  switch (k) {
    case car::PlanStepKind::idle:
      return "idle";
    case car::PlanStepKind::hold:
      return "hold";
    case car::PlanStepKind::sweep:
      return "sweep";
    case car::PlanStepKind::coast:
      return "coast";
  }
  broken_contract("a kind of step", __FILE__, __LINE__);
}

Json step(const advice::PlannedStep& s, const std::string& says) {
  const bool runs =
      s.step.kind == car::PlanStepKind::sweep || s.step.kind == car::PlanStepKind::coast;
  return {{"says", says},
          {"kind", kind(s.step.kind)},
          {"feel", advice::name_of(s.feel)},
          {"gear", s.step.kind == car::PlanStepKind::idle ? Json(nullptr) : Json(s.step.gear)},
          {"from_rpm", s.step.from.rpm},
          {"until_rpm", runs ? Json(s.step.until.rpm) : Json(nullptr)},
          {"pressure_pa", s.pressure.from_zero.si},
          {"begins_m_s", s.begins.si},
          {"ends_m_s", s.ends.si},
          {"seconds", s.time.si},
          {"change_over_s", s.change_over.si},
          {"lift_at_lambda", s.lift_at ? Json(s.lift_at->value) : Json(nullptr)}};
}

Json expectation(const advice::Expectation& e) {
  return {{"after_s", e.after.si}, {"sd", e.sd}, {"within", e.within}};
}

}  // namespace

std::string json(const PlanReply& r) {
  Json steps = Json::array(), course = Json::array();
  for (std::size_t i = 0; i < r.steps.size(); ++i) {
    steps.push_back(step(r.plan.steps[i], r.steps[i]));
  }
  for (const auto& e : r.plan.course) course.push_back(expectation(e));
  return done({{"sentence", r.sentence},
               {"verdict", advice::name_of(r.plan.verdict)},
               {"minutes", r.plan.time().in(minute)},
               {"good", r.plan.options.good},
               {"top_speed_m_s", r.plan.options.top_speed.si},
               {"dyno", r.plan.options.dyno},
               {"steps", steps},
               {"course", course},
               {"best", expectation(r.plan.best)},
               {"brings_little", r.plan.brings_little},
               {"cautions", r.cautions},
               {"assumed", r.assumed},
               {"left_out", r.left_out},
               {"use", r.plan.use},
               {"recordings", r.recordings}});
}

}  // namespace fuelwright::service
