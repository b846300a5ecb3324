// docs/http.md and the program's routes are one list.
#include "documented.h"

#include <fmt/format.h>

#include "workshop.h"

namespace fuelwright::tests {
namespace {

class Documented : public Workshop {};

TEST_F(Documented, EveryRouteOfThePageIsThere) {
  ASSERT_GE(documented().size(), 35U);
  for (const DocumentedRoute& r : documented()) {
    std::string target = "/api/v1";
    for (const std::string& piece : r.path) {
      const bool any = piece == "JOB" || piece == "ID" || piece == "UPLOAD";
      target += any ? "/1" : "/" + piece;
    }
    if (target == "/api/v1/events") continue;
    // Nothing is there to answer about; but the route is known, and so is the method.
    const Reply reply =
        raw(r.method, target, with_token(), r.method == "GET" || r.method == "DELETE" ? "" : "{}");
    EXPECT_NE(reply.code(), "method") << r.method << " " << target;
    EXPECT_EQ(reply.message().find("no such route"), std::string::npos)
        << r.method << " " << target;
    EXPECT_TRUE(!r.keys.empty() || target.ends_with("/export")) << target << " says no keys";
  }
}

}  // namespace
}  // namespace fuelwright::tests
