/// Decoded recordings kept for the next look, up to a bound of memory; the oldest go first.
#pragma once

#include <cstdint>
#include <list>
#include <memory>
#include <mutex>
#include <string>
#include <vector>

#include "service/service.h"

namespace fuelwright::apps::server {

class Decoded {
 public:
  static constexpr std::size_t kMost = std::size_t{1536} << 20;  ///< [bytes], the newest always

  using One = std::shared_ptr<const service::DecodedRecording>;
  /// `stamp`: another one whenever the job's file has changed.
  Result<One> get(const std::string& job, const std::string& file, const std::string& stamp,
                  std::int64_t id);
  /// All of a job. Those that cannot be read are left out.
  Result<std::vector<One>> all(const std::string& job, const std::string& file,
                               const std::string& stamp);

 private:
  struct Kept {
    std::string job, stamp;
    One one;
  };
  std::mutex mutex_;
  std::list<Kept> kept_;  // the newest first
};

}  // namespace fuelwright::apps::server
