#include "apps/fuelwright/server/decoded.h"

#include <algorithm>

namespace fuelwright::apps::server {
namespace {

bool is_same(const service::RecordingRow& a, const service::RecordingRow& b) {
  return a.sha256 == b.sha256 && a.reading.mapping_json == b.reading.mapping_json;
}

}  // namespace

Result<Decoded::One> Decoded::get(const std::string& job, const std::string& file,
                                  const std::string& stamp, std::int64_t id) {
  const std::lock_guard lock(mutex_);  // held while one is decoded: two would need twice the memory
  const auto at = std::ranges::find_if(
      kept_, [&](const Kept& k) { return k.job == job && k.one->row.id.value == id; });
  if (at != kept_.end()) {
    if (at->stamp != stamp) {  // the file changed, perhaps not this recording
      FW_TRY(const service::ShowReply now, service::show({file, service::ShowWhat::recordings}));
      const auto row = std::ranges::find(now.recordings, id,
                                         [](const service::RecordingRow& r) { return r.id.value; });
      const bool same = row != now.recordings.end() && is_same(*row, at->one->row);
      if (same && now.units == at->one->units) at->stamp = stamp;
    }
    if (at->stamp == stamp) {
      kept_.splice(kept_.begin(), kept_, at);
      return kept_.front().one;
    }
    kept_.erase(at);
  }
  FW_TRY(One one, service::decode(file, id));
  kept_.push_front({job, stamp, one});
  std::size_t held = 0;
  for (auto it = kept_.begin(); it != kept_.end();) {
    held += it->one->held();
    it = held > kMost && it != kept_.begin() ? kept_.erase(it) : std::next(it);
  }
  return one;
}

Result<std::vector<Decoded::One>> Decoded::all(const std::string& job, const std::string& file,
                                               const std::string& stamp) {
  FW_TRY(const service::ShowReply now, service::show({file, service::ShowWhat::recordings}));
  std::vector<One> out;
  for (const service::RecordingRow& row : now.recordings) {
    auto one = get(job, file, stamp, row.id.value);
    if (one) out.push_back(std::move(*one));
  }
  return out;
}

}  // namespace fuelwright::apps::server
