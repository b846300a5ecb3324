// A table amended by hand.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "car/tables/value_unit.h"
#include "service/amend.h"
#include "service/difference_words.h"
#include "service/job/job.h"

namespace fuelwright::service {
namespace {

Status put_nodes(const AmendRequest& request, car::Surface& surface) {
  const car::Grid& g = surface.grid;
  if (request.values) {
    if (request.values->size() != g.size()) {
      return Error{ErrorCode::bad_input, car::name_of(request.table),
                   fmt::format("{} values came; expected {}, {} by {}", request.values->size(),
                               g.size(), g.x.size(), g.y.size())};
    }
    surface.values = *request.values;
    return Done{};
  }
  for (const NodeValue& n : request.nodes) {
    if (n.ix >= g.x.size() || n.iy >= g.y.size()) {
      return Error{ErrorCode::not_found, car::name_of(request.table),
                   fmt::format("node {}, {} came; expected 0 to {} and 0 to {}", n.ix, n.iy,
                               g.x.size() - 1, g.y.size() - 1)};
    }
    surface.node(n.ix, n.iy) = n.value;
  }
  return Done{};
}

// Fuel goes with the value of a VE or correction table: what is below the evidence runs lean.
std::vector<BeyondEvidence> beyond(const car::Evidence& e, const car::Surface& was,
                                   const car::Surface& now, UnitSystem units) {
  std::vector<BeyondEvidence> out;
  const car::ValueUnit unit = car::unit_of(e.what);
  const car::Grid& g = now.grid;
  for (std::size_t i = 0; i < g.size(); ++i) {
    if (now.values[i] == was.values[i] || e.mark[i] == car::NodeMark::prior_only) continue;
    const double half = e.half_width(i), off = std::log(e.estimate[i] / now.values[i]);
    if (std::abs(off) <= half) continue;
    BeyondEvidence one{i % g.x.size(), i / g.x.size(), std::expm1(off), ""};
    one.says = fmt::format(
        "{} at {}, {} is {} all that the evidence allows ({} to {}): it would run "
        "{:.1f} % {} here.",
        car::format_value(now.values[i], unit, units), g.x.format_point(one.ix, units),
        g.y.format_point(one.iy, units), off > 0 ? "below" : "above",
        car::format_value(e.estimate[i] * std::exp(-half), unit, units),
        car::format_value(e.estimate[i] * std::exp(half), unit, units), 100 * std::abs(one.leaner),
        off > 0 ? "lean" : "rich");
    out.push_back(std::move(one));
  }
  std::ranges::stable_sort(out, [](const BeyondEvidence& a, const BeyondEvidence& b) {
    return a.leaner > 0 || b.leaner > 0 ? a.leaner > b.leaner : a.leaner < b.leaner;
  });
  return out;
}

Result<std::vector<BeyondEvidence>> mind_of(const Job& job, const car::Surface& was,
                                            const car::Surface& now, car::TableWhat what,
                                            UnitSystem units) {
  const auto last = job.evidence();
  if (!last && last.error().code == ErrorCode::not_found) return std::vector<BeyondEvidence>{};
  if (!last) return last.error();
  const car::Evidence& e = last->proposal.evidence;
  if (e.what != what || !(e.grid == now.grid)) return std::vector<BeyondEvidence>{};
  return beyond(e, was, now, units);
}

}  // namespace

Result<AmendReply> amend(const AmendRequest& request) {
  FW_TRY(Job job, Job::open(request.job, request.dry_run ? Access::read : Access::write));
  AmendReply reply;
  FW_TRY(reply.units, job.units());
  FW_TRY(const car::Revision now, job.revision_in_force());
  reply.parent = now.number;
  if (request.seen != now.number) {
    return Error{
        ErrorCode::conflict, request.job,
        fmt::format("revision {} was looked at, but revision {} is in force now; look again",
                    request.seen, now.number)};
  }
  car::Calibration c = now.calibration;
  const auto at = c.tables.find(request.table);
  if (at == c.tables.end()) {
    return Error{
        ErrorCode::not_found, request.job,
        fmt::format("revision {} has no {} table", now.number, car::name_of(request.table))};
  }
  FW_CHECK(put_nodes(request, at->second));
  c.origins.insert_or_assign(
      request.table,
      car::Origin{"amended by hand" + (request.why.empty() ? "" : ": " + request.why)});
  FW_CHECK(car::validate(c));
  reply.tables = car::differences(now.calibration, c);
  if (reply.tables.empty()) {
    reply.sentence =
        fmt::format("Nothing changes: revision {} holds these values already.", now.number);
    return reply;
  }
  FW_TRY(reply.mind, mind_of(job, now.calibration.tables.at(request.table),
                             c.tables.at(request.table), request.table, reply.units));
  const std::string what = in_words(reply.tables.front(), reply.units);
  if (request.dry_run) {
    reply.sentence = fmt::format("This would change {}; nothing is written yet.", what);
    return reply;
  }
  FW_TRY(reply.revision, job.add_edit(c, request.seen, {request.who, request.when, request.why}));
  reply.sentence = fmt::format(
      "Revision {} is in force: {}. Load its table into the unit before the next drive.",
      *reply.revision, what);
  return reply;
}

}  // namespace fuelwright::service
