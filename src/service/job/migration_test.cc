/// Versions: an older job is brought up to date after a copy was laid aside, a newer one is read
/// and not written.
#include "service/job/internal/store.h"
#include "service/job/internal/test_job.h"

namespace fuelwright::service::migration_test {
namespace {

using internal::Migration;
using internal::Store;

// Version 2 as it might come: a column more, and a table more with what was there moved into it.
constexpr const char* kNext = R"sql(
ALTER TABLE recordings ADD COLUMN place TEXT NOT NULL DEFAULT 'road';
CREATE TABLE names (id INTEGER PRIMARY KEY, name TEXT NOT NULL) STRICT;
INSERT INTO names (name) SELECT name FROM recordings;
)sql";

std::vector<Migration> with(std::initializer_list<Migration> more) {
  const auto released = internal::released_migrations();
  std::vector<Migration> out(released.begin(), released.end());
  out.insert(out.end(), more);
  return out;
}

int newest() { return internal::released_migrations().back().version; }
std::vector<Migration> next_version() { return with({{newest() + 1, kNext}}); }

std::string value(const Store& store, const char* sql) {
  return store.db().execAndGet(sql).getString();
}

TEST_F(JobTest, AnOlderJobIsBroughtUpToDateAndACopyOfItLiesBesideIt) {
  { const Job job = full(); }
  const auto next = next_version();
  {
    const auto store = Store::open(path(), Access::write, {}, next);
    ASSERT_OK(store);
    EXPECT_EQ(value(**store, "PRAGMA user_version"), std::to_string(newest() + 1));
    EXPECT_EQ(value(**store, "SELECT group_concat(name) FROM names"), "a.csv,b.csv");
    EXPECT_EQ(value(**store, "SELECT place FROM recordings WHERE id = 1"), "road");
  }
  const std::string copy = path() + ".version-" + std::to_string(newest());
  const auto before = Job::open(copy, Access::write);
  ASSERT_OK(before);
  EXPECT_EQ(before->recordings()->size(), 2U);
  EXPECT_EQ(*before->recording_bytes({2}), noise(9000, 5));
  EXPECT_EQ(before->revision_in_force()->calibration, small_calibration(0.83));
  ASSERT_OK(Store::open(path(), Access::write, {}, next));  // a second time there is nothing to do
}

TEST_F(JobTest, AnOlderJobIsReadWithoutBeingChanged) {
  { const Job job = full(); }
  const std::string before = bytes_of(path());
  {
    const auto next = next_version();
    const auto store = Store::open(path(), Access::read, {}, next);
    ASSERT_OK(store);
    EXPECT_EQ(value(**store, "SELECT group_concat(name) FROM names"), "a.csv,b.csv");
    EXPECT_ERROR((*store)->can_write(), ErrorCode::io);
  }
  EXPECT_TRUE(bytes_of(path()) == before);
  EXPECT_EQ(files_in_folder(), 1U);
}

TEST_F(JobTest, AMigrationThatFailsLeavesTheJobAsItWas) {
  { const Job job = full(); }
  const auto broken =
      with({{newest() + 1, "CREATE TABLE names (id INTEGER); CREATE TABLE sheets (id)"}});
  const auto store = Store::open(path(), Access::write, {}, broken);
  EXPECT_ERROR(store, ErrorCode::damaged);
  const auto orphans =
      with({{newest() + 1,
             "PRAGMA defer_foreign_keys = ON; DROP TRIGGER recordings_kept;"
             "DROP TRIGGER proposal_recordings_kept; DELETE FROM proposal_recordings;"
             "DELETE FROM recordings WHERE id = 1"}});
  EXPECT_ERROR(Store::open(path(), Access::write, {}, orphans), ErrorCode::damaged);
  auto job = Job::open(path(), Access::write);
  ASSERT_OK(job);
  EXPECT_EQ(job->recordings()->size(), 2U);
  EXPECT_TRUE(job->set_setting("k", "v", by()));
  // Two tries, two copies: the first is not replaced.
  EXPECT_TRUE(std::filesystem::exists(path() + ".version-" + std::to_string(newest())));
  EXPECT_TRUE(std::filesystem::exists(path() + ".version-" + std::to_string(newest()) + "-2"));
}

TEST_F(JobTest, ANewerJobCanBeReadAndRefusesToBeWritten) {
  { const Job job = full(); }
  {
    const auto next = next_version();
    ASSERT_OK(Store::open(path(), Access::write, {}, next));
  }
  const std::string before = bytes_of(path());
  {
    auto job = Job::open(path(), Access::write);
    ASSERT_OK(job);
    EXPECT_EQ(*job->sheet_toml(), "[engine]\n");
    EXPECT_EQ(job->revision_in_force()->calibration, small_calibration(0.83));
    EXPECT_ERROR(job->can_write(), ErrorCode::newer_version);
    EXPECT_ERROR(job->set_setting("k", "v", by()), ErrorCode::newer_version);
    EXPECT_ERROR(job->accept_proposal(by()), ErrorCode::newer_version);
  }
  EXPECT_TRUE(bytes_of(path()) == before);
}

TEST_F(JobTest, ANewerJobWhoseTablesAreUnknownHereSaysSo) {
  { const Job job = full(); }
  {
    const auto next = with({{newest() + 1, "ALTER TABLE sheets RENAME COLUMN toml TO text"}});
    ASSERT_OK(Store::open(path(), Access::write, {}, next));
  }
  const auto job = Job::open(path(), Access::read);
  ASSERT_OK(job);
  EXPECT_ERROR(job->sheet_toml(), ErrorCode::newer_version);
}

TEST_F(JobTest, AVersionThatCannotBeIsDamage) {
  { const Job job = full(); }
  ASSERT_EQ(raw_sql(path(), "PRAGMA user_version = 0"), "");
  EXPECT_ERROR(Job::open(path(), Access::write), ErrorCode::damaged);
}

}  // namespace
}  // namespace fuelwright::service::migration_test
