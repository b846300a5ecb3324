/// Server-sent events: who listens, and what they are told.
#pragma once

#include <chrono>
#include <condition_variable>
#include <deque>
#include <list>
#include <memory>
#include <mutex>
#include <optional>
#include <string>

namespace fuelwright::apps::server {

class Events {
 public:
  /// One client. What it does not fetch in time is dropped, the oldest first.
  class Listener {
   public:
    /// The next event as it is sent; a comment when none came in time; nullopt once all is over.
    std::optional<std::string> next(std::chrono::milliseconds wait);

   private:
    friend class Events;
    std::string job_;  // empty: all
    std::mutex mutex_;
    std::condition_variable come_;
    std::deque<std::string> waiting_;
    bool over_ = false;
  };

  static constexpr std::size_t kMost = 16;

  /// nullptr if there are kMost already.
  std::shared_ptr<Listener> listen(const std::string& job);
  void leave(const std::shared_ptr<Listener>& listener);
  /// `job` empty: for everybody.
  void tell(const std::string& event, const std::string& job, const std::string& data);
  bool anybody_for(const std::string& job);
  void end();

 private:
  std::mutex mutex_;
  std::list<std::shared_ptr<Listener>> listeners_;
  bool over_ = false;
};

}  // namespace fuelwright::apps::server
