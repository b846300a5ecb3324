// The first-start list as JSON.
#include "service/api/json.h"
#include "service/api/pieces.h"

namespace fuelwright::service {
namespace {

using pieces::done;
using pieces::interval;
using pieces::Json;
using pieces::maybe;

Json questions(const std::vector<advice::StartQuestion>& list) {
  Json out = Json::array();
  for (const advice::StartQuestion& q : list) {
    Json options = Json::array();
    for (const auto& o : q.options) options.push_back({{"give", o.give}, {"means", o.means}});
    out.push_back({{"id", q.id},
                   {"text", q.text},
                   {"options", options},
                   {"changes", q.changes},
                   {"answer", q.answer.empty() ? Json(nullptr) : Json(q.answer)}});
  }
  return out;
}

Json expected(const advice::Expected& e) {
  return {{"what", e.what},        {"low", maybe(e.low)}, {"middle", maybe(e.middle)},
          {"high", maybe(e.high)}, {"unit", e.unit},      {"from", advice::name_of(e.from)},
          {"known", e.known},      {"says", e.says}};
}

Json step(const advice::StartStep& s) {
  Json expect = Json::array();
  for (const advice::Expected& e : s.expect) expect.push_back(expected(e));
  return {{"number", s.number},
          {"phase", advice::name_of(s.phase)},
          {"id", s.id},
          {"title", s.title},
          {"do", s.act},
          {"expect", expect},
          {"if_not", s.if_not},
          {"stop", s.stop},
          {"cautions", s.cautions}};
}

Json table(const advice::TableThere& t) {
  return {{"target", t.target.value},
          {"lambda", interval(t.lambda)},
          {"half_width_95", t.half_width},
          {"limit", t.limit.value},
          {"chance_lean", t.chance_lean},
          {"chance_taken", t.chance_taken},
          {"richer", t.richer},
          {"lambda_then", interval(t.lambda_then)}};
}

Json place(const advice::PlaceWithoutLoad& p) {
  return {{"speed_rpm", p.speed.rpm},
          {"runs_share", p.runs},
          {"known", p.known()},
          {"map_pa", maybe(p.map_pa, interval)},
          {"cold_map_pa", maybe(p.cold_map_pa, interval)},
          {"air_kg_s", p.map_pa ? interval(p.air_kg_s) : Json(nullptr)},
          {"residual", p.residual},
          {"table", maybe(p.table, table)}};
}

Json running(const advice::Running& r) {
  Json run_in = Json::array();
  for (const auto& p : r.run_in) run_in.push_back(place(p));
  return {{"engines", r.engines},
          {"by_driving", r.by_driving},
          {"idle", place(r.idle)},
          {"run_in", run_in}};
}

}  // namespace

std::string json(const StartQuestionsReply& r) {
  return done({{"sentence", r.sentence}, {"open", r.open}, {"questions", questions(r.questions)}});
}

std::string json(const FirstStartReply& r) {
  Json steps = Json::array(), phases = Json::array();
  std::optional<advice::StartPhase> phase;
  for (const advice::StartStep& s : r.list.steps) {
    if (phase != s.phase) {
      phases.push_back({{"phase", advice::name_of(s.phase)},
                        {"label", advice::label_of(s.phase)},
                        {"from", s.number}});
    }
    phase = s.phase;
    steps.push_back(step(s));
  }
  return done({{"sentence", r.sentence},
               {"not_known", r.not_known},
               {"units", r.units == UnitSystem::us ? "us" : "metric"},
               {"run_in", r.list.run_in},
               {"computed", r.computed},
               {"not_computed", r.not_computed},
               {"revision", r.revision},
               {"station_pa", r.place.pressure.from_zero.si},
               {"station_sd_pa", r.place.sd.si},
               {"station_from", r.place.from},
               {"air_k", r.air.from_zero.si},
               {"air_from", r.air_from},
               {"questions", questions(r.questions)},
               {"cautions", r.list.cautions},
               {"because", r.list.because},
               {"phases", phases},
               {"steps", steps},
               {"running", maybe(r.running, running)}});
}

}  // namespace fuelwright::service
