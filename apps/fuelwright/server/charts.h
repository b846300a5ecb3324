/// Charts kept for the next look: a section that is drawn across one, or a track over it, must not
/// compute the engine from its parts again.
#pragma once

#include <list>
#include <memory>
#include <mutex>
#include <optional>
#include <string>

#include "service/chart.h"

namespace fuelwright::apps::server {

class Charts {
 public:
  static constexpr std::size_t kMost = 8;

  using One = std::shared_ptr<const service::ChartReply>;
  /// `stamp`: another one whenever the job's file has changed. What `request` says of recordings is
  /// left out. Errors: those of service::chart(), which are not kept.
  Result<One> get(const std::string& stamp, service::ChartRequest request);

 private:
  struct Kept {
    std::string job, stamp;
    std::optional<car::TableWhat> table;
    std::optional<int> against;
    bool of_parts = false;
    One one;
  };
  std::mutex mutex_;
  std::list<Kept> kept_;  // the newest first
};

}  // namespace fuelwright::apps::server
