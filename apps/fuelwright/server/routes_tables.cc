// Tables by hand, the way back, and out.
#include <fmt/format.h>

#include "apps/fuelwright/server/context.h"
#include "apps/fuelwright/server/folder.h"
#include "apps/fuelwright/session.h"

namespace fuelwright::apps::server {
namespace {

void nodes_in(Fields& in, service::AmendRequest& r) {
  const Json* values = in.list("values");
  const Json* nodes = in.list("nodes");
  if ((values == nullptr) == (nodes == nullptr)) in.fail("nodes", "either values or nodes");
  if (values) {
    r.values.emplace();
    for (const Json& v : *values) {
      if (!v.is_number()) return in.fail("values", "a list of numbers");
      r.values->push_back(v.get<double>());
    }
  }
  for (std::size_t i = 0; nodes && i < nodes->size(); ++i) {
    const Json& n = (*nodes)[i];
    const bool good = n.is_array() && n.size() == 3 && n[0].is_number_unsigned() &&
                      n[1].is_number_unsigned() && n[2].is_number();
    if (!good) return in.fail("nodes", "a list of [ix, iy, value]");
    r.nodes.push_back({n[0].get<std::size_t>(), n[1].get<std::size_t>(), n[2].get<double>()});
  }
}

Answer amend(Context& c, const Asked& asked) {
  Fields in(asked.body, "body");
  service::AmendRequest r;
  const auto table = car::table_named(in.needed_text("table"));
  if (!table) in.fail(table.error());
  nodes_in(in, r);
  r.seen = in.needed_revision("seen");
  r.dry_run = in.flag("dry_run");
  r.why = in.text("why");
  FW_SURE(in.done());
  r.table = *table;
  FW_ASK(r.job, job_of(asked));
  const service::Who now = who();
  r.who = now.name;
  r.when = now.when;
  if (r.dry_run) return said(service::amend(r));
  return in_turn(c, name_in(asked), [&] { return said(service::amend(r)); });
}

Answer bring_in(Context& c, const Asked& asked) {
  Fields in(asked.body, "body");
  service::BringInRequest r;
  r.table = pasted(in);
  if (const auto name = in.maybe_text("form"); name && !name->empty()) {
    const auto form = service::export_form_named(*name);
    if (!form) in.fail(form.error());
    if (form) r.form = *form;
  }
  if (const auto name = in.maybe_text("table"); name && !name->empty()) {
    const auto what = car::part_named(*name);
    if (!what) in.fail(what.error());
    if (what) r.what = *what;
  }
  r.named = in.text("named");
  r.at = in.text("at");
  r.interpolate = in.flag("interpolate");
  r.seen = in.revision("seen");
  r.why = in.text("why");
  const bool dry_run = in.flag("dry_run");
  FW_SURE(in.done());
  FW_ASK(r.job, job_of(asked));
  r.who = who();
  if (dry_run) return said(service::preview_tables(r));
  return in_turn(c, name_in(asked), [&] { return said(service::bring_in(r)); });
}

Answer compare(Context&, const Asked& asked) {
  Fields query(asked.query, "query", true);
  const int from = query.needed_revision("from"), to = query.needed_revision("to");
  FW_SURE(query.done());
  FW_ASK(const std::string file, job_of(asked));
  return said(service::compare({file, from, to}));
}

Answer revert(Context& c, const Asked& asked) {
  Fields in(asked.body, "body");
  service::RevertRequest r;
  r.revision = in.needed_revision("revision");
  r.why = in.text("why");
  const auto seen = in.revision("seen");
  FW_SURE(in.done());
  FW_ASK(r.job, job_of(asked));
  r.who = who();
  return in_turn(c, name_in(asked), [&]() -> Answer {
    if (seen) {
      FW_ASK(const service::RevisionReply now, service::revision(r.job, {}));
      if (now.revision.number != *seen) {
        return refusal(Error{
            ErrorCode::conflict, r.job,
            fmt::format("revision {} was looked at, but revision {} is in force now; look again",
                        *seen, now.revision.number)});
      }
    }
    return said(service::revert(r));
  });
}

const char* media_type(service::ExportForm form) {
  switch (form) {
    case service::ExportForm::csv:
      return "text/csv; charset=utf-8";
    case service::ExportForm::tsv:
      return "text/tab-separated-values; charset=utf-8";
    case service::ExportForm::json:
      return "application/json";
    case service::ExportForm::cdf:
      return "application/xml";
  }
  broken_contract("a form of tables", __FILE__, __LINE__);
}

// RFC 6266 with the encoding of RFC 8187.
std::string disposition(const std::string& name) {
  std::string plain, encoded;
  for (const char c : name) {
    const bool safe = (c >= '0' && c <= '9') || (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') ||
                      c == '.' || c == '-' || c == '_';
    plain += safe ? c : '_';
    encoded += safe ? std::string(1, c) : fmt::format("%{:02X}", static_cast<unsigned char>(c));
  }
  return "attachment; filename=\"" + plain + "\"; filename*=UTF-8''" + encoded;
}

Answer export_tables(Context&, const Asked& asked) {
  Fields query(asked.query, "query", true);
  service::ExportRequest r;
  const std::string name = query.maybe_text("form").value_or("tsv");
  const auto form = service::export_form_named(name);
  if (!form) query.fail(form.error());
  if (const auto table = query.maybe_text("table"); table && !table->empty()) {
    const auto what = car::part_named(*table);
    if (!what) query.fail(what.error());
    if (what) r.what = *what;
  }
  r.revision = query.revision("revision");
  FW_SURE(query.done());
  r.form = *form;
  FW_ASK(r.job, job_of(asked));
  FW_ASK(const service::RevisionReply which, service::revision(r.job, r.revision));
  FW_ASK(std::string text, service::export_tables(r));
  const std::string part = r.what ? car::name_of(*r.what) : "tables";
  const std::string file =
      fmt::format("{}-{}-{}.{}", name_in(asked), which.revision.number, part, name);
  return {200, std::move(text), media_type(r.form), {{"Content-Disposition", disposition(file)}}};
}

}  // namespace

std::vector<Route> table_routes() {
  return {route("POST", "jobs/*/amend", Takes::json, amend),
          route("POST", "jobs/*/bring-in", Takes::json, bring_in),
          route("GET", "jobs/*/compare", Takes::nothing, compare),
          route("POST", "jobs/*/revert", Takes::json, revert),
          route("GET", "jobs/*/export", Takes::nothing, export_tables)};
}

}  // namespace fuelwright::apps::server
