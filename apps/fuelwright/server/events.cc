#include "apps/fuelwright/server/events.h"

#include <algorithm>

namespace fuelwright::apps::server {
namespace {

constexpr std::size_t kLongestQueue = 512;

}  // namespace

std::optional<std::string> Events::Listener::next(std::chrono::milliseconds wait) {
  std::unique_lock lock(mutex_);
  come_.wait_for(lock, wait, [&] { return over_ || !waiting_.empty(); });
  if (over_) return std::nullopt;
  if (waiting_.empty()) return ": alive\n\n";
  std::string out = std::move(waiting_.front());
  waiting_.pop_front();
  return out;
}

std::shared_ptr<Events::Listener> Events::listen(const std::string& job) {
  const std::lock_guard lock(mutex_);
  if (over_ || listeners_.size() >= kMost) return nullptr;
  auto one = std::make_shared<Listener>();
  one->job_ = job;
  one->waiting_.emplace_back("retry: 1000\n\n");
  listeners_.push_back(one);
  return one;
}

void Events::leave(const std::shared_ptr<Listener>& listener) {
  const std::lock_guard lock(mutex_);
  listeners_.remove(listener);
}

void Events::tell(const std::string& event, const std::string& job, const std::string& data) {
  const std::lock_guard lock(mutex_);
  for (const auto& one : listeners_) {
    if (!job.empty() && !one->job_.empty() && one->job_ != job) continue;
    const std::lock_guard its(one->mutex_);
    if (one->waiting_.size() >= kLongestQueue) one->waiting_.pop_front();
    one->waiting_.push_back("event: " + event + "\ndata: " + data + "\n\n");
    one->come_.notify_all();
  }
}

bool Events::anybody_for(const std::string& job) {
  const std::lock_guard lock(mutex_);
  return std::ranges::any_of(listeners_,
                             [&](const auto& l) { return l->job_.empty() || l->job_ == job; });
}

void Events::end() {
  const std::lock_guard lock(mutex_);
  over_ = true;
  for (const auto& one : listeners_) {
    const std::lock_guard its(one->mutex_);
    one->over_ = true;
    one->come_.notify_all();
  }
}

}  // namespace fuelwright::apps::server
