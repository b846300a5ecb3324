// The sheet, a prediction from it, and whether the fuel system can feed the engine.
#include <fmt/format.h>

#include <thread>

#include "apps/fuelwright/server/context.h"
#include "apps/fuelwright/session.h"

namespace fuelwright::apps::server {
namespace {

Answer sheet(Context&, const Asked& asked) {
  FW_ASK(const std::string file, job_of(asked));
  return said(service::sheet(file));
}

// "10.2 +- 0.2", 10.2, ["1", 8]: as a person writes it; none: off the sheet.
std::optional<std::string> value_of(const Json& j, Fields& in) {
  const auto one = [&](const Json& v) -> std::string {
    if (v.is_string()) return v.get<std::string>();
    if (v.is_number()) return v.dump();
    in.fail("value", "a text, a number, a list of them, or null");
    return "";
  };
  if (!j.is_array()) return one(j);
  std::string out;
  for (const Json& v : j) out += (out.empty() ? "" : ", ") + one(v);
  return out;
}

service::ValueChange change_of(const Json& j, Fields& outer) {
  Fields in(j, "body: changes");
  service::ValueChange out;
  out.section = in.needed_text("section");
  out.key = in.needed_text("key");
  if (j.is_object() && !j.contains("value")) in.fail("value", "a value, or null to take it off");
  if (const Json* value = in.any("value")) out.value = value_of(*value, in);
  out.source = in.text("source");
  out.note = in.text("note");
  if (const Status s = in.done(); !s) outer.fail(s.error());
  return out;
}

Answer change(Context& c, const Asked& asked, bool whole) {
  Fields in(asked.body, "body");
  service::ChangeSheetRequest r;
  if (whole) {
    r.toml = in.needed_text("sheet");
  } else if (const Json* all = in.list("changes"); all && !all->empty()) {
    for (const Json& one : *all) r.changes.push_back(change_of(one, in));
  } else {
    in.fail("changes", "a list of changes");
  }
  r.why = in.text("why");
  r.dry_run = in.flag("dry_run");
  r.seen = in.whole("seen", 0, INT64_MAX);
  FW_SURE(in.done());
  FW_ASK(r.job, job_of(asked));
  const service::Who now = who();
  r.who = now.name;
  r.when = now.when;
  if (r.dry_run) return said(service::change_sheet(r));
  return in_turn(c, name_in(asked), [&] { return said(service::change_sheet(r)); });
}

Answer change_values(Context& c, const Asked& asked) { return change(c, asked, false); }
Answer change_whole(Context& c, const Asked& asked) { return change(c, asked, true); }

Answer predict(Context& c, const Asked& asked) {
  Fields in(asked.body, "body");
  service::PredictRequest r;
  if (const auto members = in.whole("members", 16, 512)) r.members = static_cast<int>(*members);
  const std::string keep = in.maybe_text("keep").value_or("if_first");
  if (keep == "always") {
    r.keep = service::Keep::always;
  } else if (keep == "never") {
    r.keep = service::Keep::never;
  } else if (keep != "if_first") {
    in.fail("keep", "if_first, always or never");
  }
  r.why = in.text("why");
  FW_SURE(in.done());
  FW_ASK(r.job, job_of(asked));
  const service::Who now = who();
  r.who = now.name;
  r.when = now.when;
  r.threads = static_cast<int>(std::max(1U, std::thread::hardware_concurrency()));
  return put_up(c, asked, "predict", false, [r](const Tools& tools) mutable {
    r.stop = tools.stop;
    r.progress = [&tools](double share) {
      tools.progress(share, "computing the engines that could be this one");
    };
    return said(service::predict(r));
  });
}

Result<service::SizeRequest> size_request(const Asked& asked) {
  Fields in(asked.body, "body");
  service::SizeRequest r;
  if (const auto boost = figure(in, "boost", Kind::pressure_step)) r.boost = *boost * pascal;
  r.cooler = in.flag("cooler");
  r.exhaust_driven = in.flag("exhaust_driven");
  if (const auto margin = in.number("margin")) r.margin = *margin;
  if (const Json* measured = in.object("measured")) {
    for (const auto& [key, value] : measured->items()) {
      if (!value.is_string()) in.fail("measured", "texts, such as {\"pump_volts\": \"12.4 V\"}");
      if (value.is_string()) r.measured.push_back({key, value.get<std::string>()});
    }
  }
  r.forget_measured = in.flag("forget_measured");
  if (const auto members = in.whole("members", 16, 512)) r.members = static_cast<int>(*members);
  FW_CHECK(in.done());
  FW_TRY(r.job, job_of(asked));
  const service::Who now = who();
  r.who = now.name;
  r.when = now.when;
  r.threads = static_cast<int>(std::max(1U, std::thread::hardware_concurrency()));
  return r;
}

Answer size(Context& c, const Asked& asked) {
  FW_ASK(service::SizeRequest r, size_request(asked));
  return put_up(c, asked, "size", false, [r](const Tools& tools) mutable {
    tools.progress(std::nullopt, "sizing the fuel system");
    r.stop = tools.stop;
    r.progress = [&tools](double share) {
      tools.progress(share, "computing the engines that could be this one");
    };
    return said(service::size(r));
  });
}

}  // namespace

std::vector<Route> sheet_routes() {
  return {route("GET", "jobs/*/sheet", Takes::nothing, sheet),
          route("PATCH", "jobs/*/sheet", Takes::json, change_values),
          route("PUT", "jobs/*/sheet", Takes::json, change_whole),
          route("POST", "jobs/*/predict", Takes::json, predict),
          route("POST", "jobs/*/size", Takes::json, size)};
}

}  // namespace fuelwright::apps::server
