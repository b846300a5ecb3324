#include "apps/fuelwright/server/works.h"

#include <fmt/format.h>

#include <algorithm>

#include "base/contract.h"

namespace fuelwright::apps::server {

using Clock = std::chrono::steady_clock;

namespace {

constexpr int kAtOnce = 2;
constexpr std::size_t kKept = 200;
constexpr auto kReportEvery = std::chrono::milliseconds(100);

}  // namespace

const char* name_of(WorkState state) {
  switch (state) {
    case WorkState::waiting:
      return "waiting";
    case WorkState::running:
      return "running";
    case WorkState::stopping:
      return "stopping";
    case WorkState::done:
      return "done";
    case WorkState::failed:
      return "failed";
    case WorkState::cancelled:
      return "cancelled";
  }
  broken_contract("a state of work", __FILE__, __LINE__);
}

struct Works::Item {
  std::int64_t id = 0;
  WorkIn in;
  WorkState state = WorkState::waiting;
  std::optional<double> share;
  std::string says = "waiting";
  Clock::time_point began, ended, reported;
  std::stop_source stop;
  int status = 0;
  std::string reply, error;  // JSON texts

  bool over() const {
    return state == WorkState::done || state == WorkState::failed || state == WorkState::cancelled;
  }
  bool busy() const { return state == WorkState::running || state == WorkState::stopping; }
};

Works::Works(std::function<void(const std::string&, const std::string&)> told)
    : told_(std::move(told)) {
  for (int i = 0; i < kAtOnce; ++i) {
    threads_.emplace_back([this](const std::stop_token& over) { work(over); });
  }
}

Works::~Works() {
  for (auto& t : threads_) t.request_stop();
  changed_.notify_all();
}

std::int64_t Works::submit(WorkIn in) {
  const std::lock_guard lock(mutex_);
  for (auto it = items_.rbegin(); it != items_.rend(); ++it) {
    const Item& i = *it->second;
    if (i.in.job != in.job || i.in.key != in.key) continue;
    // What runs was begun with the job as it was then; what waits will see it as it is now.
    const bool still =
        i.state == WorkState::waiting || (i.state == WorkState::running && i.in.stamp == in.stamp);
    const bool holds = i.state == WorkState::done && !in.stamp.empty() && i.in.stamp == in.stamp;
    if (still || holds) return i.id;
  }
  auto item = std::make_shared<Item>();
  item->id = ++last_;
  item->in = std::move(in);
  items_.emplace(item->id, item);
  waiting_.push_back(item);
  forget_old();
  report(*item);
  changed_.notify_all();
  return item->id;
}

void Works::forget_old() {
  for (auto it = items_.begin(); it != items_.end() && items_.size() > kKept;) {
    it = it->second->over() ? items_.erase(it) : std::next(it);
  }
}

// The first that waits and whose job nobody works on.
std::shared_ptr<Works::Item> Works::next() {
  for (auto it = waiting_.begin(); it != waiting_.end(); ++it) {
    const bool taken = std::ranges::any_of(items_, [&](const auto& other) {
      return other.second->busy() && other.second->in.job == (*it)->in.job;
    });
    if (taken) continue;
    auto out = *it;
    waiting_.erase(it);
    return out;
  }
  return nullptr;
}

void Works::work(const std::stop_token& over) {
  while (true) {
    std::shared_ptr<Item> item;
    {
      std::unique_lock lock(mutex_);
      if (!changed_.wait(lock, over, [&] { return (item = next()) != nullptr; })) return;
      item->state = WorkState::running;
      item->says = "beginning";
      item->began = Clock::now();
      report(*item);
    }
    run(item);
  }
}

void Works::run(const std::shared_ptr<Item>& item) {
  const Tools tools{item->stop.get_token(),
                    [&](std::optional<double> share, const std::string& says) {
                      const std::lock_guard lock(mutex_);
                      item->share = share;
                      item->says = says;
                      const auto now = Clock::now();
                      if (now - item->reported < kReportEvery) return;
                      item->reported = now;
                      report(*item);
                    }};
  Answer a;
  try {
    a = item->in.run(tools);
  } catch (const std::exception& e) {
    a = refusal(500, "bug", item->in.what, std::string("this is our mistake: ") + e.what());
  }
  const std::lock_guard lock(mutex_);
  item->ended = Clock::now();
  item->in.run = {};
  const bool good = a.status < 400;
  item->status = good ? 200 : a.status;
  if (good) {
    item->reply = std::move(a.body);
    item->share = 1;
    item->state = WorkState::done;
    item->says = "done";
  } else {
    item->error = Json::parse(a.body).at("error").dump();
    item->state = item->stop.stop_requested() ? WorkState::cancelled : WorkState::failed;
    item->says = name_of(item->state);
  }
  report(*item);
  changed_.notify_all();
}

bool Works::cancel(std::int64_t id) {
  const std::lock_guard lock(mutex_);
  const auto it = items_.find(id);
  if (it == items_.end()) return false;
  Item& i = *it->second;
  if (i.over()) return true;
  i.stop.request_stop();
  if (i.state == WorkState::waiting) {
    std::erase(waiting_, it->second);
    i.state = WorkState::cancelled;
    i.status = 409;
    i.error =
        Json{{"code", "conflict"}, {"where", i.in.job}, {"message", "was stopped before it began"}}
            .dump();
    i.says = "cancelled";
  } else {
    i.state = WorkState::stopping;
    i.says = "stopping";
  }
  report(i);
  changed_.notify_all();
  return true;
}

bool Works::is_over(std::int64_t id) {
  const std::lock_guard lock(mutex_);
  const auto it = items_.find(id);
  return it == items_.end() || it->second->over();
}

std::optional<std::string> Works::json(std::int64_t id, bool with_reply,
                                       std::chrono::milliseconds wait) {
  std::unique_lock lock(mutex_);
  const auto it = items_.find(id);
  if (it == items_.end()) return std::nullopt;
  const auto item = it->second;
  changed_.wait_for(lock, wait, [&] { return item->over() || closed_; });
  return json_of(*item, with_reply);
}

// The reply is a JSON text already and is put in as it is.
std::string Works::json_of(const Item& i, bool with_reply) const {
  const auto until = i.over() ? i.ended : Clock::now();
  const bool began = i.began != Clock::time_point{};
  const Json head{{"id", i.id},
                  {"job", i.in.job},
                  {"do", i.in.what},
                  {"state", name_of(i.state)},
                  {"share", i.share ? Json(*i.share) : Json(nullptr)},
                  {"says", i.says},
                  {"seconds", began && (!i.over() || i.ended > i.began)
                                  ? std::chrono::duration<double>(until - i.began).count()
                                  : 0.0},
                  {"status", i.over() ? Json(i.status) : Json(nullptr)}};
  std::string text = text_of(head);
  text.pop_back();
  return fmt::format("{},\"reply\":{},\"error\":{}}}", text,
                     with_reply && !i.reply.empty() ? i.reply : "null",
                     i.error.empty() ? "null" : i.error);
}

std::string Works::list(const std::string& job, const std::string& what) {
  const std::lock_guard lock(mutex_);
  std::string out;
  for (auto it = items_.rbegin(); it != items_.rend(); ++it) {
    const WorkIn& in = it->second->in;
    if ((!job.empty() && in.job != job) || (!what.empty() && in.what != what)) continue;
    out += (out.empty() ? "" : ",") + json_of(*it->second, false);
  }
  return "{\"work\":[" + out + "]}\n";
}

void Works::report(const Item& item) { told_(item.in.job, json_of(item, false)); }

bool Works::stop_all(std::chrono::milliseconds patience) {
  std::unique_lock lock(mutex_);
  closed_ = true;
  waiting_.clear();
  for (auto& [id, item] : items_) item->stop.request_stop();
  changed_.notify_all();
  return changed_.wait_for(lock, patience, [&] {
    return std::ranges::none_of(items_, [](const auto& i) { return i.second->busy(); });
  });
}

}  // namespace fuelwright::apps::server
