/// Long work: items with an id, a state, progress and a way to stop them.
///
/// One item of a job runs at a time, two in all; the others wait in the order in which they came.
#pragma once

#include <chrono>
#include <condition_variable>
#include <cstdint>
#include <deque>
#include <functional>
#include <map>
#include <memory>
#include <mutex>
#include <optional>
#include <stop_token>
#include <string>
#include <thread>
#include <vector>

#include "apps/fuelwright/server/request.h"

namespace fuelwright::apps::server {

enum class WorkState { waiting, running, stopping, done, failed, cancelled };
const char* name_of(WorkState state);

/// What an item is given to do its work with.
struct Tools {
  std::stop_token stop;
  std::function<void(std::optional<double> share, const std::string& says)> progress;
};

struct WorkIn {
  std::string job;
  std::string what;   ///< "predict"
  std::string key;    ///< the same question has the same key
  std::string stamp;  ///< state of the job; with the same stamp a kept answer holds. Empty: never
  std::function<Answer(const Tools&)> run;
};

class Works {
 public:
  /// `told` hears every change: the item as JSON without its reply, and its job.
  explicit Works(std::function<void(const std::string& job, const std::string& json)> told);
  ~Works();
  Works(const Works&) = delete;
  Works& operator=(const Works&) = delete;

  /// A new item, or the one that answers the same question already. `after` is called once it is
  /// over, by the thread that ran it.
  std::int64_t submit(WorkIn in);
  /// Waits until the item is over or the time is; nullopt if there is none of that id.
  std::optional<std::string> json(std::int64_t id, bool with_reply,
                                  std::chrono::milliseconds wait = {});
  bool is_over(std::int64_t id);
  /// False if there is none of that id.
  bool cancel(std::int64_t id);
  std::string list(const std::string& job, const std::string& what);
  /// Asks all to stop; true if all have within the time.
  bool stop_all(std::chrono::milliseconds patience);

 private:
  struct Item;
  void work(const std::stop_token& over);
  std::shared_ptr<Item> next();
  void run(const std::shared_ptr<Item>& item);
  void report(const Item& item);
  std::string json_of(const Item& item, bool with_reply) const;
  void forget_old();

  std::function<void(const std::string&, const std::string&)> told_;
  std::mutex mutex_;
  std::condition_variable_any changed_;
  std::map<std::int64_t, std::shared_ptr<Item>> items_;
  std::deque<std::shared_ptr<Item>> waiting_;
  std::int64_t last_ = 0;
  bool closed_ = false;
  std::vector<std::jthread> threads_;
};

}  // namespace fuelwright::apps::server
