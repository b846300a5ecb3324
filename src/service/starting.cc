// The first start of the car of a job.
#include <fmt/format.h>

#include <algorithm>

#include "car/build/derived.h"
#include "service/checking.h"
#include "service/ensembles.h"
#include "service/service.h"
#include "service/weather.h"

namespace fuelwright::service {
namespace {

Result<advice::StartAnswers> answers_of(const FirstStartRequest& request) {
  advice::StartAnswers out;
  for (const StartAnswer& one : request.answers) {
    FW_CHECK(advice::answer_question(out, one.id, one.text));
  }
  return out;
}

Status inside(const char* what, const std::optional<double>& value, double low, double high,
              const char* expected) {
  if (!value || (*value >= low && *value <= high)) return Done{};
  return Error{ErrorCode::out_of_range, what, expected};
}

// An altitude without a pressure: the standard atmosphere there; weather moves it by 1 kPa (one
// standard deviation, as sensor_checks has it).
advice::PlacePressure place_of(const advice::WeatherReport& w, const car::Sheet& sheet,
                               UnitSystem units) {
  if (!w.altitude || w.station || w.sea_level) {
    return advice::place_pressure(w, sheet, nullptr, units);
  }
  const std::string height = units == UnitSystem::us
                                 ? fmt::format("{:.0f} ft", w.altitude->si / foot.factor)
                                 : fmt::format("{:.0f} m", w.altitude->si);
  return {car::standard_pressure(*w.altitude), 1.0 * kPa, "the standard atmosphere at " + height};
}

Error open_questions(const StartQuestionsReply& asked) {
  std::string list;
  for (const advice::StartQuestion& q : asked.questions) {
    if (!q.answer.empty()) continue;
    std::string may;
    for (const auto& o : q.options) may += (may.empty() ? "" : "|") + o.give;
    list += fmt::format("{}{} ({}) {}", list.empty() ? "" : "; ", q.id, may, q.text);
  }
  return {ErrorCode::needs_answer, "first start",
          fmt::format("{} question{} without answer: {}", asked.open, asked.open == 1 ? "" : "s",
                      list)};
}

StartQuestionsReply asked_of(const car::Sheet& sheet, const advice::StartAnswers& answers) {
  StartQuestionsReply out;
  out.questions = advice::questions_of(sheet, answers);
  out.open = static_cast<int>(std::ranges::count_if(
      out.questions, [](const advice::StartQuestion& q) { return q.answer.empty(); }));
  out.sentence = out.open == 0
                     ? "All that the first-start list hangs on is answered."
                     : fmt::format("{} before the first-start list can be made.",
                                   out.open == 1 ? "One question comes"
                                                 : fmt::format("{} questions come", out.open));
  return out;
}

struct Found {
  std::optional<advice::Running> running;
  std::string why_not;
};

bool may_use_driving(const advice::StartAnswers& answers) {
  return answers.fresh_engine == false && answers.new_cam == false;
}

// What driving has shown of this engine's VE, if anything.
std::optional<car::Evidence> evidence_of(const Job& job, const advice::StartAnswers& answers) {
  if (!may_use_driving(answers)) return std::nullopt;
  auto stored = job.evidence();
  if (!stored || stored->proposal.evidence.what != car::TableWhat::ve ||
      stored->proposal.evidence.grid.y.kind() == car::AxisKind::throttle) {
    return std::nullopt;
  }
  return std::move(stored->proposal.evidence);
}

Result<Found> run_of(const Job& job, const car::Sheet& sheet, const car::Calibration& calibration,
                     const FirstStartRequest& request, const advice::StartAnswers& answers,
                     Temperature air) {
  FW_TRY(std::optional<physics::Drawn> drawn, last_ensemble(job));
  if (!drawn) {
    FW_TRY(const auto before, job.setting("prediction"));
    return Found{std::nullopt, before ? "not computed since the sheet was changed: run predict"
                                      : "not computed yet: run predict"};
  }
  advice::RunningOptions options;
  if (request.lean_limit) options.lean_limit = car::lambda(*request.lean_limit);
  if (request.lean_chance) options.lean_chance = *request.lean_chance;
  options.run_in = advice::cam_runs_in(sheet, answers);
  options.start = air;
  const std::optional<car::Evidence> driven = evidence_of(job, answers);
  options.evidence = driven ? &*driven : nullptr;
  FW_TRY(advice::Running running,
         advice::running_of(sheet, physics::Ensemble(std::move(*drawn)), calibration, options));
  return Found{std::move(running), ""};
}

}  // namespace

Result<StartQuestionsReply> start_questions(const FirstStartRequest& request) {
  FW_TRY(const advice::StartAnswers answers, answers_of(request));
  FW_TRY(const Job job, Job::open(request.job, Access::read));
  FW_TRY(const std::string toml, job.sheet_toml());
  FW_TRY(const car::Sheet sheet, car::read_sheet(toml, request.job + ": sheet"));
  return asked_of(sheet, answers);
}

Result<FirstStartReply> first_start(const FirstStartRequest& request) {
  FW_CHECK(check_weather(request.weather));
  FW_CHECK(inside("lean limit", request.lean_limit, 0.85, 1.10, "expected lambda 0.85 to 1.10"));
  FW_CHECK(inside("lean chance", request.lean_chance, 0.0005, 0.2, "expected 0.0005 to 0.2"));
  FW_TRY(const advice::StartAnswers answers, answers_of(request));
  FW_TRY(const Job job, Job::open(request.job, Access::read));
  FW_TRY(const std::string toml, job.sheet_toml());
  FW_TRY(const car::Sheet sheet, car::read_sheet(toml, request.job + ": sheet"));
  StartQuestionsReply asked = asked_of(sheet, answers);
  if (asked.open > 0) return open_questions(asked);
  FW_TRY(const car::Revision now, job.revision_in_force());
  FirstStartReply reply;
  FW_TRY(reply.units, job.units());
  reply.questions = std::move(asked.questions);
  reply.revision = now.number;
  reply.place = place_of(request.weather, sheet, reply.units);
  reply.air = request.weather.air.value_or(sheet.place.temperature.value);
  reply.air_from = request.weather.air ? "the air that was stated" : "the place of the sheet";
  FW_TRY(Found found, run_of(job, sheet, now.calibration, request, answers, reply.air));
  reply.running = std::move(found.running);
  reply.not_computed = std::move(found.why_not);
  reply.computed = reply.running.has_value();
  reply.engines = reply.running ? reply.running->engines : 0;
  advice::FirstStartInput input{
      .sheet = sheet, .answers = answers, .place = reply.place, .air = reply.air};
  input.air_from = reply.air_from;
  input.air_doubt = request.weather.air ? 1.0 * kelvin_step : sheet.place.temperature.tolerance;
  input.stood = request.weather.stood;
  input.calibration = &now.calibration;
  input.revision = now.number;
  input.running = reply.running ? &*reply.running : nullptr;
  input.not_computed = reply.not_computed;
  FW_TRY(input.rules, guard_rules(job, sheet));
  input.units = reply.units;
  reply.list = advice::first_start(input);
  reply.sentence = reply.list.sentence;
  reply.not_known = reply.list.not_known;
  return reply;
}

}  // namespace fuelwright::service
