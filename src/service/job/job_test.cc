#include "service/job/job.h"

#include "service/job/internal/pack.h"
#include "service/job/internal/seal.h"
#include "service/job/internal/test_job.h"

namespace fuelwright::service::job_test {
namespace {

TEST_F(JobTest, ANewJobKeepsItsSheetAndUnitsAndSaysWhoMadeIt) {
  { const Job job = fresh(); }
  const auto job = Job::open(path(), Access::read);
  ASSERT_OK(job);
  EXPECT_EQ(*job->sheet_toml(), "[engine]\n");
  EXPECT_EQ(*job->units(), UnitSystem::us);
  const auto journal = job->journal();
  ASSERT_OK(journal);
  ASSERT_EQ(journal->size(), 1U);
  EXPECT_EQ(journal->front().command, "new");
  EXPECT_EQ(journal->front().who, "A. Technician");
  EXPECT_EQ(journal->front().when, "2026-05-04T09:30:00Z");
}

TEST_F(JobTest, AClosedJobIsOneFile) {
  { const Job job = full(); }
  EXPECT_EQ(files_in_folder(), 1U);
}

TEST_F(JobTest, ASheetAndASettingAreFollowedByTheirNextAndEachHasItsJournalRow) {
  Job job = fresh();
  ASSERT_OK(job.set_sheet("[engine]\ncylinders = 8\n", by("counted again")));
  ASSERT_OK(job.set_units(UnitSystem::metric, by("")));
  EXPECT_EQ(*job.sheet_toml(), "[engine]\ncylinders = 8\n");
  EXPECT_EQ(*job.units(), UnitSystem::metric);
  EXPECT_FALSE(job.setting("never set")->has_value());
  ASSERT_OK(job.set_setting("name", "a\nb, \"c\"", by()));
  EXPECT_EQ(**job.setting("name"), "a\nb, \"c\"");
  const auto journal = job.journal();
  ASSERT_OK(journal);
  ASSERT_EQ(journal->size(), 4U);
  EXPECT_EQ((*journal)[1].why, "counted again");
  EXPECT_EQ((*journal)[2].why, "units = metric");  // no reason given: the command says what it did
}

TEST_F(JobTest, ARecordingComesBackByteForByte) {
  std::string every_byte;
  for (unsigned i = 0; i < 70000; ++i) every_byte += static_cast<char>(i * i % 251);
  Job job = fresh();
  const auto id = job.add_recording({.name = "drive 1.csv",
                                     .bytes = every_byte,
                                     .reading = {.mapping_json = R"({"RPM": "speed"})",
                                                 .summary_json = R"({"span_s": 20.5})",
                                                 .rows = 4100}},
                                    by("first drive"));
  ASSERT_OK(id);
  const auto empty = job.add_recording({.name = "empty.csv", .bytes = "", .reading = {}}, by());
  ASSERT_OK(empty);
  EXPECT_EQ(*job.recording_bytes(*id), every_byte);
  EXPECT_EQ(*job.recording_bytes(*empty), "");
  const auto rows = job.recordings();
  ASSERT_OK(rows);
  ASSERT_EQ(rows->size(), 2U);
  EXPECT_EQ(rows->front().name, "drive 1.csv");
  EXPECT_EQ(rows->front().bytes, 70000);
  EXPECT_EQ(rows->front().reading.rows, 4100);
  EXPECT_EQ(rows->front().reading.summary_json, R"({"span_s": 20.5})");
  EXPECT_EQ(rows->front().added_by, "A. Technician");
  EXPECT_ERROR(job.recording({7}), ErrorCode::not_found);
  EXPECT_ERROR(job.recording_bytes({7}), ErrorCode::not_found);
}

TEST(JobPack, AnyBytesComeBackFromTheirPackedForm) {
  for (unsigned size = 0; size < 300; ++size) {
    const std::string bytes = noise(size * size, size) + std::string(size, '0');
    EXPECT_EQ(internal::unpack(internal::pack(bytes), bytes.size()), bytes) << size;
  }
  EXPECT_LT(internal::pack(std::string(100000, 'x')).size(), 100U);
  EXPECT_FALSE(internal::unpack(internal::pack("abc"), 4));
}

TEST(JobSeal, TheHashIsSha256) {
  // FIPS 180-4, the standard's example message of one block.
  EXPECT_EQ(internal::sha256_hex("abc"),
            "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
  EXPECT_EQ(internal::sha256_hex(""),
            "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855");
  EXPECT_NE(internal::Seal("t").add("ab").add("c").hex(),
            internal::Seal("t").add("a").add("bc").hex());
}

TEST_F(JobTest, TheSameRecordingTwiceIsNoticedAndTheEarlierOneIsNamed) {
  Job job = fresh();
  ASSERT_OK(job.add_recording({.name = "monday.csv", .bytes = "rpm\n800\n", .reading = {}}, by()));
  const auto again =
      job.add_recording({.name = "copy of monday.csv", .bytes = "rpm\n800\n", .reading = {}}, by());
  ASSERT_FALSE(again);
  EXPECT_EQ(
      again.error().line(),
      "copy of monday.csv: the same bytes are in this job already: recording 1, \"monday.csv\", "
      "taken in 2026-05-04T09:30:00Z");
  EXPECT_EQ(again.error().code, ErrorCode::conflict);
  EXPECT_EQ(job.recordings()->size(), 1U);
  EXPECT_EQ(job.journal()->size(), 2U);
}

TEST_F(JobTest, ARecordingCanBeReadInAnotherWayAndItsBytesStay) {
  Job job = fresh();
  const auto id = job.add_recording({.name = "a.csv", .bytes = "x", .reading = {}}, by());
  ASSERT_OK(id);
  ASSERT_OK(job.read_again(
      *id, {.mapping_json = R"({"MAP": "kPa gauge"})", .summary_json = "{}", .rows = 9}, by()));
  EXPECT_EQ(job.recording(*id)->reading.mapping_json, R"({"MAP": "kPa gauge"})");
  EXPECT_EQ(job.recording(*id)->reading.rows, 9);
  EXPECT_EQ(*job.recording_bytes(*id), "x");
  EXPECT_ERROR(job.read_again({5}, {}, by()), ErrorCode::not_found);
  EXPECT_ERROR(job.read_again(*id, {.mapping_json = "{"}, by()), ErrorCode::bad_input);
}

TEST_F(JobTest, WhatACallerHandsInIsLookedAtBeforeAnythingIsWritten) {
  Job job = fresh();
  By nobody = by();
  nobody.who = "";
  EXPECT_ERROR(job.set_sheet("", nobody), ErrorCode::bad_input);
  for (const char* when :
       {"", "yesterday", "2026-05-04 09:30:00", "2026-05-04T09:30:00", "2026-05-04T09:30:00+02:00",
        "2026-13-04T09:30:00Z", "2026-05-04T24:30:00Z", "2026-05-04T09:30:00.Z",
        "2026-05-04T09:30:00Zz"}) {
    By late = by();
    late.when = when;
    EXPECT_ERROR(job.set_sheet("", late), ErrorCode::bad_input);
  }
  By exact = by();
  exact.when = "2026-05-04T09:30:00.125Z";
  EXPECT_TRUE(job.set_sheet("", exact));
  EXPECT_ERROR(job.add_recording({.name = "\xff.csv", .bytes = "x", .reading = {}}, by()),
               ErrorCode::bad_input);
  EXPECT_ERROR(job.set_sheet("# \xc3", by()), ErrorCode::bad_input);
  EXPECT_EQ(job.journal()->size(), 2U);
}

TEST_F(JobTest, TwoJobsOnOneFileSeeEachOthersFinishedCommands) {
  Job one = fresh();
  auto two = Job::open(path(), Access::write);
  ASSERT_OK(two);
  ASSERT_OK(one.set_setting("k", "1", by()));
  EXPECT_EQ(**two->setting("k"), "1");
  ASSERT_OK(two->set_setting("k", "2", by()));
  EXPECT_EQ(**one.setting("k"), "2");
}

TEST_F(JobTest, ANameThatLooksLikeSqlOrAUriIsOnlyAName) {
  for (const char* name : {"file:x?mode=memory.fw", "a%20b#c.fw", "Robert'); DROP TABLE x;--.fw"}) {
    { ASSERT_OK(Job::create(in_folder(name), {.sheet_toml = "s", .by = by()})); }
    EXPECT_TRUE(std::filesystem::exists(in_folder(name)));
    const auto job = Job::open(in_folder(name), Access::read);
    ASSERT_OK(job);
    EXPECT_EQ(*job->sheet_toml(), "s");
  }
}

}  // namespace
}  // namespace fuelwright::service::job_test
