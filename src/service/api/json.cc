#include "service/api/json.h"

#include "service/api/pieces.h"
#include "service/job/calibration_json.h"

namespace fuelwright::service {
namespace {

using pieces::done;
using pieces::evidence;
using pieces::Json;
using pieces::maybe;
using pieces::surface;

}  // namespace

Json pieces::lines(const std::vector<car::Line>& sheet) {
  Json out = Json::array();
  for (const car::Line& l : sheet) {
    out.push_back({{"section", l.section},
                   {"key", l.key},
                   {"about", l.about},
                   {"value", l.value},
                   {"tolerance", l.tolerance},
                   {"source", car::name_of(l.source)},
                   {"reason", l.reason},
                   {"si", l.si},
                   {"tolerance_si", l.tolerance_si},
                   {"usual_tolerance_si", maybe(l.usual_tolerance_si)},
                   {"choices", l.choices.empty() ? Json(nullptr) : Json(l.choices)},
                   {"allowed", l.allowed.empty() ? Json(nullptr) : Json(l.allowed)}});
  }
  return out;
}

Json pieces::guesses(const std::vector<signals::Guess>& columns) {
  Json out = Json::array();
  for (const signals::Guess& g : columns) {
    out.push_back({{"header", g.header},
                   {"quantity", signals::info(g.what).name},
                   {"unit_found", g.unit_found},
                   {"unit", g.unit},
                   {"bank", g.bank},
                   {"confidence", g.confidence},
                   {"constant", g.constant},
                   {"answered", g.answered},
                   {"reason", g.reason}});
  }
  return out;
}

std::string json(const Error& e) {
  return done({{"error", {{"code", name_of(e.code)}, {"where", e.where}, {"message", e.message}}}});
}

std::string json(const NewReply& r) {
  return done({{"sentence", r.sentence},
               {"job", r.job},
               {"units", r.units == UnitSystem::us ? "us" : "metric"},
               {"given", r.given},
               {"typical", r.typical},
               {"start", r.start},
               {"sheet", pieces::lines(r.sheet)}});
}

std::string json(const AddReply& r) {
  Json gears = Json::array();
  for (const signals::Gear& g : r.gears.gears) {
    gears.push_back({{"rpm_per_kmh", g.rpm_per_kmh}, {"share", g.share}, {"spread", g.spread}});
  }
  return done({{"sentence", r.sentence},
               {"id", r.id},
               {"name", r.name},
               {"rows", r.rows},
               {"seconds", maybe(r.seconds)},
               {"pace", r.pace},
               {"simultaneity", r.simultaneity},
               {"columns", pieces::guesses(r.columns)},
               {"kept_answers", r.kept_answers},
               {"learned", r.learned},
               {"gears", gears},
               {"gears_reason", r.gears.reason},
               {"teaches", r.teaches},
               {"warnings", r.warnings}});
}

std::string json(const AcceptReply& r) {
  return done({{"sentence", r.sentence}, {"revision", r.revision}});
}

std::string json(const ArchiveReply& r) {
  Json recordings = Json::array();
  for (const ArchivedRecording& a : r.recordings) {
    recordings.push_back({{"id", a.id},
                          {"name", a.name},
                          {"rows", a.rows},
                          {"vehicle", a.vehicle},
                          {"session", a.session},
                          {"date", a.date},
                          {"date_is_of", a.date_driven ? "driving" : "adding"},
                          {"path", a.path},
                          {"bytes", a.bytes}});
  }
  return done({{"sentence", r.sentence}, {"recordings", recordings}});
}

std::string json(const ShowReply& r) {
  Json recordings = Json::array();
  for (const RecordingRow& x : r.recordings) {
    recordings.push_back({{"id", x.id.value},
                          {"name", x.name},
                          {"sha256", x.sha256},
                          {"bytes", x.bytes},
                          {"rows", x.reading.rows},
                          {"added_when", x.added_when},
                          {"added_by", x.added_by},
                          {"mapping", Json::parse(x.reading.mapping_json, nullptr, false)}});
  }
  Json revisions = Json::array();
  for (const RevisionRow& x : r.revisions) {
    revisions.push_back({{"number", x.number},
                         {"parent", maybe(x.parent)},
                         {"reason", x.reason},
                         {"author", x.author},
                         {"when", x.when},
                         {"in_force", x.in_force}});
  }
  Json journal = Json::array();
  for (const JournalRow& x : r.journal) {
    journal.push_back({{"id", x.id},
                       {"when", x.when},
                       {"who", x.who},
                       {"command", x.command},
                       {"why", x.why},
                       {"sources", Json::parse(x.sources_json, nullptr, false)},
                       {"in_force", maybe(x.in_force)}});
  }
  return done({{"sentence", r.sentence},
               {"units", r.units == UnitSystem::us ? "us" : "metric"},
               {"sheet", pieces::lines(r.sheet)},
               {"recordings", recordings},
               {"revisions", revisions},
               {"journal", journal},
               {"evidence", maybe(r.evidence, evidence)},
               {"in_force", maybe(r.in_force, surface)},
               {"calibration", r.what == ShowWhat::calibration
                                   ? Json(json_of(r.revision_in_force.calibration))
                                   : Json(nullptr)},
               {"head", r.journal.empty() ? 0 : r.journal.back().id}});
}

}  // namespace fuelwright::service
