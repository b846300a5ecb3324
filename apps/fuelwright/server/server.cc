#include "apps/fuelwright/server/server.h"

#include <fmt/format.h>
#include <unistd.h>

#include <atomic>
#include <cerrno>
#include <chrono>
#include <csignal>
#include <cstdlib>
#include <cstring>
#include <filesystem>
#include <future>
#include <map>
#include <thread>

#include "apps/fuelwright/server/folder.h"
#include "apps/fuelwright/server/gate.h"
#include "apps/fuelwright/server/uploads.h"
#include "apps/fuelwright/server/wire.h"
#include "apps/fuelwright/session.h"

namespace fuelwright::apps::server {
namespace {

constexpr auto kPatience = std::chrono::seconds(2);
constexpr auto kLook = std::chrono::seconds(1);

Result<std::string> stand_in(const std::string& folder) {
  std::error_code problem;
  if (chdir(folder.c_str()) != 0) {
    const auto code = errno == ENOENT ? ErrorCode::not_found : ErrorCode::io;
    return Error{code, folder, fmt::format("cannot be served: {}", std::strerror(errno))};
  }
  return std::filesystem::current_path(problem).string();
}

// What others (a command, another server) do to the jobs is told as well.
void watch(Context& context, const std::stop_token& over) {
  const auto now = [] {
    std::map<std::string, std::string> out;
    for (const JobFile& f : jobs_here()) out.emplace(f.job, f.stamp);
    return out;
  };
  auto before = now();
  while (!over.stop_requested()) {
    std::this_thread::sleep_for(kLook);
    auto after = now();
    bool other_jobs = before.size() != after.size();
    for (const auto& [job, stamp] : after) {
      const auto was = before.find(job);
      other_jobs = other_jobs || was == before.end();
      if (was != before.end() && was->second != stamp) touched(context, job);
    }
    if (other_jobs) context.events.tell("jobs", "", "{}");
    before = std::move(after);
  }
}

sigset_t ends() {
  sigset_t set;
  sigemptyset(&set);
  sigaddset(&set, SIGTERM);
  sigaddset(&set, SIGINT);
  return set;
}

}  // namespace

Status serve(const ServeRequest& request) {
  const sigset_t signals = ends();
  pthread_sigmask(SIG_BLOCK, &signals, nullptr);  // before the first thread
  Context context;
  FW_TRY(context.folder, stand_in(request.folder));
  FW_TRY(context.token, fresh_token());
  context.version = request.version;
  context.started = who().when;
  Wire wire(context);
  Result<int> bound = wire.bind(request.port.value_or(kUsualPort));
  const bool taken = !bound && bound.error().code == ErrorCode::conflict;
  if (taken && !request.port) bound = wire.bind(0);
  FW_TRY(const int port, std::move(bound));
  Uploads::tidy();
  context.works.emplace([&](const std::string& job, const std::string& json) {
    context.events.tell("work", job, json);
  });
  std::jthread watcher([&](const std::stop_token& over) { watch(context, over); });
  std::promise<void> ended;
  std::future<void> end = ended.get_future();
  std::thread listening([&] {
    wire.listen();
    ended.set_value();
  });
  request.ready(fmt::format("http://127.0.0.1:{}/", port));
  int came = 0;
  sigwait(&signals, &came);
  context.events.end();
  const bool still = context.works->stop_all(kPatience);
  wire.stop();
  if (!still || end.wait_for(kPatience) != std::future_status::ready) {
    std::fflush(nullptr);
    std::_Exit(0);  // a job file loses nothing by it
  }
  listening.join();
  watcher.request_stop();
  watcher.join();
  return Done{};
}

}  // namespace fuelwright::apps::server
