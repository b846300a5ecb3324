/// The revisions of a job, and the proposals they come from.
#include <fmt/format.h>

#include <algorithm>
#include <nlohmann/json.hpp>

#include "service/job/calibration_json.h"
#include "service/job/internal/journal.h"
#include "service/job/internal/seal.h"
#include "service/job/internal/sql.h"
#include "service/job/internal/statement.h"
#include "service/job/internal/store.h"
#include "service/job/job.h"

namespace fuelwright::service {

using internal::Seal;
using internal::Store;

namespace {

using Parent = std::optional<std::int64_t>;

std::string revision_seal(std::int64_t number, Parent parent, Parent proposal,
                          const std::string& calibration) {
  return Seal("revision").add(number).add(parent).add(proposal).add(calibration).hex();
}

struct ProposalTexts {
  std::int64_t parent;
  std::string reason;
  std::string calibration;
  std::string evidence;
  std::string details;
  std::vector<RecordingId> recordings;

  std::string seal() const {
    Seal out("proposal");
    out.add(parent).add(reason).add(calibration).add(evidence).add(details);
    for (const RecordingId id : recordings) out.add(id.value);
    return out.hex();
  }
};

std::optional<int> number_in_force(const Store& store) {
  SQLite::Statement row(store.db(), internal::sql::kNumberInForce);
  if (!row.executeStep()) return std::nullopt;
  return row.getColumn(0).getInt();
}

Error no_revision(const Store& store, int number) {
  return {ErrorCode::not_found, store.path(), fmt::format("there is no revision {}", number)};
}

Result<RevisionRow> row_of(const Store& store, SQLite::Statement& s, std::optional<int> in_force) {
  RevisionRow row{.number = s.getColumn(0).getInt(),
                  .parent = internal::optional_number<int>(s.getColumn(1)),
                  .proposal = internal::optional_number<std::int64_t>(s.getColumn(2)),
                  .reason = s.getColumn(3),
                  .author = s.getColumn(4),
                  .when = s.getColumn(5),
                  .in_force = false};
  row.in_force = in_force == row.number;
  const std::string seal =
      revision_seal(row.number, internal::optional_number<std::int64_t>(s.getColumn(1)),
                    row.proposal, s.getColumn(6).getString());
  if (seal != s.getColumn(7).getString()) {
    return store.broken_seal(fmt::format("revision {}", row.number));
  }
  return row;
}

Result<car::Revision> revision_of(const Store& store, int number) {
  auto rows = internal::prepared(store.db(), internal::sql::kRevisions, std::optional<int>(number));
  if (!rows.executeStep()) return no_revision(store, number);
  FW_TRY(auto row, row_of(store, rows, std::nullopt));
  auto calibration = read_calibration(rows.getColumn(6).getString());
  if (!calibration) {
    return store.damaged(fmt::format("revision {}", number), calibration.error().line());
  }
  return car::Revision{.number = row.number,
                       .parent = row.parent,
                       .reason = row.reason,
                       .author = row.author,
                       .when = row.when,
                       .calibration = std::move(*calibration)};
}

std::vector<RecordingId> recordings_of(const Store& store, std::int64_t proposal) {
  std::vector<RecordingId> out;
  auto rows = internal::prepared(store.db(), internal::sql::kProposalRecordings, proposal);
  while (rows.executeStep()) out.push_back({rows.getColumn(0).getInt64()});
  return out;
}

// The proposal that a statement finds; nullopt if it finds none.
Result<std::optional<StoredProposal>> proposal_in(const Store& store, SQLite::Statement& row) {
  if (!row.executeStep()) return std::optional<StoredProposal>();
  const std::int64_t id = row.getColumn(0).getInt64();
  const std::string place = fmt::format("proposal {}", id);
  const ProposalTexts texts{.parent = row.getColumn(1).getInt64(),
                            .reason = row.getColumn(2),
                            .calibration = row.getColumn(3),
                            .evidence = row.getColumn(4),
                            .details = row.getColumn(5),
                            .recordings = recordings_of(store, id)};
  if (texts.seal() != row.getColumn(6).getString()) return store.broken_seal(place);
  auto calibration = read_calibration(texts.calibration);
  if (!calibration) return store.damaged(place, calibration.error().line());
  auto evidence = read_evidence(texts.evidence);
  if (!evidence) return store.damaged(place, evidence.error().line());
  const int parent = static_cast<int>(texts.parent);
  return std::optional<StoredProposal>(
      StoredProposal{.id = id,
                     .proposal = {.parent = parent,
                                  .calibration = std::move(*calibration),
                                  .evidence = std::move(*evidence),
                                  .reason = texts.reason},
                     .details_json = texts.details,
                     .recordings = texts.recordings,
                     .who = row.getColumn(7),
                     .when = row.getColumn(8),
                     .accepted = row.getColumn(9).getInt() != 0,
                     .parent_in_force = number_in_force(store) == parent});
}

// The latest, accepted or not.
Result<std::optional<StoredProposal>> last_proposal(const Store& store) {
  SQLite::Statement row(store.db(), internal::sql::kLastProposal);
  return proposal_in(store, row);
}

Error parent_gone(const Store& store, const std::string& what, int parent, std::optional<int> now) {
  return {ErrorCode::conflict, store.path(),
          fmt::format("{} was made from revision {}, but {} is in force now; estimate again", what,
                      parent, now ? fmt::format("revision {}", *now) : "no revision")};
}

Result<StoredProposal> open_proposal(const Store& store) {
  FW_TRY(auto last, last_proposal(store));
  if (!last || last->accepted) {
    return Error{ErrorCode::not_found, store.path(), "there is no open proposal; estimate first"};
  }
  return std::move(*last);
}

Status check_recordings(const Store& store, const std::vector<RecordingId>& wanted) {
  std::vector<RecordingId> there;
  SQLite::Statement rows(store.db(), internal::sql::kRecordingIds);
  while (rows.executeStep()) there.push_back({rows.getColumn(0).getInt64()});
  for (const RecordingId id : wanted) {
    if (std::find(there.begin(), there.end(), id) == there.end()) {
      return Error{ErrorCode::not_found, store.path(),
                   fmt::format("there is no recording {}", id.value)};
    }
  }
  return Done{};
}

std::string sources_of(const std::vector<RecordingId>& recordings, int parent) {
  auto list = nlohmann::json::array();
  for (const RecordingId id : recordings) list.push_back(id.value);
  return nlohmann::json{{"recordings", std::move(list)}, {"revision", parent}}.dump();
}

void add_revision(Store& store, int number, Parent parent, Parent proposal,
                  const std::string& calibration, std::int64_t journal) {
  internal::insert(store.db(), internal::sql::kAddRevision, number, parent, proposal, calibration,
                   revision_seal(number, parent, proposal, calibration), journal);
}

int next_revision(const Store& store) {
  return store.db().execAndGet(internal::sql::kNextRevision).getInt();
}

}  // namespace

Status Job::add_as_found(const car::Calibration& calibration, const By& by) {
  FW_CHECK(internal::check(by));
  FW_CHECK(car::validate(calibration));
  return store_->write([&]() -> Status {
    if (next_revision(*store_) != 0) {
      return Error{ErrorCode::conflict, path(),
                   "has its tables as found (revision 0) already; a revision is never replaced"};
    }
    const auto journal = internal::add_journal(
        store_->db(), {.command = "found", .by = by, .says = "tables as found", .in_force = 0});
    add_revision(*store_, 0, std::nullopt, std::nullopt, json_of(calibration).dump(), journal);
    return Done{};
  });
}

Result<int> Job::add_edit(const car::Calibration& calibration, int seen, const By& by) {
  FW_CHECK(internal::check(by));
  FW_CHECK(car::validate(calibration));
  if (by.why.empty()) {
    return Error{ErrorCode::usage, "why", "a change by hand needs a reason, for the journal"};
  }
  return store_->write([&]() -> Result<int> {
    const auto now = service::number_in_force(*store_);
    if (now != seen) {
      return Error{ErrorCode::conflict, path(),
                   fmt::format("revision {} was looked at, but {} is in force now; look again",
                               seen, now ? fmt::format("revision {}", *now) : "no revision")};
    }
    const int number = next_revision(*store_);
    const auto journal = internal::add_journal(
        store_->db(), {.command = "edit",
                       .by = by,
                       .says = "",
                       .sources_json = nlohmann::json{{"revision", seen}}.dump(),
                       .in_force = number});
    add_revision(*store_, number, seen, std::nullopt, json_of(calibration).dump(), journal);
    return number;
  });
}

Result<std::vector<RevisionRow>> Job::revisions() const {
  return store_->read([&]() -> Result<std::vector<RevisionRow>> {
    std::vector<RevisionRow> out;
    const auto in_force = service::number_in_force(*store_);
    auto rows = internal::prepared(store_->db(), internal::sql::kRevisions, std::optional<int>());
    while (rows.executeStep()) {
      FW_TRY(auto row, row_of(*store_, rows, in_force));
      out.push_back(std::move(row));
    }
    return out;
  });
}

Result<car::Revision> Job::revision(int number) const {
  return store_->read([&] { return revision_of(*store_, number); });
}

Result<car::Revision> Job::revision_in_force() const {
  return store_->read([&]() -> Result<car::Revision> {
    const auto number = service::number_in_force(*store_);
    if (!number) return Error{ErrorCode::not_found, path(), "has no revision yet"};
    return revision_of(*store_, *number);
  });
}

Result<std::optional<int>> Job::number_in_force() const {
  return store_->read(
      [&]() -> Result<std::optional<int>> { return service::number_in_force(*store_); });
}

Status Job::set_in_force(int number, const By& by) {
  FW_CHECK(internal::check(by));
  return store_->write([&]() -> Status {
    FW_CHECK(revision_of(*store_, number));
    const auto now = service::number_in_force(*store_);
    if (now == number) {
      return Error{ErrorCode::conflict, path(),
                   fmt::format("revision {} is in force already", number)};
    }
    internal::add_journal(store_->db(),
                          {.command = "revert",
                           .by = by,
                           .says = fmt::format("revision {} is in force again", number),
                           .sources_json = nlohmann::json{{"revision", number}}.dump(),
                           .in_force = number});
    return Done{};
  });
}

Result<std::int64_t> Job::save_proposal(const ProposalIn& in, const By& by) {
  FW_CHECK(internal::check(by));
  FW_CHECK(car::validate(in.proposal.calibration));
  FW_CHECK(validate(in.proposal.evidence));
  FW_CHECK(internal::check_text("the proposal's reason", in.proposal.reason));
  FW_CHECK(internal::check_json("the proposal's details", in.details_json));
  ProposalTexts texts{.parent = in.proposal.parent,
                      .reason = in.proposal.reason,
                      .calibration = json_of(in.proposal.calibration).dump(),
                      .evidence = json_of(in.proposal.evidence).dump(),
                      .details = in.details_json,
                      .recordings = in.recordings};
  std::sort(texts.recordings.begin(), texts.recordings.end());
  const auto twice = std::unique(texts.recordings.begin(), texts.recordings.end());
  texts.recordings.erase(twice, texts.recordings.end());
  return store_->write([&]() -> Result<std::int64_t> {
    const auto now = service::number_in_force(*store_);
    if (now != in.proposal.parent) {
      return parent_gone(*store_, "the proposal", in.proposal.parent, now);
    }
    FW_CHECK(check_recordings(*store_, texts.recordings));
    SQLite::Database& db = store_->db();
    const auto journal = internal::add_journal(
        db, {.command = "estimate",
             .by = by,
             .says = texts.reason,
             .sources_json = sources_of(texts.recordings, in.proposal.parent)});
    const auto id =
        internal::insert(db, internal::sql::kAddProposal, texts.parent, texts.reason,
                         texts.calibration, texts.evidence, texts.details, texts.seal(), journal);
    for (const RecordingId recording : texts.recordings) {
      internal::insert(db, internal::sql::kAddProposalRecording, id, recording.value);
    }
    return id;
  });
}

Result<StoredProposal> Job::proposal() const {
  return store_->read([&] { return open_proposal(*store_); });
}

Result<StoredProposal> Job::evidence() const {
  return store_->read([&]() -> Result<StoredProposal> {
    FW_TRY(auto last, last_proposal(*store_));
    if (!last) return Error{ErrorCode::not_found, path(), "has no evidence yet; estimate first"};
    return std::move(*last);
  });
}

Result<std::optional<StoredProposal>> Job::proposal_of(int revision) const {
  return store_->read([&]() -> Result<std::optional<StoredProposal>> {
    auto row = internal::prepared(store_->db(), internal::sql::kProposalOfRevision, revision);
    return proposal_in(*store_, row);
  });
}

Result<int> Job::accept_proposal(const By& by, std::optional<std::int64_t> seen) {
  FW_CHECK(internal::check(by));
  return store_->write([&]() -> Result<int> {
    FW_TRY(const StoredProposal p, open_proposal(*store_));
    if (seen && *seen != p.id) {
      return Error{
          ErrorCode::conflict, path(),
          fmt::format("proposal {} was looked at, but proposal {} has taken its place; look again",
                      *seen, p.id)};
    }
    if (!p.parent_in_force) {
      return parent_gone(*store_, fmt::format("proposal {}", p.id), p.proposal.parent,
                         service::number_in_force(*store_));
    }
    const int number = next_revision(*store_);
    auto sources = nlohmann::json::parse(sources_of(p.recordings, p.proposal.parent));
    sources["proposal"] = p.id;
    const auto journal = internal::add_journal(store_->db(), {.command = "accept",
                                                              .by = by,
                                                              .says = p.proposal.reason,
                                                              .sources_json = sources.dump(),
                                                              .in_force = number});
    add_revision(*store_, number, p.proposal.parent, p.id, json_of(p.proposal.calibration).dump(),
                 journal);
    return number;
  });
}

}  // namespace fuelwright::service
