/// Ensembles of a job: kept by what they were computed from, never changed, and jobs of before they
/// existed.
#include "service/job/internal/store.h"
#include "service/job/internal/test_job.h"

namespace fuelwright::service::ensembles_test {
namespace {

using internal::Store;

const EnsembleKey kKey{
    .sheet_toml = "[engine]\ncylinders = 8\n", .members = 64, .seed = 7, .model = "breathing 1"};

TEST_F(JobTest, AnEnsembleIsKeptAndFoundByWhatItWasComputedFrom) {
  const std::string bytes = noise(30000, 4);
  {
    Job job = fresh();
    ASSERT_OK(job.keep_ensemble(kKey, bytes, by("")));
    EXPECT_EQ(job.journal()->back().command, "ensemble");
    EXPECT_EQ(job.journal()->back().why, "64 engines computed from the sheet");
  }
  const auto job = Job::open(path(), Access::read);
  ASSERT_OK(job);
  EXPECT_EQ(*job->ensemble_for(kKey), bytes);
  for (const EnsembleKey& other : {EnsembleKey{"[engine]\n", 64, 7, "breathing 1"},
                                   EnsembleKey{kKey.sheet_toml, 256, 7, "breathing 1"},
                                   EnsembleKey{kKey.sheet_toml, 64, 8, "breathing 1"},
                                   EnsembleKey{kKey.sheet_toml, 64, 7, "breathing 2"}}) {
    const auto none = job->ensemble_for(other);
    ASSERT_OK(none);
    EXPECT_FALSE(none->has_value());
  }
}

TEST_F(JobTest, OneKeyHasOneEnsembleAndOddOnesAreRefused) {
  Job job = fresh();
  ASSERT_OK(job.keep_ensemble(kKey, "abc", by()));
  const auto rows = job.journal()->size();
  EXPECT_ERROR(job.keep_ensemble(kKey, "abd", by()), ErrorCode::conflict);
  EnsembleKey none = kKey;
  none.members = 0;
  EXPECT_ERROR(job.keep_ensemble(none, "abc", by()), ErrorCode::out_of_range);
  EXPECT_ERROR(job.keep_ensemble({"x", 64, 7, "\xff"}, "abc", by()), ErrorCode::bad_input);
  EXPECT_ERROR(job.keep_ensemble({"x", 64, 7, ""}, std::string(kLargestEnsemble + 1, 'a'), by()),
               ErrorCode::too_large);
  EXPECT_EQ(job.journal()->size(), rows);
  EXPECT_EQ(*job.ensemble_for(kKey), "abc");
}

TEST_F(JobTest, AnEnsembleIsNeverChangedDeletedOrReplaced) {
  {
    Job job = fresh();
    ASSERT_OK(job.keep_ensemble(kKey, "abc", by()));
  }
  for (const char* sql : {"UPDATE ensembles SET members = 1", "DELETE FROM ensembles",
                          "INSERT OR REPLACE INTO ensembles SELECT * FROM ensembles",
                          "INSERT OR REPLACE INTO ensembles SELECT 9, sheet_sha256, members, seed, "
                          "model, bytes, sha256, seal, journal, packed FROM ensembles"}) {
    EXPECT_NE(raw_sql(path(), sql), "") << sql;
  }
  EXPECT_EQ(*Job::open(path(), Access::read)->ensemble_for(kKey), "abc");
}

// Behind the triggers' back, which are put in place again afterwards.
std::string without_trigger(const std::string& path, const std::string& sql) {
  return raw_sql(path,
                 "PRAGMA writable_schema = ON; CREATE TEMP TABLE kept AS SELECT sql FROM "
                 "sqlite_schema WHERE name = 'ensembles_stay'; DROP TRIGGER ensembles_stay; " +
                     sql +
                     "; CREATE TRIGGER ensembles_stay BEFORE UPDATE ON ensembles\n"
                     "  BEGIN SELECT RAISE(ABORT, 'an ensemble is never changed'); END;");
}

TEST_F(JobTest, AChangedEnsembleIsNoticedByName) {
  for (const char* sql :
       {"UPDATE ensembles SET members = 65", "UPDATE ensembles SET seed = 8",
        "UPDATE ensembles SET packed = x'00'", "UPDATE ensembles SET model = 'other'"}) {
    SCOPED_TRACE(sql);
    std::filesystem::remove(path());
    {
      Job job = fresh();
      ASSERT_OK(job.keep_ensemble(kKey, "abc", by()));
    }
    ASSERT_EQ(without_trigger(path(), sql), "");
    const auto seen = [&]() -> Result<std::optional<std::string>> {
      FW_TRY(const Job job, Job::open(path(), Access::write));
      return job.ensemble_for(kKey);
    }();
    EXPECT_ERROR(seen, ErrorCode::damaged);
    ASSERT_FALSE(seen);
    EXPECT_NE(seen.error().where.find("ensemble 1"), std::string::npos);
  }
}

// A job as it was before ensembles existed.
void make_version_1(const std::string& path) {
  const auto released = internal::released_migrations();
  ASSERT_EQ(released.front().version, 1);
  ASSERT_EQ(raw_sql(path, "DROP TABLE ensembles; PRAGMA user_version = 1"), "");
}

TEST_F(JobTest, AJobOfBeforeEnsemblesIsBroughtUpToDateAndLosesNothing) {
  { const Job job = full(); }
  make_version_1(path());
  {
    const auto job =
        Job::open(path(), Access::read);  // read through a copy: no ensemble, no complaint
    ASSERT_OK(job);
    EXPECT_FALSE(job->ensemble_for(kKey)->has_value());
  }
  EXPECT_EQ(files_in_folder(), 1U);
  {
    auto job = Job::open(path(), Access::write);
    ASSERT_OK(job);
    ASSERT_OK(job->keep_ensemble(kKey, "abc", by()));
    EXPECT_EQ(*job->ensemble_for(kKey), "abc");
    EXPECT_EQ(job->recordings()->size(), 2U);
    EXPECT_EQ(job->revision_in_force()->calibration, small_calibration(0.83));
  }
  EXPECT_TRUE(std::filesystem::exists(path() + ".version-1"));
  const auto store = Store::open(path(), Access::read, {}, internal::released_migrations());
  ASSERT_OK(store);
  EXPECT_EQ((*store)->db().execAndGet("PRAGMA user_version").getInt(), 2);
}

}  // namespace
}  // namespace fuelwright::service::ensembles_test
