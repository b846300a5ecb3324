// The chart, a section of it and tracks, as JSON.
#include <cmath>

#include "service/api/json.h"
#include "service/api/pieces.h"

namespace fuelwright::service {
namespace {

using pieces::Json;
using pieces::maybe;
using pieces::numbers;
using pieces::units_name;

Json or_null(const std::vector<double>& values) {
  return values.empty() ? Json(nullptr) : numbers(values);
}

Json axis(const car::Axis& a, UnitSystem units) {
  Json out = pieces::axis(a);
  out["label"] = car::label_of(a.kind());
  Json points = Json::array();
  for (std::size_t i = 0; i < a.size(); ++i) points.push_back(a.format_point(i, units));
  out["points"] = std::move(points);
  return out;
}

Json values(const std::optional<car::Surface>& s) { return s ? numbers(s->values) : Json(nullptr); }

void put_evidence(Json& out, const ChartReply& r) {
  const auto& e = r.evidence;
  std::vector<double> half;
  Json marks = Json::array();
  for (std::size_t i = 0; e && i < e->mark.size(); ++i) {
    half.push_back(e->half_width(i));
    marks.push_back(car::name_of(e->mark[i]));
  }
  out["estimate"] = e ? numbers(e->estimate) : Json(nullptr);
  out["sd_log"] = e ? numbers(e->sd_log) : Json(nullptr);
  out["half_width_95"] = e ? numbers(half) : Json(nullptr);
  out["seconds"] = e ? numbers(e->seconds) : Json(nullptr);
  out["mark"] = e ? std::move(marks) : Json(nullptr);
}

Json reach(const ChartReply& r) {
  if (r.reach.empty()) return nullptr;
  const auto x = r.grid->x.points();
  return {{"x", std::vector<double>(x.begin(), x.end())}, {"y", r.reach}};
}

}  // namespace

std::string json(const ChartReply& r) {
  const car::ValueUnit unit = car::unit_of(r.table);
  const UnitInfo shown = car::shown_unit(unit, r.units);
  const car::Limits limits = car::limits_of(r.table);
  Json out = {{"sentence", r.sentence},         {"units", units_name(r.units)},
              {"table", car::name_of(r.table)}, {"unit", shown.symbol},
              {"factor", 1 / shown.factor},     {"lowest", limits.lowest},
              {"highest", limits.highest},      {"x", axis(r.grid->x, r.units)},
              {"y", axis(r.grid->y, r.units)},  {"basis", name_of(r.basis)}};
  put_evidence(out, r);
  out["in_force"] = values(r.in_force);
  out["revision"] = r.revision;
  out["proposed"] = values(r.proposed);
  out["proposal"] = maybe(r.proposal);
  out["parent"] = maybe(r.parent);
  out["correction"] = or_null(r.correction);
  out["reach"] = reach(r);
  out["ambient_pa"] = r.ambient.from_zero.si;
  out["name"] = r.name;
  out["change"] = or_null(r.change);
  out["stale"] = r.stale;
  out["says"] = r.says;
  Json rests = Json::array();
  for (const Rests& one : r.rests_on) {
    rests.push_back({{"id", one.id}, {"name", one.name}, {"seconds", numbers(one.seconds)}});
  }
  out["rests_on"] = std::move(rests);
  Json tables = Json::array();
  for (const car::TableWhat w : r.tables) tables.push_back(car::name_of(w));
  out["tables"] = std::move(tables);
  out["head"] = r.head;
  return pieces::done_short(out);
}

std::string json(const SectionReply& r) {
  const UnitInfo shown = car::shown_unit(car::unit_of(r.table), r.units);
  return pieces::done_short({{"table", car::name_of(r.table)},
                             {"units", units_name(r.units)},
                             {"unit", shown.symbol},
                             {"factor", 1 / shown.factor},
                             {"at", r.at},
                             {"x", r.x},
                             {"y", r.y},
                             {"estimate", or_null(r.estimate)},
                             {"low", or_null(r.low)},
                             {"high", or_null(r.high)},
                             {"in_force", or_null(r.in_force)},
                             {"proposed", or_null(r.proposed)},
                             {"seconds", or_null(r.seconds)},
                             {"basis", name_of(r.basis)}});
}

std::string json(const std::vector<Track>& tracks, const car::Grid& grid) {
  Json with = Json::array(), without = Json::array();
  for (const Track& t : tracks) {
    if (t.without.empty()) {
      with.push_back({{"id", t.id},
                      {"name", t.name},
                      {"x", numbers(t.x)},
                      {"y", numbers(t.y)},
                      {"t", numbers(t.t)}});
    } else {
      without.push_back({{"id", t.id}, {"name", t.name}, {"because", t.without}});
    }
  }
  return pieces::done_short({{"x_kind", car::name_of(grid.x.kind())},
                             {"y_kind", car::name_of(grid.y.kind())},
                             {"tracks", with},
                             {"without", without}});
}

}  // namespace fuelwright::service
