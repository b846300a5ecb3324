/// Crashes: killed at any moment, or the power gone with half of the log on the disk.
#include <signal.h>
#include <sys/wait.h>

#include <chrono>
#include <set>
#include <thread>

#include "service/job/internal/test_job.h"

namespace fuelwright::service::crash_test {
namespace {

// Every recording and every revision has the journal row of its making, and every such row has its
// content.
void expect_consistent(const Job& job) {
  const auto journal = job.journal();
  ASSERT_OK(journal);
  const auto recordings = job.recordings();
  ASSERT_OK(recordings);
  const auto revisions = job.revisions();
  ASSERT_OK(revisions);
  std::multiset<std::string> made;
  for (const JournalRow& row : *journal) {
    made.insert(row.command);
    const bool makes_revision = row.command == "accept" || row.command == "found";
    EXPECT_EQ(row.in_force.has_value(), makes_revision);
  }
  EXPECT_EQ(made.count("add"), recordings->size());
  EXPECT_EQ(made.count("accept") + made.count("found"), revisions->size());
  for (const RecordingRow& r : *recordings) {
    const auto bytes = job.recording_bytes(r.id);
    ASSERT_OK(bytes);
    EXPECT_EQ(static_cast<std::int64_t>(bytes->size()), r.bytes);
  }
  for (const RevisionRow& r : *revisions) ASSERT_OK(job.revision(r.number));
  if (revisions->empty()) return;
  EXPECT_EQ(**job.number_in_force(), revisions->back().number);
}

// The child: works on the job until it is killed, and says one byte for every command that came
// back.
[[noreturn]] void work(const std::string& path, unsigned seed, int say) {
  auto job = Job::open(path, Access::write);
  if (!job) _exit(1);
  for (unsigned i = 0;; ++i) {
    const auto tell = [&](bool done) {
      const char c = done ? '+' : '!';
      if (write(say, &c, 1) != 1 || !done) _exit(2);
    };
    tell(job->add_recording({.name = "r.csv",
                             .bytes = noise(20000 + 7 * (i % 9000), seed * 10000 + i),
                             .reading = {}},
                            by())
             .ok());
    const int parent = **job->number_in_force();
    tell(job->save_proposal(small_proposal(parent, 0.5 + 0.001 * (i % 100)), by()).ok());
    tell(job->accept_proposal(by()).ok());
  }
}

TEST_F(JobTest, KilledAtAnyMomentAJobLosesAtMostTheCommandThatWasRunning) {
  {
    Job job = fresh();
    ASSERT_OK(job.add_as_found(small_calibration(), by()));
  }
  constexpr unsigned kKills = 30;
  std::mt19937 random(20260504);
  std::size_t rows = 2;
  std::size_t told_in_all = 0;
  for (unsigned kill_number = 0; kill_number < kKills; ++kill_number) {
    int pipe_ends[2];
    ASSERT_EQ(pipe(pipe_ends), 0);
    const pid_t child = fork();
    ASSERT_GE(child, 0);
    if (child == 0) work(path(), kill_number + 1, pipe_ends[1]);
    close(pipe_ends[1]);
    // Some commands first, then a moment inside the next one or two.
    char c = 0;
    std::size_t told = 0;
    for (unsigned wanted = random() % 4; told < wanted && read(pipe_ends[0], &c, 1) == 1; ++told) {
    }
    std::this_thread::sleep_for(std::chrono::microseconds(random() % 12000));
    kill(child, SIGKILL);
    int status = 0;
    waitpid(child, &status, 0);
    ASSERT_TRUE(WIFSIGNALED(status)) << "the child stopped by itself: " << WEXITSTATUS(status);
    for (; read(pipe_ends[0], &c, 1) == 1; ++told) ASSERT_EQ(c, '+');
    close(pipe_ends[0]);

    const auto job = Job::open(path(), kill_number % 2 == 0 ? Access::write : Access::read);
    ASSERT_OK(job);
    const std::size_t now = job->journal()->size();
    EXPECT_GE(now, rows + told) << "a finished command was lost";
    EXPECT_LE(now, rows + told + 1) << "more than the running command";
    expect_consistent(*job);
    rows = now;
    told_in_all += told;
  }
  EXPECT_GT(told_in_all, kKills / 2);  // the children did work
}

TEST_F(JobTest, WithHalfOfTheLogOnTheDiskAJobIsAtTheEndOfAnEarlierCommand) {
  Job job = full();  // open: its commands stand in the log
  for (int i = 0; i < 4; ++i) ASSERT_OK(job.set_setting("k", std::to_string(i), by()));
  // Copied behind SQLite's back, which drops its locks: nothing is written to this job after that.
  const std::string file = bytes_of(path());
  const std::string log = bytes_of(path() + "-wal");
  const std::size_t all = job.journal()->size();
  const std::string torn = in_folder("torn.fw");
  std::set<std::size_t> states;
  std::size_t before = 0;
  constexpr std::size_t kStep = 1031;  // prime: no multiple of a frame
  for (std::size_t size = 0; size <= log.size(); size += size + kStep > log.size() ? 1 : kStep) {
    if (size + kStep > log.size()) size = log.size();
    write_bytes(torn, file);
    write_bytes(torn + "-wal", log.substr(0, size));
    const auto opened = Job::open(torn, Access::read);
    ASSERT_OK(opened);
    const std::size_t rows = opened->journal()->size();
    EXPECT_GE(rows, before);
    expect_consistent(*opened);
    before = rows;
    states.insert(rows);
  }
  EXPECT_EQ(before, all);
  EXPECT_EQ(states.size(), all);  // every command was the last one of some torn log
}

TEST_F(JobTest, AMakingThatIsKilledLeavesAWholeJobOrNone) {
  std::mt19937 random(7);
  for (int i = 0; i < 20; ++i) {
    const std::string name = in_folder("new" + std::to_string(i) + ".fw");
    const pid_t child = fork();
    ASSERT_GE(child, 0);
    if (child == 0) {
      (void)Job::create(name, {.sheet_toml = "[engine]\n", .by = by()});
      _exit(0);
    }
    std::this_thread::sleep_for(std::chrono::microseconds(random() % 15000));
    kill(child, SIGKILL);
    waitpid(child, nullptr, 0);
    if (!std::filesystem::exists(name)) continue;
    const auto job = Job::open(name, Access::write);
    ASSERT_OK(job);
    EXPECT_EQ(*job->sheet_toml(), "[engine]\n");
  }
}

}  // namespace
}  // namespace fuelwright::service::crash_test
