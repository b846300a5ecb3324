/// fuelwright serve: the browser pages.
#pragma once

#include <optional>
#include <string>

#include "apps/fuelwright/server/server.h"
#include "commands.h"

namespace fuelwright::apps {

struct ServeOptions {
  std::string folder = ".";
  std::optional<int> port;  ///< none: the usual one, or any that is free
};
int run_serve(const ServeOptions& o);

}  // namespace fuelwright::apps
