/// The server: one address, one folder, the pages and /api/v1.
///
/// Only this file's .cc knows the library that speaks HTTP.
#pragma once

#include <cstdint>
#include <functional>
#include <optional>
#include <string>

#include "base/result.h"

namespace fuelwright::apps::server {

inline constexpr std::size_t kLargestBody = std::size_t{16} << 20;  ///< of a JSON request [bytes]
inline constexpr int kUsualPort = 7311;

struct ServeRequest {
  std::string folder;     ///< made the working directory
  std::optional<int> port;  ///< 0: any that is free; none: the usual one, or any if that is taken
  std::string version;
  /// Called once it answers, with the address of the pages.
  std::function<void(const std::string& address)> ready;
};

/// Serves until SIGTERM or SIGINT. Work that is going on is asked to stop and waited for briefly;
/// what does not stop is left to the job file, which loses nothing. Errors: not_found or io for the
/// folder; conflict if the port is taken; io if it cannot be had.
Status serve(const ServeRequest& request);

}  // namespace fuelwright::apps::server
