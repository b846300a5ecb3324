/// What the system or another program refuses: locks, full disks, read-only places, taken names.
#include <fcntl.h>
#include <sched.h>
#include <signal.h>
#include <sys/mount.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/wait.h>

#include <functional>
#include <future>
#include <thread>

#include "service/job/internal/test_job.h"

namespace fuelwright::service::refusal_test {
namespace {

// Runs in a child of its own, whose limits, rights and mounts end with it. The body answers "" or
// what went wrong, or "skip: ..." where this machine does not allow it.
std::string in_child(const std::function<std::string()>& body) {
  int ends[2];
  if (pipe(ends) != 0) return "no pipe";
  const pid_t child = fork();
  if (child == 0) {
    const std::string said = body();
    const auto written = write(ends[1], said.data(), said.size());
    _exit(written == static_cast<ssize_t>(said.size()) ? 0 : 1);
  }
  close(ends[1]);
  std::string said;
  char c = 0;
  while (read(ends[0], &c, 1) == 1) said += c;
  close(ends[0]);
  int status = 0;
  waitpid(child, &status, 0);
  if (!WIFEXITED(status) || WEXITSTATUS(status) != 0) return "the child died: " + said;
  return said;
}

template <class T>
std::string code_and_line(const Result<T>& r) {
  return r ? "ok" : std::string(name_of(r.error().code)) + " " + r.error().line();
}

TEST_F(JobTest, AMadeJobNeverTakesTheNameOfAnotherThing) {
  { const Job job = full(); }
  const std::string before = bytes_of(path());
  const NewJob fresh_job{.sheet_toml = "x", .by = by()};
  EXPECT_ERROR(Job::create(path(), fresh_job), ErrorCode::conflict);
  EXPECT_TRUE(bytes_of(path()) == before);
  std::filesystem::create_directory(in_folder("folder.fw"));
  EXPECT_ERROR(Job::create(in_folder("folder.fw"), fresh_job), ErrorCode::conflict);
  std::filesystem::create_symlink("nowhere", in_folder("link.fw"));
  EXPECT_ERROR(Job::create(in_folder("link.fw"), fresh_job), ErrorCode::conflict);
  EXPECT_ERROR(Job::create(in_folder("no/such/x.fw"), fresh_job), ErrorCode::not_found);
  EXPECT_ERROR(Job::create(in_folder("x.txt"), fresh_job), ErrorCode::bad_input);
  EXPECT_ERROR(Job::create(in_folder(".fw"), fresh_job), ErrorCode::bad_input);
  EXPECT_ERROR(Job::create("", fresh_job), ErrorCode::bad_input);
}

TEST_F(JobTest, ALeftOverLogOfADeletedJobIsNotReadIntoANewOne) {
  std::string log;
  {
    Job job = full();
    log = bytes_of(path() + "-wal");
  }
  std::filesystem::remove(path());
  write_bytes(path() + "-wal", log);
  EXPECT_ERROR(Job::create(path(), {.sheet_toml = "x", .by = by()}), ErrorCode::conflict);
  EXPECT_FALSE(std::filesystem::exists(path()));
}

TEST_F(JobTest, ASecondWriterWaitsAndThenSaysLocked) {
  EXPECT_EQ(OpenOptions{}.wait, std::chrono::seconds(5));
  { const Job job = full(); }
  sqlite3* other = nullptr;
  ASSERT_EQ(sqlite3_open(path().c_str(), &other), SQLITE_OK);
  ASSERT_EQ(sqlite3_exec(other, "BEGIN IMMEDIATE", nullptr, nullptr, nullptr), SQLITE_OK);
  auto job = Job::open(path(), Access::write, {.wait = std::chrono::milliseconds(150)});
  ASSERT_OK(job);
  EXPECT_TRUE(job->revision_in_force());  // reading does not wait
  const auto start = std::chrono::steady_clock::now();
  EXPECT_ERROR(job->set_setting("k", "v", by()), ErrorCode::locked);
  EXPECT_GE(std::chrono::steady_clock::now() - start, std::chrono::milliseconds(140));
  ASSERT_EQ(sqlite3_exec(other, "ROLLBACK", nullptr, nullptr, nullptr), SQLITE_OK);
  EXPECT_TRUE(job->set_setting("k", "v", by()));

  // And with the usual patience it gets its turn when the other one is done.
  auto patient = Job::open(path(), Access::write);
  ASSERT_OK(patient);
  ASSERT_EQ(sqlite3_exec(other, "BEGIN IMMEDIATE", nullptr, nullptr, nullptr), SQLITE_OK);
  auto waiting =
      std::async(std::launch::async, [&] { return patient->set_setting("k", "w", by()).ok(); });
  std::this_thread::sleep_for(std::chrono::milliseconds(100));
  ASSERT_EQ(sqlite3_exec(other, "COMMIT", nullptr, nullptr, nullptr), SQLITE_OK);
  EXPECT_TRUE(waiting.get());
  sqlite3_close(other);
}

TEST_F(JobTest, AJobOpenedForReadingIsNotWritten) {
  { const Job job = full(); }
  const std::string before = bytes_of(path());
  {
    auto job = Job::open(path(), Access::read);
    ASSERT_OK(job);
    EXPECT_ERROR(job->can_write(), ErrorCode::io);
    EXPECT_ERROR(job->set_setting("k", "v", by()), ErrorCode::io);
    EXPECT_ERROR(job->accept_proposal(by()), ErrorCode::io);
  }
  EXPECT_TRUE(bytes_of(path()) == before);
}

TEST_F(JobTest, OnAReadOnlyPlaceAJobCanBeReadAndAWriteIsRefusedInOneLine) {
  { const Job job = full(); }
  chmod(path().c_str(), 0444);
  chmod(folder_.c_str(), 0555);
  const std::string said = in_child([&]() -> std::string {
    constexpr uid_t kNobody = 65534;
    if (geteuid() == 0 && setuid(kNobody) != 0) return "skip: cannot leave root";
    const auto reading = Job::open(path(), Access::read);
    if (!reading) return code_and_line(reading);
    if (!reading->revision_in_force() || !reading->recording_bytes({2})) return "cannot be read";
    const auto writing = Job::open(path(), Access::write);
    if (writing || writing.error().code != ErrorCode::io) return code_and_line(writing);
    const auto made = Job::create(in_folder("new.fw"), {.sheet_toml = "", .by = by()});
    if (made || made.error().code != ErrorCode::io) return code_and_line(made);
    return "";
  });
  chmod(folder_.c_str(), 0755);
  if (said.starts_with("skip")) GTEST_SKIP() << said;
  EXPECT_EQ(said, "");
  EXPECT_EQ(files_in_folder(), 1U);
}

// A write that does not fit: io, and afterwards the job says what it said before.
std::string fill_until_refused(const std::string& path) {
  auto job = Job::open(path, Access::write);
  if (!job) return code_and_line(job);
  std::size_t taken = 0;
  for (;; ++taken) {
    const auto id = job->add_recording(
        {.name = "big.csv", .bytes = noise(200000, static_cast<unsigned>(taken)), .reading = {}},
        by());
    if (id) {
      if (taken > 1000) return "the disk was never full";
      continue;
    }
    if (id.error().code != ErrorCode::io) return code_and_line(id);
    if (id.error().line().find("nothing was changed") == std::string::npos)
      return id.error().line();
    break;
  }
  // The same Job goes on, and so does one opened afresh.
  const auto rows = job->recordings();
  if (!rows || rows->size() != taken + 2) return "the job lost or gained a recording";
  const auto again = Job::open(path, Access::read);
  if (!again) return code_and_line(again);
  if (again->recordings()->size() != taken + 2) return "opened again it lost or gained a recording";
  for (const auto& row : *rows) {
    if (!again->recording_bytes(row.id)) return "a recording cannot be read";
  }
  return "";
}

TEST_F(JobTest, AFileThatMayNotGrowIsAnErrorAndTheJobStaysSound) {
  { const Job job = full(); }
  const std::string said = in_child([&]() -> std::string {
    signal(SIGXFSZ, SIG_IGN);
    constexpr rlim_t kLargest = 1500000;
    const rlimit limit{kLargest, kLargest};
    if (setrlimit(RLIMIT_FSIZE, &limit) != 0) return "skip: no limit can be set";
    return fill_until_refused(path());
  });
  if (said.starts_with("skip")) GTEST_SKIP() << said;
  EXPECT_EQ(said, "");
  auto job = Job::open(path(), Access::write);
  ASSERT_OK(job);
  EXPECT_TRUE(
      job->add_recording({.name = "later.csv", .bytes = noise(300000, 99), .reading = {}}, by()));
}

// A disk of 1.5 MB that only this process sees; without root in a user namespace of its own.
bool mount_small_disk(const std::string& folder) {
  const uid_t user = geteuid();
  if (unshare(user == 0 ? CLONE_NEWNS : CLONE_NEWUSER | CLONE_NEWNS) != 0) return false;
  if (user != 0) std::ofstream("/proc/self/uid_map") << "0 " << user << " 1";
  if (mount("none", "/", nullptr, MS_REC | MS_PRIVATE, nullptr) != 0 ||
      mount("small", folder.c_str(), "tmpfs", 0, "size=1500k") != 0) {
    return false;
  }
  return std::ofstream(folder + "/probe").good();
}

TEST_F(JobTest, AFullDiskIsAnErrorAndTheJobStaysSound) {
  { const Job job = full(); }
  const std::string disk = in_folder("disk");
  std::filesystem::create_directory(disk);
  const std::string said = in_child([&]() -> std::string {
    if (!mount_small_disk(disk)) return "skip: no small disk can be mounted here";
    const std::string there = disk + "/coupe.fw";
    std::filesystem::copy_file(path(), there);
    if (const std::string wrong = fill_until_refused(there); !wrong.empty()) return wrong;
    // Nor can a new one be made, and no half of it stays.
    std::string filler(4000, 'x');
    std::ofstream full_up(disk + "/filler");
    while (full_up << filler << std::flush) {
    }
    const auto made = Job::create(disk + "/new.fw", {.sheet_toml = "", .by = by()});
    if (made || made.error().code != ErrorCode::io) return code_and_line(made);
    if (std::filesystem::exists(disk + "/new.fw")) return "a half-made job stayed";
    full_up.close();
    std::filesystem::remove(disk + "/filler");
    auto job = Job::open(there, Access::write);
    if (!job) return code_and_line(job);
    const auto later = job->set_setting("k", "there is room again", by());
    return later ? "" : code_and_line(later);
  });
  if (said.starts_with("skip")) GTEST_SKIP() << said;
  EXPECT_EQ(said, "");
}

}  // namespace
}  // namespace fuelwright::service::refusal_test
