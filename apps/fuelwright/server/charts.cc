#include "apps/fuelwright/server/charts.h"

#include <algorithm>

namespace fuelwright::apps::server {

Result<Charts::One> Charts::get(const std::string& stamp, service::ChartRequest request) {
  request.recordings.clear();
  const std::lock_guard lock(mutex_);  // held meanwhile: whoever asks for the same waits for it
  std::erase_if(kept_, [&](const Kept& k) { return k.job == request.job && k.stamp != stamp; });
  const auto at = std::ranges::find_if(kept_, [&](const Kept& k) {
    return k.job == request.job && k.table == request.table && k.against == request.against &&
           k.of_parts == request.of_parts;
  });
  if (at != kept_.end()) {
    kept_.splice(kept_.begin(), kept_, at);
    return kept_.front().one;
  }
  FW_TRY(service::ChartReply reply, service::chart(request));
  kept_.push_front({request.job, stamp, request.table, request.against, request.of_parts,
                    std::make_shared<const service::ChartReply>(std::move(reply))});
  if (kept_.size() > kMost) kept_.pop_back();
  return kept_.front().one;
}

}  // namespace fuelwright::apps::server
