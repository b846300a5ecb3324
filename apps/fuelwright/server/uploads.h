/// Recordings that have come but are not added yet: bytes and what they are called, in files below
/// the served folder (".fuelwright/uploads"), so that a restart loses none.
///
/// While bytes come they stand in ID.part; what a dead program left of that kind goes at the next
/// start.
#pragma once

#include <cstdint>
#include <functional>
#include <string>
#include <vector>

#include "base/result.h"
#include "apps/fuelwright/server/request.h"

namespace fuelwright::apps::server {

struct Upload {
  std::string id;
  std::string job;
  std::string name;
  std::int64_t bytes = 0;
  std::string when;
};

class Uploads {
 public:
  static constexpr std::int64_t kLargest = std::int64_t{512} << 20;
  static constexpr int kAtOnce = 2;

  /// Takes away what an earlier program left half done.
  static void tidy();

  /// `name` is asked once all has come. Errors: too_large; bad_input if less came than was
  /// announced; io (disk full and the like). Then nothing is kept.
  static Result<Upload> receive(const Upload& what, const Pour& pour,
                                const std::function<std::string()>& name);
  /// Of one job, the oldest first.
  static std::vector<Upload> list(const std::string& job);
  /// Errors: not_found.
  static Result<Upload> find(const std::string& job, const std::string& id);
  static Result<std::string> bytes(const Upload& upload);
  static void remove(const Upload& upload);
};

}  // namespace fuelwright::apps::server
