// Recordings: coming in, looked at, added, checked.
#include <fmt/format.h>

#include "apps/fuelwright/server/context.h"
#include "apps/fuelwright/server/folder.h"
#include "apps/fuelwright/server/uploads.h"
#include "apps/fuelwright/session.h"
#include "service/api/pieces.h"

namespace fuelwright::apps::server {
namespace {

Json card(const Upload& u) {
  return {{"upload", u.id}, {"job", u.job}, {"name", u.name}, {"bytes", u.bytes}, {"when", u.when}};
}

// What the option of a question stands for in a body's `answers`.
Json as_answer(const std::string& give) {
  const auto value = [&](const char* option) -> std::optional<std::string> {
    const std::string begins = std::string(option) + " ";
    if (!give.starts_with(begins)) return std::nullopt;
    std::string out = give.substr(begins.size());
    if (out.size() >= 2 && out.front() == '"' && out.back() == '"')
      out = out.substr(1, out.size() - 2);
    return out;
  };
  if (const auto channel = value("--channel")) {
    signals::Answers a;
    if (!signals::add_channel_answer(a, *channel) || a.channels.empty()) return nullptr;
    const auto& [header, said] = *a.channels.begin();
    Json one = Json::object();
    if (said.what) one["quantity"] = signals::info(*said.what).name;
    if (!said.unit.empty()) one["unit"] = said.unit;
    return {{"channels", {{header, one}}}};
  }
  if (const auto afr = value("--afr-constant")) {
    const auto number = parse_double(*afr);
    return {{"afr_constant", number ? Json(*number) : Json(nullptr)}};
  }
  if (const auto rate = value("--rate")) return {{"rate", *rate}};
  if (const auto ambient = value("--ambient")) return {{"ambient", *ambient}};
  if (give.starts_with("--unordered")) return {{"unordered", true}};
  return nullptr;
}

Json questions_of(const signals::Report& report) {
  Json out = Json::array();
  for (const signals::Question& q : report.questions) {
    Json options = Json::array();
    for (const signals::Option& o : q.options) {
      options.push_back({{"give", o.give}, {"means", o.means}, {"answer", as_answer(o.give)}});
    }
    out.push_back({{"header", q.header}, {"unclear", q.unclear}, {"options", options}});
  }
  return out;
}

// The upload and how it reads.
Answer look_at(const Upload& u, const signals::Answers& answers, int status) {
  FW_ASK(const std::string file, job_there(u.job));
  FW_ASK(const std::string bytes, Uploads::bytes(u));
  FW_ASK(const service::LookReply look, service::look_at_recording(file, u.name, bytes, answers));
  Json out = card(u);
  const bool good = look.problem.empty();
  out["readable"] = good;
  out["problem"] = good ? Json(nullptr) : Json(look.problem);
  out["kind"] = look.report.kind;
  out["rows"] = look.report.rows;
  out["columns"] = service::pieces::guesses(look.report.columns);
  out["questions"] = questions_of(look.report);
  out["kept_answers"] = look.kept_answers;
  out["warnings"] = look.report.warnings;
  return answer(out, status);
}

// One of the few that may send bytes at once.
class Place {
 public:
  explicit Place(std::atomic<int>& taken) : taken_(taken), got_(++taken <= Uploads::kAtOnce) {}
  ~Place() { --taken_; }
  Place(const Place&) = delete;
  Place& operator=(const Place&) = delete;
  bool got() const { return got_; }

