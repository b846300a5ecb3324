#include <cmath>

#include "service/job/internal/test_job.h"

namespace fuelwright::service::revisions_test {
namespace {

TEST_F(JobTest, TablesAsFoundAreRevisionZeroAndInForce) {
  Job job = fresh();
  EXPECT_ERROR(job.revision_in_force(), ErrorCode::not_found);
  EXPECT_FALSE(job.number_in_force()->has_value());
  ASSERT_OK(job.add_as_found(small_calibration(), by("read out of the car")));
  const auto r = job.revision_in_force();
  ASSERT_OK(r);
  EXPECT_EQ(r->number, 0);
  EXPECT_FALSE(r->parent);
  EXPECT_EQ(r->reason, "read out of the car");
  EXPECT_EQ(r->author, "A. Technician");
  EXPECT_EQ(r->calibration, small_calibration());
  EXPECT_ERROR(job.add_as_found(small_calibration(), by()), ErrorCode::conflict);
}

TEST_F(JobTest, AnAcceptedProposalIsTheNextRevisionWithItsParentAndItsEvidence) {
  Job job = fresh();
  ASSERT_OK(job.add_as_found(small_calibration(), by()));
  ASSERT_OK(job.add_recording({.name = "a.csv", .bytes = "x", .reading = {}}, by()));
  EXPECT_ERROR(job.proposal(), ErrorCode::not_found);
  EXPECT_ERROR(job.evidence(), ErrorCode::not_found);
  EXPECT_ERROR(job.accept_proposal(by()), ErrorCode::not_found);
  ProposalIn in = small_proposal(0);
  in.recordings = {{1}, {1}};
  ASSERT_OK(job.save_proposal(in, by("")));

  const auto open = job.proposal();
  ASSERT_OK(open);
  EXPECT_EQ(open->proposal.calibration, in.proposal.calibration);
  EXPECT_EQ(open->proposal.evidence.sd_log, in.proposal.evidence.sd_log);
  EXPECT_EQ(open->proposal.evidence.mark, in.proposal.evidence.mark);
  EXPECT_EQ(open->details_json, R"({"verdict": "good"})");
  EXPECT_EQ(open->recordings, (std::vector<RecordingId>{{1}}));
  EXPECT_TRUE(open->parent_in_force);

  const auto number = job.accept_proposal(by(""));
  ASSERT_OK(number);
  EXPECT_EQ(*number, 1);
  const auto r = job.revision_in_force();
  ASSERT_OK(r);
  EXPECT_EQ(r->number, 1);
  EXPECT_EQ(r->parent, 0);
  EXPECT_EQ(r->reason, "richer where driven");  // none given: the proposal's own
  EXPECT_EQ(r->calibration, in.proposal.calibration);
  EXPECT_ERROR(job.proposal(), ErrorCode::not_found);
  EXPECT_ERROR(job.accept_proposal(by()), ErrorCode::not_found);
  const auto evidence = job.evidence();
  ASSERT_OK(evidence);
  EXPECT_TRUE(evidence->accepted);
  const auto journal = job.journal();
  ASSERT_OK(journal);
  EXPECT_EQ(journal->back().command, "accept");
  EXPECT_EQ(journal->back().sources_json, R"({"proposal":1,"recordings":[1],"revision":0})");
  EXPECT_EQ(journal->back().in_force, 1);
}

TEST_F(JobTest, AnEarlierRevisionComesBackIntoForceAndTheListTellsTheTruth) {
  Job job = full();
  EXPECT_ERROR(job.set_in_force(9, by()), ErrorCode::not_found);
  EXPECT_ERROR(job.set_in_force(1, by()), ErrorCode::conflict);
  ASSERT_OK(job.set_in_force(0, by("surges at cruise")));
  EXPECT_EQ(job.revision_in_force()->calibration, small_calibration());
  const auto rows = job.revisions();
  ASSERT_OK(rows);
  ASSERT_EQ(rows->size(), 2U);
  EXPECT_TRUE((*rows)[0].in_force);
  EXPECT_FALSE((*rows)[1].in_force);
  EXPECT_EQ((*rows)[1].parent, 0);
  EXPECT_EQ((*rows)[1].proposal, 1);
  EXPECT_EQ((*rows)[1].reason, "drives well");
}

TEST_F(JobTest, AChangeByHandIsARevisionWithItsReasonAndClosesTheOpenProposal) {
  Job job = full();  // revision 1 in force, a proposal for it open
  car::Calibration edited = small_calibration();
  edited.tables.begin()->second.values[0] *= 1.01;
  EXPECT_ERROR(job.add_edit(edited, 1, by("")), ErrorCode::usage);
  EXPECT_ERROR(job.add_edit(edited, 0, by("surges")), ErrorCode::conflict);
  car::Calibration cannot_be = edited;
  cannot_be.tables.begin()->second.values[0] = 99;
  EXPECT_ERROR(job.add_edit(cannot_be, 1, by("surges")), ErrorCode::out_of_range);
  EXPECT_EQ(job.revisions()->size(), 2U);

  const auto number = job.add_edit(edited, 1, by("surges at idle"));
  ASSERT_OK(number);
  EXPECT_EQ(*number, 2);
  const auto r = job.revision_in_force();
  ASSERT_OK(r);
  EXPECT_EQ(r->number, 2);
  EXPECT_EQ(r->parent, 1);
  EXPECT_EQ(r->reason, "surges at idle");
  EXPECT_EQ(r->calibration, edited);
  EXPECT_FALSE(job.revisions()->back().proposal);
  EXPECT_ERROR(job.accept_proposal(by()), ErrorCode::conflict);
  const auto journal = job.journal();
  ASSERT_OK(journal);
  EXPECT_EQ(journal->back().command, "edit");
  EXPECT_EQ(journal->back().sources_json, R"({"revision":1})");
  EXPECT_EQ(journal->back().in_force, 2);
  // Once more by hand: two revisions without a proposal beside each other.
  ASSERT_OK(job.add_edit(small_calibration(), 2, by("back by hand")));
  EXPECT_ERROR(Job::open(path(), Access::read)->add_edit(edited, 3, by("x")), ErrorCode::io);
}

TEST_F(JobTest, AProposalWhoseParentIsNoLongerInForceIsNotAccepted) {
  Job job = full();  // its open proposal was made from revision 1
  ASSERT_OK(job.set_in_force(0, by()));
  EXPECT_FALSE(job.proposal()->parent_in_force);
  const auto refused = job.accept_proposal(by());
  ASSERT_FALSE(refused);
  EXPECT_EQ(refused.error().code, ErrorCode::conflict);
  EXPECT_EQ(refused.error().message,
            "proposal 2 was made from revision 1, but revision 0 is in force now; estimate again");
  EXPECT_ERROR(job.save_proposal(small_proposal(1), by()), ErrorCode::conflict);
  EXPECT_EQ(job.revisions()->size(), 2U);
  ASSERT_OK(job.set_in_force(1, by()));
  EXPECT_EQ(*job.accept_proposal(by()), 2);  // its parent is in force again
}

TEST_F(JobTest, ANewerProposalTakesTheOpenOnesPlaceAndIsNotAcceptedUnseen) {
  Job job = full();
  const std::int64_t seen = job.proposal()->id;
  const auto newer = job.save_proposal(small_proposal(1, 0.9), by());
  ASSERT_OK(newer);
  EXPECT_ERROR(job.accept_proposal(by(), seen), ErrorCode::conflict);
  ASSERT_OK(job.accept_proposal(by(), *newer));
  EXPECT_EQ(job.revision_in_force()->calibration, small_calibration(0.9));
}

TEST_F(JobTest, AProposalThatCannotBeIsNotKept) {
  Job job = full();
  const std::size_t rows_before = job.journal()->size();
  ProposalIn in = small_proposal(1);
  in.recordings = {{1}, {77}};
  EXPECT_ERROR(job.save_proposal(in, by()), ErrorCode::not_found);
  in = small_proposal(1);
  in.proposal.calibration.tables.at(car::TableWhat::ve).values[2] = NAN;
  EXPECT_ERROR(job.save_proposal(in, by()), ErrorCode::out_of_range);
  in = small_proposal(1);
  in.proposal.evidence.sd_log[0] = -1;
  EXPECT_ERROR(job.save_proposal(in, by()), ErrorCode::out_of_range);
  EXPECT_EQ(job.journal()->size(), rows_before);
}

TEST_F(JobTest, SqlItselfRefusesToChangeWhatStandsInAJob) {
  { const Job job = full(); }
  const char* attempts[] = {
      "UPDATE revisions SET calibration = '{}' WHERE number = 1",
      "UPDATE revisions SET parent = NULL",
      "DELETE FROM revisions WHERE number = 1",
      "INSERT OR REPLACE INTO revisions SELECT number, parent, proposal, '{}', seal, journal FROM "
      "revisions",
      "INSERT OR REPLACE INTO revisions SELECT 5, parent, proposal, '{}', seal, journal FROM "
      "revisions"
      " WHERE number = 1",
      "UPDATE journal SET who = 'somebody else'",
      "DELETE FROM journal WHERE id = 2",
      "INSERT OR REPLACE INTO journal SELECT id, at, 'x', command, why, sources, in_force, seal "
      "FROM journal",
      "UPDATE recordings SET name = 'x'",
      "DELETE FROM recordings",
      "INSERT OR REPLACE INTO recordings SELECT 9, name, sha256, bytes, seal, journal, packed FROM "
      "recordings",
      "UPDATE proposals SET evidence = '{}'",
      "DELETE FROM proposal_recordings",
      "UPDATE sheets SET toml = ''",
      "DELETE FROM settings",
      "UPDATE readings SET mapping = '{}'",
      "PRAGMA foreign_keys = ON; INSERT INTO revisions VALUES (9, 8, NULL, '{}', '', 1)"};
  for (const char* sql : attempts) EXPECT_NE(raw_sql(path(), sql), "") << sql;
  const auto job = Job::open(path(), Access::read);
  ASSERT_OK(job);
  EXPECT_EQ(job->revision(1)->calibration, small_calibration(0.83));
}

}  // namespace
}  // namespace fuelwright::service::revisions_test
