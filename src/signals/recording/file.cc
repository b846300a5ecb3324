#include <fmt/format.h>

#include <cerrno>
#include <cstdio>
#include <cstring>
#include <filesystem>
#include <memory>
#include <system_error>
#include <vector>

#include "signals/recording/recording.h"

namespace fuelwright::signals {

Result<std::string> read_file(const std::string& path, std::size_t largest) {
  std::error_code problem;
  const auto status = std::filesystem::status(path, problem);
  if (!std::filesystem::exists(status)) {
    if (problem && problem != std::errc::no_such_file_or_directory) {
      return Error{ErrorCode::io, path, "cannot be looked at: " + problem.message()};
    }
    return Error{ErrorCode::not_found, path, "there is no such file"};
  }
  if (!std::filesystem::is_regular_file(status)) {
    return Error{ErrorCode::bad_input, path, "is not a regular file; expected a recording"};
  }
  const std::uintmax_t size = std::filesystem::file_size(path, problem);
  if (problem) return Error{ErrorCode::io, path, "has no size: " + problem.message()};
  const auto too_large = [&] {
    return Error{ErrorCode::too_large, path,
                 fmt::format("is larger than {} bytes, the most that is read", largest)};
  };
  if (size > largest) return too_large();
  const std::unique_ptr<std::FILE, int (*)(std::FILE*)> file(std::fopen(path.c_str(), "rb"),
                                                             &std::fclose);
  if (file == nullptr) {
    return Error{ErrorCode::io, path, fmt::format("cannot be opened: {}", std::strerror(errno))};
  }
  // In parts, so that no byte is written twice to memory; one byte more than its size would come
  // from a file that grows while it is read.
  constexpr std::size_t kPart = std::size_t{1} << 17U;
  std::string bytes;
  bytes.reserve(static_cast<std::size_t>(size));
  std::vector<char> part(kPart);
  std::setvbuf(file.get(), nullptr, _IONBF, 0);
  while (bytes.size() <= size) {
    const std::size_t got = std::fread(part.data(), 1, part.size(), file.get());
    if (std::ferror(file.get()) != 0) {
      return Error{ErrorCode::io, path, fmt::format("cannot be read: {}", std::strerror(errno))};
    }
    if (got == 0) break;
    bytes.append(part.data(), got);
  }
  if (bytes.size() > size)
    return Error{ErrorCode::conflict, path,
                 "grew while it was read; try again when it is complete"};
  return bytes;
}

}  // namespace fuelwright::signals
