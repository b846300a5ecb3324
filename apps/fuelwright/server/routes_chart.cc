// The chart, a section of it, the driven track; estimate, proposal, plan.
#include <fmt/format.h>

#include <algorithm>

#include "apps/fuelwright/server/context.h"
#include "apps/fuelwright/server/folder.h"
#include "apps/fuelwright/session.h"

namespace fuelwright::apps::server {
namespace {

std::optional<car::TableWhat> table_in(Fields& in) {
  const auto name = in.maybe_text("table");
  if (!name || name->empty()) return std::nullopt;
  const auto table = car::table_named(*name);
  if (table) return *table;
  in.fail(table.error());
  return std::nullopt;
}

bool of_parts(Fields& in) {
  const auto basis = in.maybe_text("basis");
  if (!basis || basis->empty()) return false;
  if (*basis != service::name_of(service::Basis::parts)) in.fail("basis", "parts");
  return true;
}

Result<Charts::One> chart_for(Context& c, const Asked& asked, std::optional<car::TableWhat> table,
                              std::optional<int> against, bool parts = false) {
  FW_TRY(const std::string file, job_of(asked));
  return c.charts.get(stamp_of(name_in(asked)), {file, table, against, parts});
}

Answer chart(Context& c, const Asked& asked) {
  Fields query(asked.query, "query", true);
  const auto table = table_in(query);
  const auto against = query.revision("against");
  const bool parts = of_parts(query);
  FW_SURE(query.done());
  FW_ASK(const Charts::One of, chart_for(c, asked, table, against, parts));
  if (of->basis != service::Basis::driving) return {200, service::json(*of)};
  FW_ASK(const std::string file, job_of(asked));
  FW_ASK(auto recordings, c.decoded.all(name_in(asked), file, stamp_of(name_in(asked))));
  return said(service::chart({file, table, against, false, std::move(recordings)}));
}

Answer section(Context& c, const Asked& asked) {
  Fields query(asked.query, "query", true);
  const auto table = table_in(query);
  const auto against = query.revision("against");
  const service::SectionLine line{query.needed_number("x0"), query.needed_number("y0"),
                                  query.needed_number("x1"), query.needed_number("y1")};
  const auto points = query.whole("points", 2, 1000).value_or(200);
  FW_SURE(query.done());
  FW_ASK(const Charts::One of, chart_for(c, asked, table, against));
  return said(service::section(*of, line, static_cast<int>(points)));
}

Answer track(Context& c, const Asked& asked) {
  Fields query(asked.query, "query", true);
  const auto table = table_in(query);
  const auto wanted = query.words("recordings");
  const auto points = query.whole("points", 10, 20000).value_or(2000);
  FW_SURE(query.done());
  FW_ASK(const std::string file, job_of(asked));
  FW_ASK(const Charts::One of, chart_for(c, asked, table, {}));
  FW_ASK(const AbsolutePressure ambient, service::ambient_of(file));
  FW_ASK(const auto all, c.decoded.all(name_in(asked), file, stamp_of(name_in(asked))));
  std::vector<service::Track> tracks;
  for (const Decoded::One& one : all) {
    const std::string id = std::to_string(one->row.id.value);
    if (!wanted.empty() && std::ranges::find(wanted, id) == wanted.end()) continue;
    tracks.push_back(service::track(*one, *of->grid, ambient, static_cast<std::size_t>(points)));
  }
  return {200, service::json(tracks, *of->grid)};
}

std::optional<advice::Way> way_in(Fields& in) {
  const auto name = in.maybe_text("from");
  if (!name || name->empty()) return std::nullopt;
  const auto way = advice::way_named(*name);
  if (way) return *way;
  in.fail(way.error());
  return std::nullopt;
}

Answer estimate(Context& c, const Asked& asked) {
  Fields in(asked.body, "body");
  service::EstimateRequest r;
  r.way = way_in(in);
  r.open_loop = in.flag("open_loop");
  r.lean_limit = in.number("lean_limit");
  r.lean_chance = in.number("lean_chance");
  r.cause_found = in.flag("cause_found");
  FW_SURE(in.done());
  FW_ASK(r.job, job_of(asked));
  r.who = who();
  return put_up(c, asked, "estimate", false, [r](const Tools& tools) mutable {
    r.stop = tools.stop;
    r.says = [&tools](const std::string& says) { tools.progress(std::nullopt, says); };
    return said(service::estimate(r));
  });
}

Answer proposal(Context&, const Asked& asked) {
  FW_ASK(const std::string file, job_of(asked));
  return said(service::proposal(file));
}

Answer accept(Context& c, const Asked& asked) {
  Fields in(asked.body, "body");
  service::AcceptRequest r;
  r.seen = in.whole("seen", 1, INT64_MAX);
  if (!r.seen) in.fail("seen", "the number of the proposal that was looked at");
  r.why = in.text("why");
  FW_SURE(in.done());
  FW_ASK(r.job, job_of(asked));
  r.who = who();
  return in_turn(c, name_in(asked), [&] { return said(service::accept(r)); });
}

Answer plan(Context& c, const Asked& asked) {
  Fields in(asked.body, "body");
  service::PlanRequest r;
  r.minutes = in.number("minutes");
  if (const auto v = figure(in, "top_speed", Kind::speed)) r.top_speed = Speed{*v};
  r.grade = in.number("grade").value_or(0);
  r.dyno = in.flag("dyno");
  r.good = in.number("within");
  r.stop_finding = in.flag("stop_finding");
  r.cycle_csv = in.text("cycle");
  r.cycle_name = "the cycle";
  for (const std::string& id : in.words("use")) {
    const auto number = parse_double(id);
    if (!number || *number < 1 || *number > 1e15) in.fail("use", "numbers of recordings");
    if (number) r.use.push_back(static_cast<std::int64_t>(*number));
  }
  r.way = way_in(in);
  r.open_loop = in.flag("open_loop");
  FW_SURE(in.done());
  FW_ASK(r.job, job_of(asked));
  return put_up(c, asked, "plan", true, [r = std::move(r)](const Tools& tools) {
    tools.progress(std::nullopt, "planning the next drive");
    return said(service::plan(r));
  });
}

}  // namespace

std::vector<Route> chart_routes() {
  return {route("GET", "jobs/*/chart", Takes::nothing, chart),
          route("GET", "jobs/*/chart/section", Takes::nothing, section),
          route("GET", "jobs/*/chart/track", Takes::nothing, track),
          route("POST", "jobs/*/estimate", Takes::json, estimate),
          route("GET", "jobs/*/proposal", Takes::nothing, proposal),
          route("POST", "jobs/*/accept", Takes::json, accept),
          route("POST", "jobs/*/plan", Takes::json, plan)};
}

}  // namespace fuelwright::apps::server
