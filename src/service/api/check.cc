// Sensor checks and guard firings as JSON.
#include <cmath>

#include "service/api/json.h"
#include "service/api/pieces.h"

namespace fuelwright::service {
namespace {

using pieces::done;
using pieces::Json;
using pieces::maybe;
using pieces::number;

Json finding(const advice::Finding& f) {
  return {{"check", advice::words_of(f.check).name},
          {"sensor", signals::info(f.sensor).name},
          {"bank", f.bank},
          {"grade", advice::name_of(f.grade)},
          {"seen", f.seen},
          {"from_s", f.from.si},
          {"seconds", f.seconds.si},
          {"count", f.count},
          {"size", number(f.evidence.size)},
          {"size_sd", number(f.evidence.sd)},
          {"ln_ratio", number(f.evidence.ln_ratio)},
          {"chance", number(f.evidence.chance)},
          {"false_alarm", number(f.evidence.false_alarm)},
          {"why", f.why},
          {"what_to_do", f.what_to_do}};
}

Json firing(const advice::Firing& f) {
  return {{"rule", advice::words_of(f.rule).name},
          {"signal", advice::label_of(f.signal)},
          {"began_s", f.began.si},
          {"fired_s", f.fired.si},
          {"lasted_s", f.lasted().si},
          {"value_si", number(f.value)},
          {"limit_si", number(f.limit)},
          {"rpm", number(f.speed.rpm)},
          {"map_pa", number(f.map.from_zero.si)},
          {"instruction", f.instruction()}};
}

Json recording(const CheckedRecording& r) {
  Json findings = Json::array(), missing = Json::array(), masked = Json::array(),
       firings = Json::array();
  for (const advice::Finding& f : r.findings) findings.push_back(finding(f));
  for (const advice::NotChecked& n : r.not_checked) {
    missing.push_back({{"check", advice::words_of(n.check).name}, {"because", n.because}});
  }
  for (const advice::MaskedShare& m : r.masked) {
    masked.push_back(
        {{"sensor", m.sensor == signals::Quantity::time ? "row" : signals::info(m.sensor).name},
         {"bank", m.bank},
         {"why", m.why},
         {"rows", m.rows},
         {"seconds", r.timed ? Json(m.seconds.si) : Json(nullptr)}});
  }
  for (const advice::Firing& f : r.guard.firings) firings.push_back(firing(f));
  return {{"id", r.id == 0 ? Json(nullptr) : Json(r.id)},
          {"name", r.name},
          {"key_on", r.key_on},
          {"timed", r.timed},
          {"seconds", r.timed ? Json(r.seconds) : Json(nullptr)},
          {"refused", maybe(r.refused)},
          {"findings", findings},
          {"not_checked", missing},
          {"masked", masked},
          {"guard",
           {{"firings", firings},
            {"watched", r.guard.watched},
            {"not_watched", r.guard.not_watched},
            {"seconds", r.guard.seconds}}}};
}

}  // namespace

std::string json(const CheckReply& r) {
  Json recordings = Json::array();
  for (const CheckedRecording& one : r.recordings) recordings.push_back(recording(one));
  return done({{"sentence", r.sentence},
               {"units", r.units == UnitSystem::us ? "us" : "metric"},
               {"stops", r.stops},
               {"doubts", r.doubts},
               {"fine", r.fine},
               {"recordings", recordings},
               {"guard_rules", Json::parse(advice::write_rules_json(r.rules))},
               {"own_guard_rules", r.own_rules}});
}

}  // namespace fuelwright::service
