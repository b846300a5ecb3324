/// The job file: everything about one car in one SQLite file, name ending in .fw.
///
///   FW_TRY(Job job, Job::open("coupe.fw", Access::write));
///   FW_TRY(RecordingId id, job.add_recording({.name = "drive.csv", .bytes = bytes}, by));
///   FW_TRY(int number, job.accept_proposal(by));
///
/// Nothing in a job is ever changed or deleted: a new sheet, setting, reading or revision is a new
/// row beside the old ones, and every row belongs to one row of the journal (who, when, which
/// command, why, from what). A command is one transaction, on the disk when the call returns: a
/// crash loses at most the command that was running.
///
/// Errors every function can have: io (disk full, read-only, the system refused), damaged (with the
/// row's name; the file is left as it is), locked (another program has been writing for longer than
/// OpenOptions::wait), newer_version (a write to a job made by a newer fuelwright). A function that
/// fails has changed nothing.
///
/// One Job is used by one thread at a time; several Jobs may be open on one file, in one or in many
/// programs. No clock is read here: `when` comes from the caller. Decision:
/// docs/decisions/0005-job-file.md.
#pragma once

#include <chrono>
#include <compare>
#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "base/result.h"
#include "base/units/number.h"
#include "car/tables/calibration.h"
#include "car/tables/evidence.h"

namespace fuelwright::service {

namespace internal {
class Store;
}

enum class Access { read, write };

struct OpenOptions {
  /// How long to wait for another program that is writing, before ErrorCode::locked.
  std::chrono::milliseconds wait = std::chrono::seconds(5);
};

/// Who does it, when and why: one row of the journal.
struct By {
  std::string who;   ///< a person's name; not empty
  std::string when;  ///< ISO 8601 in UTC: "2026-05-04T09:30:00Z"
  std::string why;   ///< in words; empty = what the command says of itself
};

struct NewJob {
  std::string sheet_toml;
  UnitSystem units = UnitSystem::metric;
  By by;
};

struct RecordingId {
  std::int64_t value = 0;
  friend auto operator<=>(const RecordingId&, const RecordingId&) = default;
};

/// How the bytes of a recording are read, and what came of it. Both texts are JSON.
struct Reading {
  std::string mapping_json =
      "{}";  ///< the answers: which column is which channel, its unit, the row step
  std::string summary_json = "{}";  ///< what was found: channels, span, warnings
  std::int64_t rows = 0;            ///< samples after decoding
};

struct RecordingIn {
  std::string name;   ///< the file's name, without folders
  std::string bytes;  ///< as they came, at most kLargestRecording
  Reading reading;
};

inline constexpr std::size_t kLargestRecording = std::size_t{512} << 20;  ///< [bytes]

struct RecordingRow {
  RecordingId id;
  std::string name;
  std::string sha256;  ///< of the original bytes, 64 hex digits
  std::int64_t bytes = 0;
  std::string added_when;
  std::string added_by;
  Reading reading;  ///< the latest
};

struct RevisionRow {
  int number = 0;
  std::optional<int> parent;
  std::optional<std::int64_t> proposal;  ///< the proposal it was; none if found or edited
  std::string reason;
  std::string author;
  std::string when;
  bool in_force = false;
};

struct ProposalIn {
  car::Proposal proposal;
  std::string details_json =
      "{}";  ///< what the estimator says beside the evidence: verdict, coverage, warnings
  std::vector<RecordingId> recordings;  ///< the recordings it was made from
};

struct StoredProposal {
  std::int64_t id = 0;
  car::Proposal proposal;
  std::string details_json;
  std::vector<RecordingId> recordings;
  std::string who;
  std::string when;
  bool accepted = false;
  bool parent_in_force = false;  ///< false: it can no longer be accepted
};

struct JournalRow {
  std::int64_t id = 0;  ///< 1, 2, 3 ... without a gap
  std::string when;
  std::string who;
  std::string command;  ///< new, sheet, set, add, read, found, edit, estimate, accept, revert,
                        ///< ensemble
  std::string why;
  std::string sources_json;     ///< what it was made from: {"proposal": 2, "recordings": [1, 4]}
  std::optional<int> in_force;  ///< the revision that this command put in force
};

/// What an ensemble of engines (physics/ensemble) was computed from: the same key, the same ensemble.
struct EnsembleKey {
  std::string sheet_toml;  ///< the sheet as text; its SHA-256 is what is kept
  int members = 0;         ///< 1 or more
  std::int64_t seed = 0;
  std::string model;  ///< version of the flow model, and what else decides: "breathing 1, 16x12"
};

inline constexpr std::size_t kLargestEnsemble = std::size_t{64} << 20;  ///< [bytes]

class Job {
 public:
  /// Makes a new job. The file appears under its name complete or not at all.
  /// Errors: conflict if the name is taken (by anything, or by remains of another job's write-ahead
  /// log); bad_input if the name does not end in .fw or `by` is not as it should be; not_found if
  /// the folder does not exist.
  static Result<Job> create(const std::string& path, const NewJob& fresh);

