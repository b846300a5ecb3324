#include "apps/fuelwright/server/uploads.h"

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <cstring>
#include <filesystem>
#include <optional>
#include <tuple>

#include "apps/fuelwright/session.h"
#include "signals/recording/recording.h"

namespace fuelwright::apps::server {
namespace {

namespace fs = std::filesystem;

constexpr const char* kFolder = ".fuelwright/uploads";

std::string file_of(const std::string& id, const char* ending) {
  return fmt::format("{}/{}{}", kFolder, id, ending);
}

bool is_id(const std::string& id) {
  return id.size() == 16 && std::ranges::all_of(id, [](char c) {
           return (c >= '0' && c <= '9') || (c >= 'a' && c <= 'f');
         });
}

Error refused(const std::string& what) { return {ErrorCode::io, what, std::strerror(errno)}; }

Result<std::string> fresh_id() {
  unsigned char raw[8];
  if (getentropy(raw, sizeof raw) != 0) return refused("an upload");
  std::string out;
  for (const unsigned char c : raw) out += fmt::format("{:02x}", c);
  return out;
}

// No link is followed on the way.
Status make_folder() {
  for (const char* part : {".fuelwright", kFolder}) {
    if (mkdir(part, 0700) != 0 && errno != EEXIST) return refused(part);
    struct stat s {};
    if (lstat(part, &s) != 0 || !S_ISDIR(s.st_mode)) {
      return Error{ErrorCode::io, part, "is no folder"};
    }
  }
  return Done{};
}

// A file that is being written; gone unless kept.
class Part {
 public:
  explicit Part(std::string path) : path_(std::move(path)) {
    fd_ = open(path_.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_NOFOLLOW | O_CLOEXEC, 0600);
    if (fd_ >= 0) flock(fd_, LOCK_EX | LOCK_NB);  // tidy() leaves it alone
  }
  ~Part() {
    if (fd_ >= 0) close(fd_);
    if (!kept_) unlink(path_.c_str());
  }
  Part(const Part&) = delete;
  Part& operator=(const Part&) = delete;
  bool good() const { return fd_ >= 0; }
  bool add(const char* data, std::size_t size) {
    while (size > 0) {
      const ssize_t n = write(fd_, data, size);
      if (n < 0 && errno == EINTR) continue;
      if (n <= 0) return false;
      data += n;
      size -= static_cast<std::size_t>(n);
    }
    return true;
  }
  bool keep_as(const std::string& name) {
    kept_ = fsync(fd_) == 0 && rename(path_.c_str(), name.c_str()) == 0;
    return kept_;
  }

 private:
  std::string path_;
  int fd_ = -1;
  bool kept_ = false;
};

Result<Upload> read_card(const std::string& id) {
  FW_TRY(const std::string text, signals::read_file(file_of(id, ".json"), 1U << 16U));
  const Json j = Json::parse(text, nullptr, false);
  if (!j.is_object() || !j.contains("job") || !j.contains("name") || !j.contains("when") ||
      !j["job"].is_string() || !j["name"].is_string() || !j["when"].is_string()) {
    return Error{ErrorCode::damaged, id, "is no upload"};
  }
  std::error_code problem;
  const auto bytes = fs::file_size(file_of(id, ".bytes"), problem);
  if (problem) return Error{ErrorCode::not_found, id, "its bytes are gone"};
  return Upload{id, j["job"], j["name"], static_cast<std::int64_t>(bytes), j["when"]};
}

Error too_large() {
  return {ErrorCode::too_large, "upload",
          fmt::format("is longer than {} MiB, the most that is taken", Uploads::kLargest >> 20)};
}

}  // namespace

void Uploads::tidy() {
  std::error_code problem;
  std::vector<fs::path> left;
  for (fs::directory_iterator it(kFolder, problem), end; !problem && it != end;
       it.increment(problem)) {
    const auto ending = it->path().extension();
    fs::path card = it->path();
    card.replace_extension(".json");
    // Bytes are put in place before their card: without it nobody knows what they are.
    if (ending == ".part" || (ending == ".bytes" && !fs::exists(card))) left.push_back(it->path());
  }
  for (const auto& path : left) {
    const int fd = open(path.c_str(), O_RDONLY | O_NOFOLLOW | O_CLOEXEC);
    if (fd < 0) continue;
    if (flock(fd, LOCK_EX | LOCK_NB) == 0) unlink(path.c_str());
    close(fd);
  }
}

Result<Upload> Uploads::receive(const Upload& what, const Pour& pour,
                                const std::function<std::string()>& name) {
  FW_CHECK(make_folder());
  Upload out = what;
  FW_TRY(out.id, fresh_id());
  Part bytes(file_of(out.id, ".bytes.part"));
  if (!bytes.good()) return refused(kFolder);
  std::optional<Error> wrong;
  const bool whole = pour([&](const char* data, std::size_t size) {
    out.bytes += static_cast<std::int64_t>(size);
    // The rest is let go, so that the client reads the answer; up to a bound.
    if (wrong) return out.bytes < 4 * kLargest;
    if (out.bytes > kLargest) {
      wrong = too_large();
    } else if (!bytes.add(data, size)) {
      wrong = refused("upload");
    }
    return true;
  });
  if (wrong) return *wrong;
  if (!whole) {
    return Error{ErrorCode::bad_input, "upload",
                 fmt::format("ended after {} bytes, before all had come", out.bytes)};
  }
  out.name = name();
  Part card(file_of(out.id, ".json.part"));
  const std::string text =
      text_of({{"job", out.job}, {"name", out.name}, {"when", out.when}}) + "\n";
  if (!card.good() || !card.add(text.data(), text.size()) ||
      !bytes.keep_as(file_of(out.id, ".bytes")) || !card.keep_as(file_of(out.id, ".json"))) {
    const Error e = refused("upload");
    unlink(file_of(out.id, ".bytes").c_str());
    return e;
  }
  return out;
}

std::vector<Upload> Uploads::list(const std::string& job) {
  std::vector<Upload> out;
  std::error_code problem;
  for (fs::directory_iterator it(kFolder, problem), end; !problem && it != end;
       it.increment(problem)) {
    if (it->path().extension() != ".json" || !is_id(it->path().stem().string())) continue;
    auto one = read_card(it->path().stem().string());
    if (one && one->job == job) out.push_back(std::move(*one));
  }
  std::ranges::sort(out, [](const Upload& a, const Upload& b) {
    return std::tie(a.when, a.id) < std::tie(b.when, b.id);
  });
  return out;
}

Result<Upload> Uploads::find(const std::string& job, const std::string& id) {
  if (is_id(id)) {
    auto one = read_card(id);
    if (one && one->job == job) return one;
  }
  return Error{ErrorCode::not_found, "upload", "there is none of that id for this job"};
}

Result<std::string> Uploads::bytes(const Upload& upload) {
  return signals::read_file(file_of(upload.id, ".bytes"), static_cast<std::size_t>(kLargest));
}

void Uploads::remove(const Upload& upload) {
  unlink(file_of(upload.id, ".json").c_str());
  unlink(file_of(upload.id, ".bytes").c_str());
}

}  // namespace fuelwright::apps::server
