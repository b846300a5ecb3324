// Session, jobs, the five questions.
#include <fmt/format.h>

#include "apps/fuelwright/server/context.h"
#include "apps/fuelwright/server/folder.h"
#include "apps/fuelwright/server/server.h"
#include "apps/fuelwright/server/uploads.h"
#include "apps/fuelwright/session.h"
#include "car/build/questions.h"

namespace fuelwright::apps::server {
namespace {

Answer session(Context& c, const Asked&) {
  return answer({{"version", c.version},
                 {"token", c.token},
                 {"folder", c.folder},
                 {"who", who().name},
                 {"started", c.started},
                 {"largest_upload", Uploads::kLargest},
                 {"largest_body", kLargestBody}});
}

Json known_of(Context& c, const JobFile& file) {
  {
    const std::lock_guard lock(c.known_mutex);
    const auto at = c.known.find(file.job);
    if (at != c.known.end() && at->second.stamp == file.stamp) return at->second.says;
  }
  Json out = {{"job", file.job}, {"bytes", file.bytes}, {"changed", file.changed}};
  const auto now = service::show({file.job + ".fw", service::ShowWhat::summary});
  const bool good = now.ok();
  out["sentence"] = good ? Json(now->sentence) : Json(nullptr);
  out["units"] = good ? Json(now->units == UnitSystem::us ? "us" : "metric") : Json(nullptr);
  out["revision"] = good ? Json(now->revision_in_force.number) : Json(nullptr);
  out["recordings"] = good ? Json(now->recordings.size()) : Json(nullptr);
  out["problem"] = good ? Json(nullptr) : Json(now.error().line());
  const std::lock_guard lock(c.known_mutex);
  c.known[file.job] = {file.stamp, out};
  return out;
}

Answer jobs(Context& c, const Asked&) {
  Json all = Json::array();
  for (const JobFile& file : jobs_here()) all.push_back(known_of(c, file));
  const std::string sentence =
      all.empty() ? "No job is here yet: five answers are enough to begin one."
                  : fmt::format("{} job{} {} here.", all.size(), all.size() == 1 ? "" : "s",
                                all.size() == 1 ? "is" : "are");
  return answer({{"sentence", sentence}, {"jobs", all}});
}

Answer questions(Context&, const Asked&) {
  Json all = Json::array();
  for (const car::Question& q : car::five_questions()) {
    all.push_back({{"id", q.id}, {"text", q.text}, {"example", q.example}});
  }
  return answer({{"questions", all}});
}

Answer check_answer(Context&, const Asked& asked) {
  Fields in(asked.body, "body");
  const std::string id = in.needed_text("id");
  const std::string text = in.text("answer");
  FW_SURE(in.done());
  for (const car::Question& q : car::five_questions()) {
    if (q.id != id) continue;
    const auto read = q.check(text);
    if (!read) return refusal(Error{read.error().code, id, read.error().message});
    return answer({{"id", id}, {"understood", read->understood}});
  }
  return refusal(Error{ErrorCode::not_found, "body: id", "no question has that id"});
}

Result<service::NewRequest> new_request(const Asked& asked) {
  Fields in(asked.body, "body");
  service::NewRequest r;
  const std::string job = in.needed_text("job");
  const auto answers = in.list("answers") ? std::optional(in.words("answers")) : std::nullopt;
  const auto toml = in.maybe_text("sheet");
  const auto units = in.maybe_text("units");
  r.ve_as_found = pasted_in(in, "ve_as_found");
  if (units && *units != "us" && *units != "metric") in.fail("units", "us or metric");
  if (answers.has_value() == toml.has_value()) in.fail("answers", "either five answers or a sheet");
  FW_CHECK(in.done());
  FW_TRY(r.job, job_file(job));
  if (units) r.units = *units == "us" ? UnitSystem::us : UnitSystem::metric;
  r.sheet_name = answers ? "your five answers" : "sheet";
  if (answers) {
    FW_TRY(r.sheet_toml, car::sheet_from_answers(*answers));
  } else {
    r.sheet_toml = *toml;
  }
  r.who = who();
  return r;
}

Answer make_job(Context& c, const Asked& asked) {
  FW_ASK(const service::NewRequest request, new_request(asked));
  const std::string job = request.job.substr(0, request.job.size() - 3);
  Answer out = in_turn(c, job, [&]() -> Answer {
    FW_ASK(service::NewReply reply, service::new_job(request));
    reply.job = job;
    return {201, service::json(reply)};
  });
  if (out.status == 201) c.events.tell("jobs", "", "{}");
  return out;
}

Answer show_job(Context&, const Asked& asked) {
  FW_ASK(const std::string file, job_of(asked));
  return said(service::show({file, service::ShowWhat::summary}));
}

Answer calibration(Context&, const Asked& asked) {
  Fields query(asked.query, "query", true);
  const auto number = query.revision("revision");
  FW_SURE(query.done());
  FW_ASK(const std::string file, job_of(asked));
  return said(service::revision(file, number));
}

Answer set_units(Context& c, const Asked& asked) {
  Fields in(asked.body, "body");
  const std::string units = in.needed_text("units");
  if (units != "us" && units != "metric") in.fail("units", "us or metric");
  FW_SURE(in.done());
  FW_ASK(const std::string file, job_of(asked));
  return in_turn(c, name_in(asked), [&]() -> Answer {
    FW_SURE(service::keep_units(file, units == "us" ? UnitSystem::us : UnitSystem::metric, who()));
    return answer({{"units", units}});
  });
}

// Some keys of what `show` says.
Answer part_of_show(const Asked& asked, std::initializer_list<const char*> keys) {
  FW_ASK(const std::string file, job_of(asked));
  FW_ASK(const service::ShowReply shown, service::show({file, service::ShowWhat::summary}));
  const Json all = Json::parse(service::json(shown));
  Json out = Json::object();
  for (const char* key : keys) out[key] = all.at(key);
  return answer(out);
}

Answer recordings(Context&, const Asked& asked) {
  return part_of_show(asked, {"sentence", "recordings", "head"});
}

Answer revisions(Context&, const Asked& asked) {
  FW_ASK(const std::string file, job_of(asked));
  FW_ASK(const service::ShowReply shown, service::show({file, service::ShowWhat::summary}));
  const Json all = Json::parse(service::json(shown));
  return answer({{"sentence", all.at("sentence")},
                 {"revisions", all.at("revisions")},
                 {"in_force", shown.revision_in_force.number},
                 {"head", all.at("head")}});
}

Answer journal(Context&, const Asked& asked) {
  Fields query(asked.query, "query", true);
  const auto after = query.whole("after", 0, INT64_MAX).value_or(0);
  FW_SURE(query.done());
  FW_ASK(const std::string file, job_of(asked));
  FW_ASK(const service::ShowReply shown, service::show({file, service::ShowWhat::summary}));
  const Json all = Json::parse(service::json(shown));
  Json rows = Json::array();
  for (const Json& row : all.at("journal")) {
    if (row.at("id").get<std::int64_t>() > after) rows.push_back(row);
  }
  return answer({{"journal", rows}, {"head", all.at("head")}});
}

}  // namespace

std::vector<Route> job_routes() {
  return {route("GET", "session", Takes::nothing, session),
          route("GET", "jobs", Takes::nothing, jobs),
          route("POST", "jobs", Takes::json, make_job),
          route("GET", "questions", Takes::nothing, questions),
          route("POST", "questions/check", Takes::json, check_answer),
          route("GET", "jobs/*", Takes::nothing, show_job),
          route("GET", "jobs/*/calibration", Takes::nothing, calibration),
          route("PUT", "jobs/*/units", Takes::json, set_units),
          route("GET", "jobs/*/recordings", Takes::nothing, recordings),
          route("GET", "jobs/*/revisions", Takes::nothing, revisions),
          route("GET", "jobs/*/journal", Takes::nothing, journal)};
}

}  // namespace fuelwright::apps::server
