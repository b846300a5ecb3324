/// Killed while an older job is brought up to date: it is the old version or the new one, whole,
/// and the copy beside it is whole or not there.
#include <signal.h>
#include <sys/wait.h>

#include <algorithm>
#include <chrono>
#include <thread>

#include "service/job/internal/store.h"
#include "service/job/internal/test_job.h"

namespace fuelwright::service::migration_crash_test {
namespace {

using internal::Migration;
using internal::Store;

// Touches every recording's row and moves what was there into a new table, as a migration may.
constexpr const char* kNext = R"sql(
CREATE TABLE kept (id INTEGER PRIMARY KEY, name TEXT NOT NULL, packed BLOB NOT NULL) STRICT;
INSERT INTO kept SELECT id, name, packed FROM recordings;
ALTER TABLE recordings ADD COLUMN place TEXT NOT NULL DEFAULT 'road';
CREATE INDEX kept_by_name ON kept (name);
)sql";

TEST_F(JobTest, KilledWhileItIsBroughtUpToDateAJobIsTheOldVersionOrTheNewOne) {
  const auto released = internal::released_migrations();
  const int old_version = released.back().version;
  std::vector<Migration> next(released.begin(), released.end());
  next.push_back({old_version + 1, kNext});
  {
    Job job = full();
    ASSERT_OK(
        job.add_recording({.name = "long.csv", .bytes = noise(400'000, 9), .reading = {}}, by()));
  }
  const std::string old_bytes = bytes_of(path());
  const auto migrate = [&](const std::string& job) {
    return Store::open(job, Access::write, {}, next);
  };
  // Timed as it is killed below: in a process of its own.
  std::chrono::duration<double> whole{0};
  for (const char* name : {"once.fw", "timed.fw", "again.fw"}) {
    write_bytes(in_folder(name), old_bytes);
    const auto start = std::chrono::steady_clock::now();
    const pid_t child = fork();
    ASSERT_GE(child, 0);
    if (child == 0) _exit(migrate(in_folder(name)) ? 0 : 1);
    int status = 0;
    waitpid(child, &status, 0);
    ASSERT_TRUE(WIFEXITED(status) && WEXITSTATUS(status) == 0);
    whole =
        std::max<std::chrono::duration<double>>(whole, std::chrono::steady_clock::now() - start);
  }

  constexpr int kKills = 60;
  std::mt19937 random(60);
  int still_old = 0, already_new = 0;
  for (int i = 0; i < kKills; ++i) {
    SCOPED_TRACE(i);
    const std::string folder = in_folder("k" + std::to_string(i));
    std::filesystem::create_directory(folder);
    const std::string job = folder + "/coupe.fw";
    write_bytes(job, old_bytes);
    const pid_t child = fork();
    ASSERT_GE(child, 0);
    if (child == 0) _exit(migrate(job) ? 0 : 1);
    std::this_thread::sleep_for(1.8 * whole * static_cast<double>(random() % 10'000) / 1e4);
    kill(child, SIGKILL);
    int status = 0;
    waitpid(child, &status, 0);
    ASSERT_TRUE(WIFSIGNALED(status) || WEXITSTATUS(status) == 0);

    // What lies there, seen by a program that knows only the old version.
    {
      const auto seen = Job::open(job, Access::read);
      ASSERT_OK(seen);
      const bool is_new =
          !seen->can_write() && seen->can_write().error().code == ErrorCode::newer_version;
      ++(is_new ? already_new : still_old);
      const std::string copy = job + ".version-" + std::to_string(old_version);
      EXPECT_TRUE(!is_new || std::filesystem::exists(copy)) << "brought up to date without a copy";
      EXPECT_EQ(seen->journal()->size(), 9U);
      EXPECT_EQ(*seen->recording_bytes({2}), noise(9000, 5));
      if (std::filesystem::exists(copy)) {
        const auto kept = Job::open(copy, Access::read);
        ASSERT_OK(kept);
        EXPECT_EQ(*kept->recording_bytes({3}), noise(400'000, 9));
      }
    }
    // And a program that knows the new one goes on from there.
    const auto store = migrate(job);
    ASSERT_OK(store);
    EXPECT_EQ((*store)->db().execAndGet("SELECT count(*) FROM kept").getInt(), 3);
    EXPECT_EQ((*store)->db().execAndGet("PRAGMA user_version").getInt(), old_version + 1);
    EXPECT_EQ((*store)->db().execAndGet("PRAGMA integrity_check").getString(), "ok");
  }
  EXPECT_GT(still_old, kKills / 6);  // the moments were spread
  EXPECT_GT(already_new, kKills / 10);
}

}  // namespace
}  // namespace fuelwright::service::migration_crash_test
