#include "session.h"

#include <fmt/chrono.h>
#include <fmt/format.h>
#include <pwd.h>
#include <unistd.h>

#include <atomic>
#include <cerrno>
#include <chrono>
#include <csignal>
#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <ctime>
#include <thread>

namespace fuelwright::apps {

service::Who who() {
  std::string name;
  if (const char* given = std::getenv("FUELWRIGHT_USER")) name = given;
  if (name.empty()) {
    if (const passwd* p = getpwuid(getuid())) name = p->pw_name;
  }
  if (name.empty()) name = "unknown";
  return {name, fmt::format("{:%Y-%m-%dT%H:%M:%SZ}", fmt::gmtime(std::time(nullptr)))};
}

bool on_a_terminal() { return isatty(STDERR_FILENO) != 0; }
bool a_person_answers() { return on_a_terminal() && isatty(STDIN_FILENO) != 0; }

void progress(const std::string& text) {
  if (!on_a_terminal()) return;
  fmt::print(stderr, "\r\x1b[2K{}", text);
  std::fflush(stderr);
}

void end_progress() {
  if (on_a_terminal()) fmt::print(stderr, "\r\x1b[2K");
}

namespace {

std::atomic<bool> interrupted{false};

void on_interrupt(int) {
  interrupted = true;
  std::signal(SIGINT, SIG_DFL);
}

}  // namespace

bool was_interrupted() { return interrupted; }

std::stop_token stop_when_interrupted() {
  static std::stop_source source;
  std::signal(SIGINT, on_interrupt);
  // A handler may not ask a stop_source itself: a thread looks on its behalf.
  static const std::jthread kWatch([](const std::stop_token& over) {
    while (!over.stop_requested()) {
      if (interrupted) source.request_stop();
      std::this_thread::sleep_for(std::chrono::milliseconds(50));
    }
  });
  return source.get_token();
}

Status write_file(const std::string& path, const std::string& text) {
  const std::string part = path + ".part";
  const auto fail = [&](const char* what) {
    const Error e{ErrorCode::io, path, fmt::format("{}: {}", what, std::strerror(errno))};
    std::remove(part.c_str());
    return e;
  };
  std::FILE* file = std::fopen(part.c_str(), "wb");
  if (!file) return fail("cannot be written");
  const bool written = std::fwrite(text.data(), 1, text.size(), file) == text.size() &&
                       std::fflush(file) == 0 && fsync(fileno(file)) == 0;
  const bool closed = std::fclose(file) == 0;
  if (!written || !closed) return fail("cannot be written");
  if (std::rename(part.c_str(), path.c_str()) != 0) return fail("cannot be put in place");
  return Done{};
}

}  // namespace fuelwright::apps
