// Replies about tables brought in, compared and reverted, as JSON.
#include <nlohmann/json.hpp>

#include "service/api/json.h"
#include "service/api/pieces.h"

namespace fuelwright::service {
namespace {

using pieces::axis;
using pieces::done;
using pieces::Json;

Json node(const car::Grid& grid, const car::NodeDifference& d, bool by_share) {
  return {{"x_si", grid.x[d.ix]},
          {"y_si", grid.y[d.iy]},
          {"before", d.before},
          {"after", d.after},
          {"share", by_share ? Json(d.share()) : Json(nullptr)}};
}

// Null where there is none, or where it stands over another kind of load.
Json values(const std::optional<car::Surface>& s, const car::Grid& grid) {
  return s && s->grid == grid ? Json(s->values) : Json(nullptr);
}

// What became of each node: the share it rose by, or what was added (spark).
Json change(const car::TableDifference& d) {
  if (!d.before || !d.after || !(d.after->grid == d.before->grid)) return nullptr;
  std::vector<double> out;
  for (std::size_t i = 0; i < d.before->values.size(); ++i) {
    const double was = d.before->values[i], is = d.after->values[i];
    out.push_back(car::changes_by_share(d.what) ? is / was - 1 : is - was);
  }
  return pieces::numbers(out);
}

Json optional_values(const std::optional<car::Curve>& c) {
  return c ? Json(c->values) : Json(nullptr);
}

Json curves(const std::vector<car::CurveDifference>& all) {
  Json out = Json::array();
  for (const car::CurveDifference& d : all) {
    out.push_back({{"curve", car::name_of(d.what)},
                   {"unit", car::unit_of(d.what).symbol},
                   {"changed", d.changed},
                   {"other_axis", d.other_axis},
                   {"x", axis(d.before ? d.before->axis : d.after->axis)},
                   {"before", optional_values(d.before)},
                   {"after", optional_values(d.after)}});
  }
  return out;
}

Json settings(const std::vector<car::SettingDifference>& all) {
  Json out = Json::array();
  for (const car::SettingDifference& d : all) {
    out.push_back({{"setting", car::name_of(d.what)},
                   {"unit", car::unit_of(d.what).symbol},
                   {"before", d.before ? Json(*d.before) : Json(nullptr)},
                   {"after", d.after ? Json(*d.after) : Json(nullptr)}});
  }
  return out;
}

const char* axes_name(car::AxesThatCame axes) {
  switch (axes) {
    case car::AxesThatCame::same:
      return "same";
    case car::AxesThatCame::part:
      return "part";
    case car::AxesThatCame::other:
      return "interpolated";
  }
  broken_contract("a way in which axes came", __FILE__, __LINE__);
}

}  // namespace

Json pieces::difference(const car::TableDifference& d) {
  const car::Grid& grid = d.grid();
  const bool by_share = car::changes_by_share(d.what);
  return {{"table", car::name_of(d.what)},
          {"changed", d.changed},
          {"nodes", grid.size()},
          {"other_axes", d.other_axes},
          {"largest_rise", d.largest_rise ? node(grid, *d.largest_rise, by_share) : Json(nullptr)},
          {"largest_fall", d.largest_fall ? node(grid, *d.largest_fall, by_share) : Json(nullptr)},
          {"x", axis(grid.x)},
          {"y", axis(grid.y)},
          {"before", values(d.before, grid)},
          {"after", values(d.after, grid)},
          {"change", change(d)},
          {"by_share", by_share}};
}

std::string json(const BringInReply& r) {
  Json tables = Json::array();
  for (const BroughtTable& t : r.tables) {
    Json j = pieces::difference(t.difference);
    j["axes"] = axes_name(t.axes);
    j["nodes_that_came"] = t.nodes;
    j["largest_loss"] = t.largest_loss;
    j["understood"] = t.understood;
    tables.push_back(std::move(j));
  }
  return done({{"sentence", r.sentence},
               {"parent", r.parent},
               {"revision", r.revision ? Json(*r.revision) : Json(nullptr)},
               {"tables", tables},
               {"curves", curves(r.curves)},
               {"settings", settings(r.settings)}});
}

std::string json(const CompareReply& r) {
  Json tables = Json::array();
  for (const car::TableDifference& d : r.tables) tables.push_back(pieces::difference(d));
  return done({{"sentence", r.sentence},
               {"from", r.from},
               {"to", r.to},
               {"tables", tables},
               {"curves", curves(r.curves)},
               {"settings", settings(r.settings)}});
}

std::string json(const RevertReply& r) {
  return done({{"sentence", r.sentence}, {"revision", r.revision}, {"before", r.before}});
}

}  // namespace fuelwright::service
