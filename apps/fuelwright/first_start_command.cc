#include "first_start_command.h"

#include <fmt/format.h>

#include <algorithm>
#include <cstdio>
#include <iostream>

#include "session.h"

namespace fuelwright::apps {
namespace {

Status nothing_else(const CheckOptions& o) {
  const char* other = !o.recordings.empty()    ? "a recording"
                      : !o.key_on.empty()      ? "--key-on"
                      : !o.channels.empty()    ? "--channel"
                      : o.afr_constant         ? "--afr-constant"
                      : !o.guard_rules.empty() ? "--guard-rules"
                                               : nullptr;
  if (!other) return Done{};
  return Error{ErrorCode::usage, "--first-start",
               fmt::format("{} came too; the first-start list is asked for alone", other)};
}

void show(const advice::StartQuestion& q) {
  fmt::print(stderr, "{}\n", q.text);
  for (const auto& option : q.options) {
    fmt::print(stderr, "  {:<10} {}\n", option.give, option.means);
  }
}

// Until nothing is open; what does not fit is said and asked again.
Status ask(service::FirstStartRequest& request) {
  while (true) {
    FW_TRY(const service::StartQuestionsReply asked, service::start_questions(request));
    if (asked.open == 0) return Done{};
    const auto open =
        std::ranges::find_if(asked.questions, [](const auto& q) { return q.answer.empty(); });
    show(*open);
    fmt::print(stderr, "> ");
    std::string line;
    if (!std::getline(std::cin, line)) {
      return Error{ErrorCode::needs_answer, open->id, "no answer came; " + open->text};
    }
    service::FirstStartRequest with = request;
    with.answers.push_back({open->id, line});
    const auto fits = service::start_questions(with);
    if (fits) {
      request = std::move(with);
    } else {
      fmt::print(stderr, "  {}\n", fits.error().message);
    }
  }
}

}  // namespace

Result<service::FirstStartReply> first_start_of(const CheckOptions& o,
                                                const advice::WeatherReport& weather) {
  FW_CHECK(nothing_else(o));
  service::FirstStartRequest request{.job = o.job, .weather = weather};
  request.lean_limit = o.lean_limit;
  request.lean_chance = o.lean_chance;
  for (const auto& [id, text] : o.answers) {
    if (!text.empty()) request.answers.push_back({id, text});
  }
  if (a_person_answers()) FW_CHECK(ask(request));
  progress("looking at the engine without load");
  return service::first_start(request);
}

}  // namespace fuelwright::apps
