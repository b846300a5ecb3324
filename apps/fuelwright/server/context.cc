#include "apps/fuelwright/server/context.h"

#include <fmt/format.h>

#include <algorithm>

#include "apps/fuelwright/server/folder.h"
#include "apps/fuelwright/session.h"
#include "car/fuel/mixture.h"

namespace fuelwright::apps::server {

std::mutex& Context::turn_of(const std::string& job) {
  const std::lock_guard lock(turns_mutex_);
  auto& turn = turns_[job];
  if (!turn) turn = std::make_unique<std::mutex>();
  return *turn;
}

Route route(const char* method, const char* path, Takes takes,
            Answer (*answer)(Context&, const Asked&)) {
  Route out{method, {}, takes, answer};
  const std::string_view text = path;
  for (std::size_t from = 0; from <= text.size();) {
    const auto slash = std::min(text.find('/', from), text.size());
    out.path.emplace_back(text.substr(from, slash - from));
    from = slash + 1;
  }
  return out;
}

const std::string& name_in(const Asked& asked) { return asked.path.at(1); }

Result<std::string> job_of(const Asked& asked) { return job_there(name_in(asked)); }

void touched(Context& context, const std::string& job) {
  {
    const std::lock_guard lock(context.known_mutex);
    context.known.erase(job);
  }
  if (!context.events.anybody_for(job)) return;
  const auto file = job_there(job);
  const auto head = file ? service::journal_head(*file) : Result<std::int64_t>(std::int64_t{0});
  const std::int64_t now = head ? *head : 0;
  {
    const std::lock_guard lock(context.known_mutex);
    std::int64_t& told = context.journal_told[job];
    if (told == now && now != 0) return;  // it was merely looked at
    told = now;
  }
  context.events.tell("changed", job, text_of({{"job", job}, {"journal", now}}));
}

Answer in_turn(Context& context, const std::string& job, const std::function<Answer()>& write) {
  Answer out;
  {
    const std::lock_guard lock(context.turn_of(job));
    out = write();
  }
  if (out.status < 400) touched(context, job);
  return out;
}

Answer put_up(Context& context, const Asked& asked, const char* what, bool only_reads,
              std::function<Answer(const Tools&)> run) {
  constexpr double kLongest_s = 25;
  Fields query(asked.query, "query", true);
  const double wait = query.number("wait").value_or(0);
  if (!(wait >= 0 && wait <= kLongest_s)) query.fail("wait", "0 to 25 seconds");
  FW_SURE(query.done());
  const std::string job = name_in(asked);
  WorkIn in{job, what, std::string(what) + " " + text_of(asked.body),
            only_reads ? stamp_of(job) : "", std::move(run)};
  if (!only_reads) {
    in.run = [&context, job, run = std::move(in.run)](const Tools& tools) {
      Answer out = run(tools);
      touched(context, job);
      return out;
    };
  }
  const auto id = context.works->submit(std::move(in));
  const auto ms = std::chrono::milliseconds(static_cast<int>(1000 * wait));
  const auto text = context.works->json(id, true, ms);
  if (!text) return refusal(500, "bug", what, "the item is gone");
  return {context.works->is_over(id) ? 200 : 202, *text + "\n"};
}

service::TableIn pasted(Fields& in) {
  service::TableIn out;
  out.text = in.needed_text("text");
  out.name = in.maybe_text("name").value_or("the pasted table");
  if (const auto load = in.maybe_text("load")) {
    const auto kind = car::axis_kind_named(*load);
    if (kind) {
      out.reading.load = *kind;
    } else {
      in.fail(kind.error());
    }
  }
  if (const auto unit = in.maybe_text("load_unit")) out.reading.y_unit = *unit;
  if (const auto mark = in.maybe_text("decimal")) {
    if (*mark == "comma") {
      out.reading.decimal = ',';
    } else if (*mark == "point") {
      out.reading.decimal = '.';
    } else {
      in.fail("decimal", "comma or point");
    }
  }
  out.reading.last_row_first = in.flag("highest_first");
  return out;
}

std::optional<service::TableIn> pasted_in(Fields& in, const char* key) {
  const Json* j = in.object(key);
  if (!j) return std::nullopt;
  Fields inner(*j, std::string("body: ") + key);
  auto out = pasted(inner);
  if (const Status s = inner.done(); !s) in.fail(s.error());
  return out;
}

namespace {

void channel_answers(const Json& channels, signals::Answers& out, Fields& in) {
  for (const auto& [header, one] : channels.items()) {
    Fields channel(one, "body: answers: channels: " + header);
    signals::ChannelAnswer answer;
    if (const auto name = channel.maybe_text("quantity"); name && !name->empty()) {
      answer.what = signals::find_quantity(*name);
      if (!answer.what) channel.fail("quantity", "one of " + signals::quantity_names());
    }
    answer.unit = channel.text("unit");
    if (const Status s = channel.done(); !s) return in.fail(s.error());
    out.channels.emplace(header, std::move(answer));
  }
}

}  // namespace

advice::WeatherReport weather_in(Fields& in) {
  advice::WeatherReport out;
  if (const auto v = figure(in, "barometer", Kind::absolute_pressure))
    out.station = absolute(*v * pascal);
  if (const auto v = figure(in, "sea_level", Kind::absolute_pressure))
    out.sea_level = absolute(*v * pascal);
  if (const auto v = figure(in, "altitude", Kind::length)) out.altitude = *v * metre;
  if (const auto v = figure(in, "air", Kind::temperature)) out.air = kelvin(*v);
  if (const auto v = figure(in, "stood", Kind::time)) out.stood = *v * second;
  return out;
}

signals::Answers answers_in(Fields& in, const char* key) {
  signals::Answers out;
  const Json* j = in.object(key);
  if (!j) return out;
  Fields a(*j, std::string("body: ") + key);
  if (const Json* channels = a.object("channels")) channel_answers(*channels, out, a);
  if (const auto afr = a.number("afr_constant")) {
    if (const auto scale = car::MixtureScale::in_afr(*afr); !scale) a.fail(scale.error());
    out.afr_constant = *afr;
  }
  if (const auto rate = a.maybe_text("rate")) {
    const auto step = signals::parse_row_step(*rate);
    if (step) {
      out.row_step = *step;
    } else {
      a.fail(step.error());
    }
  }
  if (const auto ambient = figure(a, "ambient", Kind::absolute_pressure)) {
    out.ambient = absolute(*ambient * pascal);
  }
  out.unordered = a.flag("unordered");
  if (const Status s = a.done(); !s) in.fail(s.error());
  return out;
}

std::optional<double> figure(Fields& in, const char* key, Kind kind) {
  const auto text = in.maybe_text(key);
  if (!text || text->empty()) return std::nullopt;
  const auto read = parse_number(*text, kind);
  if (read) return read->si;
  in.fail(Error{read.error().code, std::string("body: ") + key, read.error().message});
  return std::nullopt;
}

}  // namespace fuelwright::apps::server
