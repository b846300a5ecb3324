/// For the tests of this folder: a workshop with a job and recordings, and the program run in it as
/// a person would run it, or killed while it runs.
#pragma once

#include <fcntl.h>
#include <gtest/gtest.h>
#include <signal.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <functional>
#include <iterator>
#include <sstream>
#include <string>
#include <vector>

namespace fuelwright::jobs {

inline std::string bytes_of(const std::string& path) {
  std::ifstream in(path, std::ios::binary);
  return {std::istreambuf_iterator<char>(in), {}};
}

inline void write_bytes(const std::string& path, const std::string& bytes) {
  std::ofstream(path, std::ios::binary | std::ios::trunc) << bytes;
}

struct Answer {
  int code = -1;  ///< exit code; -1: killed by a signal
  std::string out, err;
};

using Words = std::vector<std::string>;
/// Done in the child before the program starts: limits, another user.
using Before = std::function<void()>;

/// The program, running.
class Running {
 public:
  Running(const std::string& folder, const Words& words, const Before& before = {})
      : out_(folder + "/.out-" + std::to_string(++count())),
        err_(folder + "/.err-" + std::to_string(count())) {
    pid_ = fork();
    if (pid_ != 0) return;
    const int out = open(out_.c_str(), O_CREAT | O_TRUNC | O_WRONLY, 0666);
    const int err = open(err_.c_str(), O_CREAT | O_TRUNC | O_WRONLY, 0666);
    dup2(out, STDOUT_FILENO);
    dup2(err, STDERR_FILENO);
    if (before) before();
    std::vector<char*> argv{const_cast<char*>(FUELWRIGHT_PROGRAM)};
    for (const std::string& w : words) argv.push_back(const_cast<char*>(w.c_str()));
    argv.push_back(nullptr);
    execv(FUELWRIGHT_PROGRAM, argv.data());
    _exit(127);
  }
  Running(const Running&) = delete;
  Running& operator=(const Running&) = delete;
  ~Running() {
    if (pid_ > 0) kill_now();
    std::filesystem::remove(out_);
    std::filesystem::remove(err_);
  }

  Answer wait() {
    int status = 0;
    waitpid(pid_, &status, 0);
    pid_ = -1;
    return {WIFEXITED(status) ? WEXITSTATUS(status) : -1, bytes_of(out_), bytes_of(err_)};
  }
  /// kill -9; code -1 unless it had ended by itself.
  Answer kill_now() {
    ::kill(pid_, SIGKILL);
    return wait();
  }

 private:
  static int& count() {
    static int n = 0;
    return n;
  }
  std::string out_, err_;
  pid_t pid_ = -1;
};

/// One clear line on stderr, nothing on stdout, the exit code of docs/exit_codes.md.
inline void expect_refusal(const Answer& a, int code, const std::string& says = "") {
  EXPECT_EQ(a.code, code) << a.out << a.err;
  EXPECT_EQ(a.out, "");
  EXPECT_EQ(std::ranges::count(a.err, '\n'), 1) << a.err;
  EXPECT_TRUE(a.err.starts_with("fuelwright: ")) << a.err;
  EXPECT_NE(a.err.find(says), std::string::npos) << a.err;
}

class Workshop : public testing::Test {
 protected:
  /// Makes, with the program itself: drive.csv (5 minutes with a warm engine), ready.fw (sheet and
  /// one recording) and proposed.fw (an open proposal besides).
  void SetUp() override {
    std::string name = (std::filesystem::temp_directory_path() / "fuelwright_jobs_XXXXXX").string();
    ASSERT_NE(mkdtemp(name.data()), nullptr);
    folder_ = name;
    ASSERT_EQ(run({"demo", "--found", "--folder", in("demo")}).code, 0);
    std::istringstream drive(bytes_of(in("demo/drive_1.csv")));
    constexpr int kFirst = 6000, kLast = 12'000;
    std::string line;
    for (int i = 0; std::getline(drive, line); ++i) {
      if (i == 0 || (i >= kFirst && i < kLast)) drive_ += line + "\n";
    }
    write_bytes(in("drive.csv"), drive_);
    ASSERT_EQ(
        run({"new", FUELWRIGHT_SOURCE_DIR "/examples/street_v8.toml", "-o", in("ready.fw")}).code,
        0);
    const Answer added = run(add(in("ready.fw"), in("drive.csv")));
    ASSERT_EQ(added.code, 0) << added.err;
    std::filesystem::copy_file(in("ready.fw"), in("proposed.fw"));
    const Answer estimated = run({"estimate", in("proposed.fw")});
    ASSERT_EQ(estimated.code, 0) << estimated.err;
  }
  void TearDown() override {
    if (!folder_.empty()) std::filesystem::remove_all(folder_);
  }

  std::string in(const std::string& name) const { return folder_ + "/" + name; }
  static Words add(const std::string& job, const std::string& recording) {
    return {"add", job, recording, "--afr-constant", "14.7"};
  }
  Answer run(const Words& words, const Before& before = {}) const {
    return Running(folder_, words, before).wait();
  }
  /// A recording with bytes of its own: one row, another for each number up to 1500, is left out.
  std::string another_drive(int number) const {
    const std::size_t second_line = drive_.find('\n') + 1;
    const std::size_t cut = drive_.find('\n', second_line + static_cast<std::size_t>(number) * 200);
    write_bytes(in("another.csv"), drive_.substr(0, second_line) + drive_.substr(cut + 1));
    return in("another.csv");
  }
  /// All that the program says about a job; "" and a failure if it does not open.
  std::string everything(const std::string& job) const {
    std::string all;
    for (const char* what :
         {"summary", "sheet", "recordings", "revisions", "evidence", "journal"}) {
      const Answer a = run({"show", job, what, "--json"});
      EXPECT_EQ(a.code, 0) << what << ": " << a.out << a.err;
      all += a.out;
    }
    return all;
  }
  /// A copy of one of the jobs, alone under its name.
  std::string fresh(const std::string& from, const std::string& name = "coupe.fw") const {
    for (const char* tail : {"", "-wal", "-shm"}) std::filesystem::remove(in(name) + tail);
    std::filesystem::copy_file(in(from), in(name));
    return in(name);
  }

  std::string folder_, drive_;
};

}  // namespace fuelwright::jobs
