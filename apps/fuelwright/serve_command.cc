#include "serve_command.h"

#include <fmt/format.h>

#include <cstdio>

namespace fuelwright::apps {

int run_serve(const ServeOptions& o) {
  server::ServeRequest request;
  request.folder = o.folder;
  request.port = o.port;
  request.version = FUELWRIGHT_VERSION;
  request.ready = [](const std::string& address) {
    fmt::print("Fuelwright's pages: {}\nThey are for this machine alone. Ctrl-C ends them.\n",
               address);
    std::fflush(stdout);
  };
  const Status served = server::serve(request);
  if (served) return 0;
  fmt::print(stderr, "fuelwright: {}\n", served.error().line());
  return exit_code(served.error().code);
}

}  // namespace fuelwright::apps