  /// Opens a job and looks it over: SQLite's own check, the schema, the links between rows, the
  /// journal's chain; for writing also the seal of every sheet, setting, reading and revision and
  /// of the latest proposal. An older job opened for writing is brought up to date; a copy
  /// "NAME.version-N" is left beside it first. Opened for reading it is read through a copy in
  /// memory, and the file stays as it is. A newer job opens for reading whatever was asked: writes
  /// then answer newer_version. Errors: not_found; bad_input for a folder, a symbolic link, a
  /// device, another program's database; damaged.
  static Result<Job> open(const std::string& path, Access access, const OpenOptions& options = {});

  Job(Job&&) noexcept;
  Job& operator=(Job&&) noexcept;
  ~Job();

  const std::string& path() const;
  /// Done, or the error every write would answer: io for a job opened to read, newer_version.
  Status can_write() const;

  // ---- sheet and settings
  // ------------------------------------------------------------------------------------------
  Result<std::string> sheet_toml() const;
  Status set_sheet(const std::string& toml, const By& by);
  Result<UnitSystem> units() const;
  Status set_units(UnitSystem units, const By& by);
  /// Any named text, for instance the channel names of one kind of file; nullopt if it was never
  /// set.
  Result<std::optional<std::string>> setting(const std::string& name) const;
  Status set_setting(const std::string& name, const std::string& value, const By& by);

  // ---- recordings
  // --------------------------------------------------------------------------------------------------
  /// Errors: conflict naming the recording that has the same bytes; too_large.
  Result<RecordingId> add_recording(const RecordingIn& in, const By& by);
  /// The same bytes, read in another way from now on.
  Status read_again(RecordingId id, const Reading& reading, const By& by);
  Result<std::vector<RecordingRow>> recordings() const;
  Result<RecordingRow> recording(RecordingId id) const;
  /// The original bytes; their hash has been checked.
  Result<std::string> recording_bytes(RecordingId id) const;

  // ---- ensembles
  // ---------------------------------------------------------------------------------------------------
  /// Keeps an ensemble as the bytes it was written to. Errors: conflict if there is one of this key
  /// already; out_of_range for fewer than one member; too_large.
  Status keep_ensemble(const EnsembleKey& key, const std::string& bytes, const By& by);
  /// The same bytes; nullopt if there is none of this key (another sheet, another model).
  Result<std::optional<std::string>> ensemble_for(const EnsembleKey& key) const;

  // ---- revisions
  // ---------------------------------------------------------------------------------------------------
  /// Tables as found, or the flat start: revision 0, in force at once. Errors: conflict if there is
  /// one already; out_of_range as car::validate says.
  Status add_as_found(const car::Calibration& calibration, const By& by);
  /// A calibration made by hand becomes the revision in force; answers its number. `seen`: the
  /// revision the person looked at, its parent. An open proposal for it can no longer be accepted.
  /// Errors: conflict if `seen` is no longer in force; usage if by.why is empty; out_of_range as
  /// car::validate says.
  Result<int> add_edit(const car::Calibration& calibration, int seen, const By& by);
  Result<std::vector<RevisionRow>> revisions() const;
  Result<car::Revision> revision(int number) const;
  /// not_found while there is none.
  Result<car::Revision> revision_in_force() const;
  Result<std::optional<int>> number_in_force() const;
  /// An earlier revision becomes the one in force again. Errors: not_found; conflict if it is in
  /// force already.
  Status set_in_force(int number, const By& by);

  // ---- proposals
  // ---------------------------------------------------------------------------------------------------
  /// Takes the place of an open proposal. Errors: conflict if its parent is not in force; not_found
  /// if a recording is not there; out_of_range for a value that cannot be, in the calibration or
  /// the evidence.
  Result<std::int64_t> save_proposal(const ProposalIn& in, const By& by);
  /// The latest, if it is not accepted yet; else not_found.
  Result<StoredProposal> proposal() const;
  /// The latest, accepted or not: what is known now. not_found while there is none.
  Result<StoredProposal> evidence() const;
  /// What a revision was before it was accepted; nullopt if it was found, or made by hand.
  Result<std::optional<StoredProposal>> proposal_of(int revision) const;
  /// The open proposal becomes the revision in force; answers its number. Empty by.why = the
  /// proposal's own reason. `seen`: the proposal the person looked at. Errors: not_found if none is
  /// open; conflict if its parent is no longer in force, or if another one has taken the place of
  /// `seen`.
  Result<int> accept_proposal(const By& by, std::optional<std::int64_t> seen = {});

  Result<std::vector<JournalRow>> journal() const;

 private:
  explicit Job(std::unique_ptr<internal::Store> store);
  Status look_into() const;
  Status check_ensembles() const;
  std::unique_ptr<internal::Store> store_;
};

}  // namespace fuelwright::service
