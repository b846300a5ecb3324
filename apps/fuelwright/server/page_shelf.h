/// Pages as answers: which file a path is, whether the browser has it already, compressed or not.
#pragma once

#include <string>

#include "apps/fuelwright/server/request.h"

namespace fuelwright::apps::server {

/// `known`: header If-None-Match. A path without a file's ending is a place within the pages and is
/// answered with /index.html.
Answer page(const std::string& path, const std::string& known, bool takes_gzip);

}  // namespace fuelwright::apps::server
