// Work that is going on.
#include "apps/fuelwright/server/context.h"

namespace fuelwright::apps::server {
namespace {

Result<std::int64_t> number_of(const Asked& asked) {
  const Json one = {{"id", asked.path.at(1)}};
  Fields in(one, "work", true);
  const auto id = in.whole("id", 1, INT64_MAX);
  FW_CHECK(in.done());
  return *id;
}

Answer none() {
  return refusal(Error{ErrorCode::not_found, "work",
                       "there is none of that id; work is forgotten when the server stops"});
}

Answer list(Context& c, const Asked& asked) {
  Fields query(asked.query, "query", true);
  const std::string job = query.text("job"), what = query.text("do");
  FW_SURE(query.done());
  return {200, c.works->list(job, what)};
}

Answer one(Context& c, const Asked& asked) {
  constexpr double kLongest_s = 25;
  Fields query(asked.query, "query", true);
  const double wait = query.number("wait").value_or(0);
  if (!(wait >= 0 && wait <= kLongest_s)) query.fail("wait", "0 to 25 seconds");
  FW_SURE(query.done());
  FW_ASK(const std::int64_t id, number_of(asked));
  const auto text =
      c.works->json(id, true, std::chrono::milliseconds(static_cast<int>(1000 * wait)));
  return text ? Answer{200, *text + "\n"} : none();
}

Answer cancel(Context& c, const Asked& asked) {
  FW_ASK(const std::int64_t id, number_of(asked));
  if (!c.works->cancel(id)) return none();
  const auto text = c.works->json(id, true);
  return text ? Answer{200, *text + "\n"} : none();
}

}  // namespace

std::vector<Route> work_routes() {
  return {route("GET", "long-work", Takes::nothing, list),
          route("GET", "long-work/*", Takes::nothing, one),
          route("DELETE", "long-work/*", Takes::nothing, cancel)};
}

}  // namespace fuelwright::apps::server
