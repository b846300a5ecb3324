#include "service/api/json.h"

#include <nlohmann/json.hpp>

#include "service/job/calibration_json.h"

namespace fuelwright::service {
namespace {

using Json = nlohmann::ordered_json;

std::string done(const Json& j) {
  // Names of channels come from files of any encoding: what is no UTF-8 is replaced, never thrown.
  return j.dump(2, ' ', false, Json::error_handler_t::replace) + "\n";
}

Json lines(const std::vector<car::Line>& sheet) {
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
                   {"tolerance_si", l.tolerance_si}});
  }
  return out;
}

Json axis(const car::Axis& a) {
  return {{"kind", car::name_of(a.kind())},
          {"points_si", std::vector<double>(a.points().begin(), a.points().end())}};
}

Json surface(const car::Surface& s) {
  return {{"x", axis(s.grid.x)}, {"y", axis(s.grid.y)}, {"values", s.values}};
}

Json evidence(const car::Evidence& e) {
  Json marks = Json::array();
  std::vector<double> half;
  for (std::size_t i = 0; i < e.mark.size(); ++i) {
    marks.push_back(car::name_of(e.mark[i]));
    half.push_back(e.half_width(i));
  }
  return {{"table", car::name_of(e.what)},
          {"x", axis(e.grid.x)},
          {"y", axis(e.grid.y)},
          {"estimate", e.estimate},
          {"half_width_95", half},
          {"seconds", e.seconds},
          {"mark", marks}};
}

template <class T, class F>
Json maybe(const std::optional<T>& value, F f) {
  return value ? Json(f(*value)) : Json(nullptr);
}

template <class T>
Json maybe(const std::optional<T>& value) {
  return value ? Json(*value) : Json(nullptr);
}

Json used(const UsedRecording& u) {
  Json aside = Json::array();
  for (const advice::SetAside& a : u.set_aside) {
    aside.push_back({{"reason", a.reason}, {"rows", a.rows}, {"seconds", a.seconds}});
  }
  return {{"id", u.id},
          {"name", u.name},
          {"how", u.how},
          {"left_out", u.left_out},
          {"seconds_used", u.seconds_used},
          {"seconds_total", u.seconds_total},
          {"timed", u.timed},
          {"set_aside", aside},
          {"notes", u.notes}};
}

}  // namespace

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
               {"sheet", lines(r.sheet)}});
}

std::string json(const AddReply& r) {
  Json columns = Json::array();
  for (const signals::Guess& g : r.columns) {
    columns.push_back({{"header", g.header},
                       {"quantity", signals::info(g.what).name},
                       {"unit_found", g.unit_found},
                       {"unit", g.unit},
                       {"bank", g.bank},
                       {"confidence", g.confidence},
                       {"constant", g.constant},
                       {"answered", g.answered},
                       {"reason", g.reason}});
  }
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
               {"columns", columns},
               {"kept_answers", r.kept_answers},
               {"gears", gears},
               {"gears_reason", r.gears.reason},
               {"teaches", r.teaches},
               {"warnings", r.warnings}});
}

std::string json(const EstimateReply& r) {
  Json recordings = Json::array();
  for (const UsedRecording& u : r.recordings) recordings.push_back(used(u));
  return done({{"sentence", r.sentence},
               {"warnings", r.warnings},
               {"not_known", r.not_known},
               {"verdict", advice::name_of(r.verdict)},
               {"because", r.because},
               {"family", r.family},
               {"whole_table_shift", r.shift},
               {"whole_table_shift_half_width_95", r.shift_half_width},
               {"driven_half_width_95", r.driven_half_width},
               {"measured", r.measured},
               {"inferred", r.inferred},
               {"prior_only", r.prior_only},
               {"repetition", r.repetition},
               {"noise_scale", r.noise_scale},
               {"recordings", recordings},
               {"evidence", maybe(r.evidence, evidence)},
               {"in_force", maybe(r.in_force, surface)},
               {"proposed", maybe(r.proposed, surface)},
               {"proposal", maybe(r.proposal)},
               {"parent", r.parent},
               {"reason", r.reason}});
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
               {"sheet", lines(r.sheet)},
               {"recordings", recordings},
               {"revisions", revisions},
               {"journal", journal},
               {"evidence", maybe(r.evidence, evidence)},
               {"in_force", maybe(r.in_force, surface)},
               {"calibration", r.what == ShowWhat::calibration
                                   ? Json(json_of(r.revision_in_force.calibration))
                                   : Json(nullptr)}});
}

}  // namespace fuelwright::service
