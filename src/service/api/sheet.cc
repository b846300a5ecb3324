// The sheet, a table amended by hand, an open proposal, as JSON.
#include "car/tables/axis_unit.h"
#include "service/api/json.h"
#include "service/api/pieces.h"
#include "service/job/calibration_json.h"

namespace fuelwright::service {
namespace {

using pieces::done;
using pieces::Json;
using pieces::units_name;

Json differences(const std::vector<car::TableDifference>& all) {
  Json out = Json::array();
  for (const car::TableDifference& d : all) out.push_back(pieces::difference(d));
  return out;
}

const char* name_of(WorthOf of) {
  switch (of) {
    case WorthOf::none:
      return "none";
    case WorthOf::earlier:
      return "earlier";
    case WorthOf::this_sheet:
      return "this";
  }
  broken_contract("whose worth it is", __FILE__, __LINE__);
}

Json part(const std::string& name, const char* shape, const car::ValueUnit& unit,
          const car::Limits& limits, const car::Origin* origin, UnitSystem units) {
  const UnitInfo shown = car::shown_unit(unit, units);
  return {{"name", name},
          {"shape", shape},
          {"unit", shown.symbol},
          {"factor", 1 / shown.factor},
          {"offset", -shown.offset / shown.factor},
          {"lowest", limits.lowest},
          {"highest", limits.highest},
          {"reason", origin ? Json(origin->reason) : Json(nullptr)}};
}

Json axis(car::AxisKind kind, UnitSystem units) {
  const UnitInfo shown = car::axis_unit(kind, units);
  return {{"kind", car::name_of(kind)},
          {"label", car::label_of(kind)},
          {"unit", shown.symbol},
          {"factor", 1 / shown.factor},
          {"offset", -shown.offset / shown.factor}};
}

}  // namespace

std::string json(const SheetReply& r) {
  return done({{"sentence", r.sentence},
               {"units", units_name(r.units)},
               {"toml", r.toml},
               {"sheet", pieces::lines(r.lines)},
               {"given", r.given},
               {"typical", r.typical},
               {"worth", pieces::measurements(r.worth)},
               {"worth_of", name_of(r.worth_of)},
               {"worth_says", r.worth_says},
               {"head", r.head}});
}

std::string json(const ChangeSheetReply& r) {
  return done({{"sentence", r.sentence},
               {"units", units_name(r.units)},
               {"changed", pieces::lines(r.changed)},
               {"was", pieces::lines(r.was)},
               {"sheet", pieces::lines(r.lines)},
               {"written", r.written},
               {"head", r.head}});
}

std::string json(const AmendReply& r) {
  constexpr std::size_t kMost = 20;
  Json mind = Json::array();
  for (std::size_t i = 0; i < std::min(kMost, r.mind.size()); ++i) {
    mind.push_back({{"node", {r.mind[i].ix, r.mind[i].iy}}, {"says", r.mind[i].says}});
  }
  return done({{"sentence", r.sentence},
               {"parent", r.parent},
               {"revision", r.revision ? Json(*r.revision) : Json(nullptr)},
               {"tables", differences(r.tables)},
               {"mind", mind},
               {"mind_more", r.mind.size() - mind.size()}});
}

std::string json(const ProposalReply& r) {
  Json recordings = Json::array();
  for (const RecordingId& id : r.stored->recordings) recordings.push_back(id.value);
  return done({{"proposal", r.stored->id},
               {"parent", r.stored->proposal.parent},
               {"reason", r.stored->proposal.reason},
               {"who", r.stored->who},
               {"when", r.stored->when},
               {"recordings", recordings},
               {"may_accept", r.may_accept},
               {"because", r.because},
               {"tables", differences(r.tables)}});
}

std::string json(const RevisionReply& reply) {
  const car::Revision& r = reply.revision;
  const car::Calibration& c = r.calibration;
  Json parts = Json::array();
  for (const auto& [w, t] : c.tables) {
    parts.push_back(part(car::name_of(w), "table", car::unit_of(w), car::limits_of(w), c.origin(w),
                         reply.units));
    parts.back()["x"] = axis(t.grid.x.kind(), reply.units);
    parts.back()["y"] = axis(t.grid.y.kind(), reply.units);
  }
  for (const auto& [w, t] : c.curves) {
    parts.push_back(part(car::name_of(w), "curve", car::unit_of(w), car::limits_of(w), c.origin(w),
                         reply.units));
    parts.back()["x"] = axis(t.axis.kind(), reply.units);
  }
  for (const auto& [w, t] : c.settings) {
    parts.push_back(part(car::name_of(w), "setting", car::unit_of(w), car::limits_of(w),
                         c.origin(w), reply.units));
  }
  return done({{"revision", r.number},
               {"parent", pieces::maybe(r.parent)},
               {"reason", r.reason},
               {"author", r.author},
               {"when", r.when},
               {"in_force", reply.in_force},
               {"units", units_name(reply.units)},
               {"calibration", Json(json_of(c))},
               {"parts", parts}});
}

}  // namespace fuelwright::service