 private:
  std::atomic<int>& taken_;
  bool got_;
};

// The last part of a path, whatever a browser sends.
std::string bare(const std::string& name) {
  const auto slash = name.find_last_of("/\\");
  std::string out = slash == std::string::npos ? name : name.substr(slash + 1);
  std::erase_if(out, [](char c) { return static_cast<unsigned char>(c) < 0x20 || c == 0x7f; });
  return out.substr(0, 200);
}

Answer upload(Context& c, const Asked& asked) {
  Fields query(asked.query, "query", true);
  const auto name = query.maybe_text("name");
  FW_SURE(query.done());
  FW_SURE(job_of(asked));
  const bool form = asked.content_type.starts_with("multipart/form-data");
  if (!form && asked.content_type != "application/octet-stream" &&
      !asked.content_type.starts_with("text/")) {
    return refusal(415, "media", "Content-Type",
                   "came \"" + asked.content_type +
                       "\"; expected application/octet-stream or multipart/form-data");
  }
  if (!form && (!name || bare(*name).empty())) {
    return refusal(
        Error{ErrorCode::usage, "query: name", "nothing came; expected the file's name"});
  }
  if (asked.length > Uploads::kLargest + (form ? 65536 : 0)) {
    return refusal(Error{ErrorCode::too_large, "upload",
                         fmt::format("{} bytes are announced; at most {} MiB are taken",
                                     asked.length, Uploads::kLargest >> 20)});
  }
  const Place place(c.uploads);
  if (!place.got()) {
    return refusal(429, "busy", "upload",
                   "two recordings are coming in already; send it again when they are in");
  }
  Upload what{"", name_in(asked), bare(name.value_or("")), 0, who().when};
  Pour pour = asked.pour;
  if (form) {
    pour = [&](const auto& take) {
      const bool whole = asked.pour_form_file(take);
      return whole && !asked.form_file_name().empty();
    };
  }
  auto got = Uploads::receive(what, pour, [&] {
    return form && what.name.empty() ? bare(asked.form_file_name()) : what.name;
  });
  if (!got && form && asked.form_file_name().empty()) {
    return refusal(Error{ErrorCode::usage, "body", "holds no part \"file\" with a file's name"});
  }
  if (!got) return refusal(got.error());
  c.events.tell("uploaded", name_in(asked), text_of({{"job", name_in(asked)}}));
  return look_at(*got, {}, 201);
}

Answer uploads(Context&, const Asked& asked) {
  FW_SURE(job_of(asked));
  Json all = Json::array();
  for (const Upload& u : Uploads::list(name_in(asked))) all.push_back(card(u));
  return answer({{"uploads", all}});
}

Answer look(Context&, const Asked& asked) {
  Fields in(asked.body, "body");
  const signals::Answers answers = answers_in(in, "answers");
  FW_SURE(in.done());
  FW_SURE(job_of(asked));
  FW_ASK(const Upload u, Uploads::find(name_in(asked), asked.path.at(3)));
  return look_at(u, answers, 200);
}

Answer throw_away(Context& c, const Asked& asked) {
  FW_ASK(const Upload u, Uploads::find(name_in(asked), asked.path.at(3)));
  Uploads::remove(u);
  c.events.tell("uploaded", name_in(asked), text_of({{"job", name_in(asked)}}));
  return answer({{"upload", u.id}});
}

// An error that answers would help with brings the questions along.
Answer with_questions(const Error& error, const service::AddRequest& r) {
  Answer out = refusal(error);
  if (error.code != ErrorCode::needs_answer) return out;
  const auto look = service::look_at_recording(r.job, r.name, r.bytes, r.answers);
  Json j = Json::parse(out.body);
  j["error"]["questions"] = look ? questions_of(look->report) : Json::array();
  out.body = text_of(j) + "\n";
  return out;
}

Answer add(Context& c, const Asked& asked) {
  Fields in(asked.body, "body");
  service::AddRequest r;
  const std::string id = in.needed_text("upload");
  r.answers = answers_in(in, "answers");
  r.driven_with = in.revision("driven_with");
  r.learned = pasted_in(in, "learned");
  FW_SURE(in.done());
  FW_ASK(r.job, job_of(asked));
  FW_ASK(const Upload u, Uploads::find(name_in(asked), id));
  r.name = u.name;
  r.who = who();
  return put_up(c, asked, "add", false, [&c, r, u](const Tools& tools) mutable -> Answer {
    tools.progress(std::nullopt, "reading " + u.name);
    FW_ASK(r.bytes, Uploads::bytes(u));
    if (tools.stop.stop_requested()) {
      return refusal(Error{ErrorCode::conflict, u.name, "was stopped; nothing was added"});
    }
    const std::lock_guard lock(c.turn_of(u.job));
    const auto reply = service::add_recording(r);
    if (!reply) return with_questions(reply.error(), r);
    Uploads::remove(u);
    return {200, service::json(*reply)};
  });
}

Result<std::int64_t> id_of(const Asked& asked) {
  Json one = {{"id", asked.path.at(3)}};
  Fields in(one, "recording", true);
  const auto id = in.whole("id", 1, INT64_MAX);
  FW_CHECK(in.done());
  return *id;
}

Result<Decoded::One> decoded(Context& c, const Asked& asked) {
  FW_TRY(const std::string file, job_of(asked));
  FW_TRY(const std::int64_t id, id_of(asked));
  return c.decoded.get(name_in(asked), file, stamp_of(name_in(asked)), id);
}

Answer recording(Context& c, const Asked& asked) {
  FW_ASK(const Decoded::One one, decoded(c, asked));
  return {200, service::json(*one)};
}

Answer traces(Context& c, const Asked& asked) {
  Fields query(asked.query, "query", true);
  service::TracesRequest r;
  r.channels = query.words("channels");
  r.from = query.number("from");
  r.to = query.number("to");
  if (const auto points = query.whole("points", 2, 8000)) r.points = static_cast<int>(*points);
  FW_SURE(query.done());
  FW_ASK(const Decoded::One one, decoded(c, asked));
  return said(service::traces(one, r));
}

Answer masks(Context&, const Asked& asked) {
  FW_ASK(const std::string file, job_of(asked));
  FW_ASK(const std::int64_t id, id_of(asked));
  return said(service::masks(file, id));
}

Result<service::CheckRequest> check_request(const Asked& asked) {
  Fields in(asked.body, "body");
  service::CheckRequest r;
  r.recordings = in.words("recordings");
  r.key_on = in.words("key_on");
  const auto ids = in.words("uploads");
  const signals::Answers answers = answers_in(in, "answers");
  r.weather = weather_in(in);
  FW_CHECK(in.done());
  FW_TRY(r.job, job_of(asked));
  for (const std::string& id : ids) {
    FW_TRY(const Upload u, Uploads::find(name_in(asked), id));
    service::CheckFile file{u.name, {}, answers};
    FW_TRY(file.bytes, Uploads::bytes(u));
    r.key_on.push_back(u.name);
    r.files.push_back(std::move(file));
  }
  return r;
}

Answer check(Context& c, const Asked& asked) {
  FW_ASK(service::CheckRequest r, check_request(asked));
  return put_up(c, asked, "check", true, [r = std::move(r)](const Tools& tools) {
    tools.progress(std::nullopt, "checking the sensors");
    return said(service::check(r));
  });
}

Answer guard_rules(Context& c, const Asked& asked) {
  FW_ASK(const std::string file, job_of(asked));
  const service::Who now = who();
  return in_turn(c, name_in(asked), [&]() -> Answer {
    FW_SURE(service::keep_guard_rules({file, text_of(asked.body), "body", now.name, now.when}));
    FW_ASK(const std::string rules, service::guard_rules_json(file));
    return answer({{"guard_rules", Json::parse(rules)}});
  });
}

}  // namespace

std::vector<Route> recording_routes() {
  return {route("POST", "jobs/*/uploads", Takes::bytes, upload),
          route("GET", "jobs/*/uploads", Takes::nothing, uploads),
          route("POST", "jobs/*/uploads/*/look", Takes::json, look),
          route("DELETE", "jobs/*/uploads/*", Takes::nothing, throw_away),
          route("POST", "jobs/*/add", Takes::json, add),
          route("GET", "jobs/*/recordings/*", Takes::nothing, recording),
          route("GET", "jobs/*/recordings/*/traces", Takes::nothing, traces),
          route("GET", "jobs/*/recordings/*/masks", Takes::nothing, masks),
          route("POST", "jobs/*/check", Takes::json, check),
          route("PUT", "jobs/*/guard-rules", Takes::json, guard_rules)};
}

}  // namespace fuelwright::apps::server
