// What must happen before the engine runs for the first time.
#include "apps/fuelwright/server/context.h"

namespace fuelwright::apps::server {
namespace {

Result<service::FirstStartRequest> request_of(const Asked& asked, bool with_weather) {
  Fields in(asked.body, "body");
  service::FirstStartRequest r;
  if (const Json* answers = in.object("answers")) {
    for (const auto& [id, text] : answers->items()) {
      if (!text.is_string())
        in.fail("answers", "texts");
      else
        r.answers.push_back({id, text.get<std::string>()});
    }
  }
  if (with_weather) {
    r.weather = weather_in(in);
    r.lean_limit = in.number("lean_limit");
    r.lean_chance = in.number("lean_chance");
  }
  FW_CHECK(in.done());
  FW_TRY(r.job, job_of(asked));
  return r;
}

Answer open_questions(Context&, const Asked& asked) {
  FW_ASK(const service::FirstStartRequest r, request_of(asked, false));
  return said(service::start_questions(r));
}

// An open question brings all of them along.
Answer list_of(const service::FirstStartRequest& r) {
  const auto reply = service::first_start(r);
  if (reply) return {200, service::json(*reply)};
  Answer out = refusal(reply.error());
  if (reply.error().code != ErrorCode::needs_answer) return out;
  const auto asked = service::start_questions(r);
  Json j = Json::parse(out.body);
  j["error"]["questions"] =
      asked ? Json::parse(service::json(*asked)).at("questions") : Json::array();
  out.body = text_of(j) + "\n";
  return out;
}

Answer first_start(Context& c, const Asked& asked) {
  FW_ASK(service::FirstStartRequest r, request_of(asked, true));
  return put_up(c, asked, "first-start", true, [r = std::move(r)](const Tools& tools) {
    tools.progress(std::nullopt, "computing what to expect");
    return list_of(r);
  });
}

}  // namespace

std::vector<Route> first_start_routes() {
  return {route("POST", "jobs/*/first-start", Takes::json, first_start),
          route("POST", "jobs/*/first-start/questions", Takes::json, open_questions)};
}

}  // namespace fuelwright::apps::server
