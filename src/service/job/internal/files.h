/// What a job needs of the file system itself: is this a plain file, and put a finished file under
/// its name without ever replacing another. No file that SQLite may have open is opened here:
/// closing it would drop SQLite's locks.
#pragma once

#include <cstdint>
#include <string>

#include "base/result.h"

namespace fuelwright::service::internal {

/// not_found; bad_input for a folder, a symbolic link, a device; damaged if it is empty. Answers
/// its size [bytes].
Result<std::int64_t> size_of_plain_file(const std::string& path);
/// True if the name is taken by anything, a dangling symbolic link included.
bool is_taken(const std::string& path);
/// True if a file can be made in the folder that `path` names a file of.
bool folder_is_writable(const std::string& path);
/// Size of the write-ahead log beside a job [bytes]; 0 if there is none.
std::int64_t log_size(const std::string& path);

/// A file under a name of its own in the same folder, removed with its companions unless it is
/// published.
class Draft {
 public:
  /// Errors: not_found if the folder does not exist; io.
  static Result<Draft> make(const std::string& final_path);
  Draft(Draft&& other) noexcept;
  Draft& operator=(Draft&&) = delete;
  ~Draft();

  const std::string& path() const { return path_; }
  /// Gives the draft its final name, on the disk when this returns. Errors: conflict if the name is
  /// taken; io.
  Status publish(const std::string& final_path);

 private:
  explicit Draft(std::string path) : path_(std::move(path)) {}
  std::string path_;
};

}  // namespace fuelwright::service::internal
