/// Damaged files: reported in one line, never read as something else, never written to.
#include <sys/stat.h>

#include "service/job/internal/test_job.h"

namespace fuelwright::service::damage_test {
namespace {

// Opens for writing and for reading, expects the same error both times and the file untouched.
void expect_refused(const std::string& path, ErrorCode code) {
  const std::string before = bytes_of(path);
  EXPECT_ERROR(Job::open(path, Access::write), code);
  EXPECT_ERROR(Job::open(path, Access::read), code);
  EXPECT_TRUE(bytes_of(path) == before) << path << " was changed";
}

TEST_F(JobTest, AnEmptyFileATextFileAndATruncatedJobAreDamagedAndStayAsTheyAre) {
  { const Job job = full(); }
  const std::string good = bytes_of(path());
  write_bytes(in_folder("empty.fw"), "");
  write_bytes(in_folder("text.fw"), "rpm,kPa\n800,40\n");
  write_bytes(in_folder("long text.fw"), std::string(20000, 'x'));
  write_bytes(in_folder("half.fw"), good.substr(0, good.size() / 2));
  write_bytes(in_folder("page.fw"), good.substr(0, good.size() - 4096));
  write_bytes(in_folder("head.fw"), good.substr(0, 60));
  const std::size_t files = files_in_folder();
  for (const char* name :
       {"empty.fw", "text.fw", "long text.fw", "half.fw", "page.fw", "head.fw"}) {
    SCOPED_TRACE(name);
    expect_refused(in_folder(name), ErrorCode::damaged);
  }
  EXPECT_EQ(files_in_folder(), files);  // nothing is left beside them either
}

TEST_F(JobTest, WhatIsNoJobAtAllIsSaidInWords) {
  EXPECT_ERROR(Job::open(in_folder("nothing.fw"), Access::read), ErrorCode::not_found);
  EXPECT_ERROR(Job::open(in_folder("no folder/x.fw"), Access::read), ErrorCode::not_found);
  EXPECT_ERROR(Job::open(folder_, Access::read), ErrorCode::bad_input);
  ASSERT_EQ(mkfifo(in_folder("pipe.fw").c_str(), 0600), 0);
  EXPECT_ERROR(Job::open(in_folder("pipe.fw"), Access::read), ErrorCode::bad_input);
  { const Job job = fresh(); }
  std::filesystem::create_symlink(path(), in_folder("link.fw"));
  EXPECT_ERROR(Job::open(in_folder("link.fw"), Access::write), ErrorCode::bad_input);
  ASSERT_EQ(raw_sql(in_folder("other.fw"), "CREATE TABLE t (a); INSERT INTO t VALUES (1)"), "");
  expect_refused(in_folder("other.fw"), ErrorCode::bad_input);
}

// All that a job says, as one text; or the first error.
Result<std::string> everything(const Job& job) {
  std::string out;
  FW_TRY(const auto sheet, job.sheet_toml());
  FW_TRY(const auto setting, job.setting("columns.csv"));
  FW_TRY(const auto units, job.units());
  out += sheet + setting.value_or("none") + std::to_string(static_cast<int>(units));
  FW_TRY(const auto recordings, job.recordings());
  for (const auto& r : recordings) {
    FW_TRY(const auto bytes, job.recording_bytes(r.id));
    out +=
        r.name + r.sha256 + r.reading.mapping_json + r.reading.summary_json + r.added_when + bytes;
  }
  FW_TRY(const auto revisions, job.revisions());
  for (const auto& r : revisions) {
    FW_TRY(const auto whole, job.revision(r.number));
    out += std::to_string(r.number) + r.reason + r.when + (r.in_force ? "*" : "") +
           std::to_string(r.parent.value_or(-1)) + std::to_string(r.proposal.value_or(-1));
    for (const auto& [what, surface] : whole.calibration.tables) {
      for (const double v : surface.values) out += std::to_string(v);
    }
  }
  FW_TRY(const auto p, job.proposal());
  out += p.details_json + p.proposal.reason + std::to_string(p.proposal.evidence.sd_log[0]);
  FW_TRY(const auto journal, job.journal());
  for (const auto& j : journal) out += j.who + j.when + j.command + j.why + j.sources_json;
  return out;
}

TEST_F(JobTest, AFlippedByteIsReportedOrDoesNotMatterButIsNeverReadAsSomethingElse) {
  { const Job job = full(); }
  const std::string good = bytes_of(path());
  const auto truth = everything(*Job::open(path(), Access::read));
  ASSERT_OK(truth);
  std::mt19937 random(11);
  constexpr int kFlips = 1500;
  int noticed = 0;
  for (int i = 0; i < kFlips; ++i) {
    std::string bad = good;
    // Every byte of the header in turn, then anywhere.
    const std::size_t at = i < 100 ? static_cast<std::size_t>(i) : random() % bad.size();
    bad[at] = static_cast<char>(bad[at] ^ static_cast<char>(1 + random() % 255));
    write_bytes(path(), bad);
    const auto said = [&]() -> Result<std::string> {
      FW_TRY(const Job job, Job::open(path(), Access::read));
      return everything(job);
    }();
    if (said) {
      EXPECT_TRUE(*said == *truth) << "byte " << at << " changed what the job says";
    } else {
      ++noticed;
      const ErrorCode code = said.error().code;
      EXPECT_TRUE(code == ErrorCode::damaged || at < 100) << at << ": " << said.error().line();
    }
    EXPECT_TRUE(bytes_of(path()) == bad) << "byte " << at << ": reading changed the file";
  }
  EXPECT_GT(noticed, kFlips / 5);  // the rest hit the free space of half-empty pages
}

TEST_F(JobTest, ADamagedJobThatIsOpenedForWritingStaysAsItIs) {
  { const Job job = full(); }
  const std::string good = bytes_of(path());
  std::mt19937 random(12);
  constexpr std::size_t kPage = 4096;
  for (int i = 0; i < 100; ++i) {
    std::string bad = good;
    const std::size_t page = random() % (bad.size() / kPage);
    for (std::size_t k = 0; k < 16; ++k) bad[page * kPage + (page == 0 ? 100 : 0) + k] = '\x7f';
    write_bytes(path(), bad);
    const auto job = Job::open(path(), Access::write);
    if (job) continue;  // a page of nothing but a recording's bytes: noticed when it is read
    EXPECT_STREQ(name_of(job.error().code), "damaged") << job.error().line();
    EXPECT_TRUE(bytes_of(path()) == bad) << "page " << page;
  }
}

TEST_F(JobTest, ChangedRowsAreNoticedByNameEvenWhereSqliteSeesNothingWrong) {
  struct Case {
    const char* sql;
    const char* row;
  };
  // The way of somebody who takes the triggers away first and puts them back.
  const Case cases[] = {
      {"UPDATE revisions SET calibration = replace(calibration, '0.83', '0.93') WHERE number = 1",
       "revision 1"},
      {"UPDATE recordings SET packed = (SELECT packed FROM recordings WHERE id = 2) WHERE id = 1",
       "recording 1"},
      {"UPDATE readings SET mapping = '{\"x\": 1}' WHERE recording = 2", "recording 2"},
      {"UPDATE proposals SET evidence = replace(evidence, '0.02', '0.01') WHERE id = 2",
       "proposal 2"},
      {"DELETE FROM proposal_recordings WHERE recording = 2", "proposal"},
      {"UPDATE sheets SET toml = 'x'", "sheet 1"},
      {"UPDATE settings SET value = 'x' WHERE name = 'columns.csv'", "setting 2"},
      {"UPDATE journal SET who = 'x' WHERE id = 3", "journal row 3"},
      {"UPDATE journal SET in_force = 0 WHERE in_force = 1", "journal row"},
  };
  for (const Case& c : cases) {
    SCOPED_TRACE(c.sql);
    std::filesystem::remove(path());
    {
      Job job = full();
      if (std::string(c.row) == "proposal") {
        ProposalIn in = small_proposal(1);
        in.recordings = {{1}, {2}};
        ASSERT_OK(job.save_proposal(in, by()));
      }
    }
    const std::string table = [&] {
      std::string words = c.sql;
      const auto at = words.find(words.starts_with("UPDATE") ? "UPDATE " : "FROM ");
      words = words.substr(words.find(' ', at) + 1);
      return words.substr(0, words.find(' '));
    }();
    ASSERT_EQ(raw_sql(path(),
                      "PRAGMA writable_schema = ON; CREATE TEMP TABLE kept AS SELECT * FROM"
                      " sqlite_schema WHERE type = 'trigger';"
                      "DELETE FROM sqlite_schema WHERE type = 'trigger'"),
              "");
    // In a second connection: the first still knows the triggers.
    ASSERT_EQ(raw_sql(path(), c.sql), "") << table;
    const auto opened = Job::open(path(), Access::read);
    ASSERT_FALSE(opened);  // the triggers are gone: that alone is noticed
    EXPECT_EQ(opened.error().code, ErrorCode::damaged);
    const std::string model = in_folder("model.fw");
    std::filesystem::remove(model);
    { ASSERT_OK(Job::create(model, {.sheet_toml = "", .by = by()})); }
    ASSERT_EQ(raw_sql(path(), "ATTACH '" + model +
                                  "' AS model; PRAGMA writable_schema = ON;"
                                  "INSERT INTO main.sqlite_schema SELECT * FROM model.sqlite_schema"
                                  " WHERE type = 'trigger'"),
              "");
    const auto said = [&]() -> Result<std::string> {
      FW_TRY(const Job job, Job::open(path(), Access::read));
      return everything(job);
    }();
    ASSERT_FALSE(said);
    EXPECT_STREQ(name_of(said.error().code), "damaged");
    EXPECT_NE(said.error().where.find(c.row), std::string::npos) << said.error().line();
  }
}

TEST_F(JobTest, ABrokenChainOfPagesInsideARecordingIsNoticedWhenTheJobIsOpened) {
  const std::string recorded = noise(200000, 8);
  {
    Job job = fresh();
    ASSERT_OK(job.add_recording({.name = "a.csv", .bytes = recorded, .reading = {}}, by()));
  }
  std::string file = bytes_of(path());
  const std::size_t middle = file.find(recorded.substr(100000, 64));
  ASSERT_NE(middle, std::string::npos);  // noise is stored as it is
  constexpr std::size_t kPage = 4096;
  file.replace(middle / kPage * kPage, 4, "\x7f\x7f\x7f\x7f");  // the number of the next page
  write_bytes(path(), file);
  expect_refused(path(), ErrorCode::damaged);
}

TEST_F(JobTest, TheLogOfADamagedJobIsNotWrittenIntoIt) {
  const std::string bad = in_folder("bad.fw");
  {
    const Job job = full();  // open: its commands stand in the log
    std::string file = bytes_of(path());
    constexpr std::size_t kPage = 4096;
    for (std::size_t at = kPage; at < file.size(); at += kPage) file.replace(at, 16, 16, '\x7f');
    write_bytes(bad, file);
    write_bytes(bad + "-wal", bytes_of(path() + "-wal"));
  }
  const std::string log = bytes_of(bad + "-wal");
  ASSERT_GT(log.size(), 1000U);
  expect_refused(bad, ErrorCode::damaged);
  EXPECT_TRUE(bytes_of(bad + "-wal") == log);
}

TEST_F(JobTest, AForeignRollbackJournalBesideAJobIsNotPlayedIntoIt) {
  { const Job job = full(); }
  write_bytes(path() + "-journal", noise(5000, 3));
  expect_refused(path(), ErrorCode::damaged);
}

}  // namespace
}  // namespace fuelwright::service::damage_test
