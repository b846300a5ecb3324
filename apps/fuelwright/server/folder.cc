#include "apps/fuelwright/server/folder.h"

#include <fmt/chrono.h>
#include <fmt/format.h>
#include <sys/stat.h>

#include <algorithm>
#include <ctime>
#include <filesystem>

namespace fuelwright::apps::server {
namespace {

constexpr std::size_t kLongest = 80;  // bytes
constexpr const char* kEnding = ".fw";

// Well-formed UTF-8, no control characters (RFC 3629).
bool is_clean_utf8(const std::string& s) {
  for (std::size_t i = 0; i < s.size();) {
    const auto c = static_cast<unsigned char>(s[i]);
    if (c < 0x20 || c == 0x7f) return false;
    const std::size_t more = c < 0x80                ? 0
                             : c >= 0xC2 && c < 0xE0 ? 1
                             : c >= 0xE0 && c < 0xF0 ? 2
                             : c >= 0xF0 && c < 0xF5 ? 3
                                                     : 9;
    if (more == 9 || i + more >= s.size()) return false;
    std::uint32_t code = more == 0 ? c : c & (0x3FU >> more);
    for (std::size_t k = 1; k <= more; ++k) {
      const auto d = static_cast<unsigned char>(s[i + k]);
      if ((d & 0xC0U) != 0x80) return false;
      code = (code << 6U) | (d & 0x3FU);
    }
    if ((more == 2 && code < 0x800) || (more == 3 && (code < 0x10000 || code > 0x10FFFF)) ||
        (code >= 0xD800 && code < 0xE000) || (code >= 0x80 && code < 0xA0)) {
      return false;
    }
    i += more + 1;
  }
  return true;
}

bool is_name(const std::string& job) {
  if (job.empty() || job.size() > kLongest || !is_clean_utf8(job)) return false;
  if (job.find_first_of("/\\") != std::string::npos) return false;
  return job.front() != '.' && job.front() != '-' && job.front() != ' ' && job.back() != ' ';
}

std::string one_stamp(const std::string& file) {
  struct stat s {};
  if (lstat(file.c_str(), &s) != 0) return "-";
  return fmt::format("{}.{}.{}", s.st_size, s.st_mtim.tv_sec, s.st_mtim.tv_nsec);
}

}  // namespace

std::string utc(std::int64_t seconds) {
  return fmt::format("{:%Y-%m-%dT%H:%M:%SZ}", fmt::gmtime(static_cast<std::time_t>(seconds)));
}

Result<std::string> job_file(const std::string& job) {
  if (is_name(job)) return job + kEnding;
  return Error{ErrorCode::usage, "job",
               fmt::format("\"{}\" came; expected a name of 1 to {} bytes without / and \\, not "
                           "beginning with a point, a dash or a blank",
                           is_clean_utf8(job) ? job.substr(0, kLongest) : "no text", kLongest)};
}

Result<std::string> job_there(const std::string& job) {
  FW_TRY(const std::string file, job_file(job));
  struct stat s {};
  if (lstat(file.c_str(), &s) == 0 && S_ISREG(s.st_mode)) return file;
  return Error{ErrorCode::not_found, file, "there is no such job in this folder"};
}

std::string stamp_of(const std::string& job) {
  const auto file = job_file(job);
  if (!file) return "";
  const std::string own = one_stamp(*file);
  return own == "-" ? "" : own + "/" + one_stamp(*file + "-wal");
}

std::vector<JobFile> jobs_here() {
  std::vector<JobFile> out;
  std::error_code problem;
  for (std::filesystem::directory_iterator it(".", problem), end; !problem && it != end;
       it.increment(problem)) {
    const std::string file = it->path().filename().string();
    if (!file.ends_with(kEnding)) continue;
    const std::string job = file.substr(0, file.size() - 3);
    struct stat s {};
    if (!is_name(job) || lstat(file.c_str(), &s) != 0 || !S_ISREG(s.st_mode)) continue;
    out.push_back({job, s.st_size, utc(s.st_mtim.tv_sec), stamp_of(job)});
  }
  std::ranges::sort(out, {}, &JobFile::job);
  return out;
}

}  // namespace fuelwright::apps::server
