#include "service/job/internal/files.h"

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/stat.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <cstdio>
#include <cstring>
#include <utility>

namespace fuelwright::service::internal {
namespace {

std::string folder_of(const std::string& path) {
  const auto slash = path.rfind('/');
  if (slash == std::string::npos) return ".";
  return slash == 0 ? "/" : path.substr(0, slash);
}

Error refused(const std::string& path, int code) {
  if (code == ENOENT || code == ENOTDIR) {
    return {ErrorCode::not_found, path, fmt::format("there is no folder {}", folder_of(path))};
  }
  return {ErrorCode::io, path,
          fmt::format("a file cannot be made in {}: {}", folder_of(path), std::strerror(code))};
}

// Rename that fails with EEXIST instead of replacing; a hard link where the file system does not
// know how.
int rename_to_free_name(const std::string& from, const std::string& to) {
  if (renameat2(AT_FDCWD, from.c_str(), AT_FDCWD, to.c_str(), RENAME_NOREPLACE) == 0) return 0;
  if (errno != EINVAL && errno != ENOSYS) return errno;
  if (link(from.c_str(), to.c_str()) != 0) return errno;
  unlink(from.c_str());
  return 0;
}

void sync_folder(const std::string& folder) {
  const int fd = open(folder.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC);
  if (fd < 0) return;
  fsync(fd);
  close(fd);
}

}  // namespace

Result<std::int64_t> size_of_plain_file(const std::string& path) {
  struct stat info{};
  if (lstat(path.c_str(), &info) != 0) {
    if (errno == ENOENT || errno == ENOTDIR) {
      return Error{ErrorCode::not_found, path, "there is no such file; expected a job (.fw)"};
    }
    return Error{ErrorCode::io, path, std::strerror(errno)};
  }
  if (S_ISDIR(info.st_mode)) {
    return Error{ErrorCode::bad_input, path, "is a folder; expected a job (.fw)"};
  }
  if (S_ISLNK(info.st_mode)) {
    return Error{ErrorCode::bad_input, path,
                 "is a symbolic link; expected the job itself, so that its log stays beside it"};
  }
  if (!S_ISREG(info.st_mode)) {
    return Error{ErrorCode::bad_input, path, "is not a plain file; expected a job (.fw)"};
  }
  if (info.st_size == 0) {
    return Error{ErrorCode::damaged, path,
                 "is empty (0 bytes); expected a job. Nothing was changed"};
  }
  return static_cast<std::int64_t>(info.st_size);
}

bool is_taken(const std::string& path) {
  struct stat info{};
  return lstat(path.c_str(), &info) == 0;
}

bool folder_is_writable(const std::string& path) {
  return access(folder_of(path).c_str(), W_OK) == 0;
}

std::int64_t log_size(const std::string& path) {
  struct stat info{};
  return lstat((path + "-wal").c_str(), &info) == 0 ? static_cast<std::int64_t>(info.st_size) : 0;
}

Result<Draft> Draft::make(const std::string& final_path) {
  constexpr int kTries = 100;
  for (int i = 0; i < kTries; ++i) {
    std::string path = fmt::format("{}.draft-{}-{}", final_path, getpid(), i);
    const int fd = open(path.c_str(), O_CREAT | O_EXCL | O_RDWR | O_CLOEXEC, 0666);
    if (fd >= 0) {
      close(fd);
      return Draft(std::move(path));
    }
    if (errno != EEXIST) return refused(final_path, errno);
  }
  return refused(final_path, EEXIST);
}

Draft::Draft(Draft&& other) noexcept : path_(std::exchange(other.path_, {})) {}

Draft::~Draft() {
  if (path_.empty()) return;
  for (const char* tail : {"", "-journal", "-wal", "-shm"}) unlink((path_ + tail).c_str());
}

Status Draft::publish(const std::string& final_path) {
  const int code = rename_to_free_name(path_, final_path);
  if (code == EEXIST) {
    return Error{ErrorCode::conflict, final_path, "exists already; expected a name that is free"};
  }
  if (code != 0) return refused(final_path, code);
  path_.clear();
  sync_folder(folder_of(final_path));
  return Done{};
}

}  // namespace fuelwright::service::internal
