// kill -9 at random moments: every job opens, the journal fits the content, at most the running
// command is lost. (The same over a migration: src/service/job/migration_crash_test.cc.)
#include <random>
#include <set>

#include "service/job/job.h"
#include "workshop.h"

namespace fuelwright::jobs {
namespace {

using service::Access;
using service::Job;
using service::JournalRow;

constexpr int kKillsEach = 80;
constexpr int kRoundsOnOneJob =
    8;  // then a fresh copy: what a kill leaves is worked on, and it stays small

// Every recording, revision and proposal has the journal row of its making, and the other way
// round; everything can be read (each reading checks its seal).
void expect_consistent(const Job& job) {
  const auto journal = job.journal();
  ASSERT_TRUE(journal) << journal.error().line();
  const auto recordings = job.recordings();
  ASSERT_TRUE(recordings) << recordings.error().line();
  const auto revisions = job.revisions();
  ASSERT_TRUE(revisions) << revisions.error().line();
  std::multiset<std::string> made;
  std::optional<int> in_force;
  for (const JournalRow& row : *journal) {
    made.insert(row.command);
    EXPECT_EQ(row.in_force.has_value(), row.command == "accept" || row.command == "found");
    if (row.in_force) in_force = row.in_force;
  }
  EXPECT_EQ(made.count("add"), recordings->size());
  EXPECT_EQ(made.count("accept") + made.count("found"), revisions->size());
  for (const auto& r : *recordings) {
    const auto bytes = job.recording_bytes(r.id);
    ASSERT_TRUE(bytes) << bytes.error().line();
  }
  for (const auto& r : *revisions) ASSERT_TRUE(job.revision(r.number));
  const auto force = job.number_in_force();
  ASSERT_TRUE(force) << force.error().line();
  EXPECT_EQ(*force, in_force);
  if (made.count("estimate") > 0) {
    const auto evidence = job.evidence();
    ASSERT_TRUE(evidence) << evidence.error().line();
    EXPECT_EQ(evidence->id, static_cast<std::int64_t>(made.count("estimate")));
  }
}

std::vector<std::string> commands_of(const std::string& path) {
  const auto job = Job::open(path, Access::read);
  EXPECT_TRUE(job) << (job ? "" : job.error().line());
  if (!job) return {};
  std::vector<std::string> out;
  const auto journal = job->journal();
  EXPECT_TRUE(journal);
  if (journal) {
    for (const JournalRow& row : *journal) out.push_back(row.command);
  }
  return out;
}

class Killed : public Workshop {
 protected:
  // words(path, round): the command; `from`: the job it needs; `writes`: the journal rows it may
  // add, in order, the first of which is what it was asked for.
  void kill_at_random_moments(const std::string& from, const std::vector<std::string>& writes,
                              unsigned seed,
                              const std::function<Words(const std::string&, int)>& words) {
    std::mt19937 random(seed);
    const std::string path = in("coupe.fw");
    // Follows how long the command takes here, without a clock: a third comes through.
    double longest_us = 20'000;
    int before_writing = 0, after_writing = 0, finished = 0;
    for (int round = 1; round <= kKillsEach; ++round) {
      SCOPED_TRACE(writes.front() + " " + std::to_string(round));
      // An accept that came through needs another proposal; so each starts from a fresh copy.
      if (writes.front() == "accept" || round % kRoundsOnOneJob == 1) fresh(from);
      const auto before = commands_of(path);
      const Words command = words(path, round);
      // Anywhere, and every other time in the last part, where the writing is.
      const double from_share = round % 2 == 0 ? 0.5 : 0.0;
      const double share =
          from_share + (1.0 - from_share) * static_cast<double>(random() % 10'000) / 1e4;
      Running program(folder_, command);
      usleep(static_cast<useconds_t>(share * longest_us));
      const Answer a = program.kill_now();
      longest_us *= a.code == 0 ? 0.9 : 1.06;
      ASSERT_TRUE(a.code == -1 || a.code == 0) << a.err;

      const auto after = commands_of(path);
      ASSERT_GE(after.size(), before.size()) << "an earlier command was lost";
      ASSERT_TRUE(std::equal(before.begin(), before.end(), after.begin()));
      const std::vector<std::string> more(
          after.begin() + static_cast<std::ptrdiff_t>(before.size()), after.end());
      ASSERT_LE(more.size(), writes.size());
      EXPECT_TRUE(std::equal(more.begin(), more.end(), writes.begin()));
      if (a.code == 0) {
        EXPECT_FALSE(more.empty()) << "it said that it was done";
        ++finished;
      } else {
        ++(more.empty() ? before_writing : after_writing);
      }
      const auto job = Job::open(path, round % 2 == 0 ? Access::write : Access::read);
      ASSERT_TRUE(job) << job.error().line();
      expect_consistent(*job);
      if (HasFatalFailure()) return;
    }
    // And the job is worked on as if nothing had been: by the program.
    EXPECT_EQ(run({"show", path, "journal"}).code, 0);
    EXPECT_EQ(run(add(path, another_drive(1000))).code, 0);
    EXPECT_EQ(run({"estimate", path}).code, 0);
    EXPECT_EQ(run({"accept", path}).code, 0);
    // The moments were spread over the whole command.
    EXPECT_GT(before_writing, kKillsEach / 8);
    EXPECT_GT(before_writing + after_writing, kKillsEach / 2);
    RecordProperty("killed_before_writing", before_writing);
    RecordProperty("killed_after_writing", after_writing);
    RecordProperty("finished", finished);
  }
};

TEST_F(Killed, WhileARecordingIsTakenInAJobLosesAtMostThatRecording) {
  // The second row remembers how such files are read.
  kill_at_random_moments("ready.fw", {"add", "set"}, 31, [&](const std::string& path, int round) {
    return add(path, another_drive(round + 1));
  });
}

TEST_F(Killed, WhileItIsEstimatedAJobLosesAtMostThatProposal) {
  kill_at_random_moments("ready.fw", {"estimate"}, 32,
                         [&](const std::string& path, int) { return Words{"estimate", path}; });
}

TEST_F(Killed, WhileAProposalIsAcceptedAJobLosesAtMostThatAcceptance) {
  kill_at_random_moments("proposed.fw", {"accept"}, 33,
                         [&](const std::string& path, int) { return Words{"accept", path}; });
}

}  // namespace
}  // namespace fuelwright::jobs
