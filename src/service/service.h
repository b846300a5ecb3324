/// The only door: one function per question a technician asks. Commands and pages call these and
/// nothing below.
///
///   FW_TRY(EstimateReply reply, estimate({.job = "coupe.fw", .who = {"Kim", now}}));
///   puts(text(reply).c_str());            // report/text.h
///
/// Each reply begins with one plain sentence. Texts are made by report/, JSON by api/.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "advice/map_estimate/observe.h"
#include "base/result.h"
#include "car/build/sheet_file.h"
#include "car/tables/table_text.h"
#include "service/job/job.h"
#include "signals/channels/gears.h"
#include "signals/recording/recording.h"

namespace fuelwright::service {

/// Who asks, and when; the program's front reads the clock, nothing below does.
struct Who {
  std::string name;
  std::string when;  ///< ISO 8601 in UTC
};

// ---- new
// -----------------------------------------------------------------------------------------------------------

struct TableIn {
  std::string text;  ///< a pasted table
  std::string name;  ///< for messages
  car::TextReading reading;
};

struct NewRequest {
  std::string job;
  std::string sheet_toml;
  std::string sheet_name;
  std::optional<TableIn> ve_as_found;
  std::optional<UnitSystem> units;  ///< default: US if the sheet speaks of inches, else metric
  Who who;
};
struct NewReply {
  std::string sentence;
  std::string job;
  UnitSystem units = UnitSystem::metric;
  int given = 0;
  int typical = 0;
  std::string start;  ///< what revision 0 is
  std::vector<car::Line> sheet;
};
Result<NewReply> new_job(const NewRequest& request);

// ---- add
// -----------------------------------------------------------------------------------------------------------

struct AddRequest {
  std::string job;
  std::string name;
  std::string bytes;
  signals::Answers answers;
  std::optional<int> driven_with;  ///< the revision that was in the car; default: the one in force
  Who who;
};
struct AddReply {
  std::string sentence;
  std::int64_t id = 0;
  std::string name;
  std::size_t rows = 0;
  std::optional<double> seconds;
  std::string pace;
  std::string simultaneity;
  std::vector<signals::Guess> columns;
  signals::Gears gears;
  std::vector<std::string> teaches;  ///< ways in which it can teach the table
  std::vector<std::string> warnings;
};
Result<AddReply> add_recording(const AddRequest& request);

// ---- estimate
// ------------------------------------------------------------------------------------------------------

struct EstimateRequest {
  std::string job;
  std::optional<advice::Way> way;
  bool open_loop = false;
  Who who;
};
/// How one recording was used.
struct UsedRecording {
  std::int64_t id = 0;
  std::string name;
  std::string how;
  std::string left_out;  ///< why, if it was not used at all
  double seconds_used = 0;
  double seconds_total = 0;
  bool timed = true;  ///< false: seconds are rows
  std::vector<advice::SetAside> set_aside;
  std::vector<std::string> notes;
};
struct EstimateReply {
  std::string sentence;
  std::string not_known;  ///< one sentence: what is not known yet
  UnitSystem units = UnitSystem::metric;
  advice::Verdict verdict = advice::Verdict::do_not_know;
  std::string because;
  std::vector<UsedRecording> recordings;
  std::vector<std::string> warnings;  ///< what does not fit together; look there first
  std::optional<car::Evidence> evidence;
  std::optional<car::Surface> in_force;  ///< the table it is compared with
  std::optional<car::Surface> proposed;
  double shift = 0;              ///< whole-table factor minus 1
  double shift_half_width = 0;   ///< 95 %
  double driven_half_width = 0;  ///< 95 %, usage-weighted median
  double repetition = 1;
  double noise_scale = 1;
  int measured = 0, inferred = 0, prior_only = 0;
  std::optional<std::int64_t> proposal;  ///< its number in the job
  int parent = 0;
  std::string reason;  ///< what the proposal changes, in words
};
Result<EstimateReply> estimate(const EstimateRequest& request);

// ---- accept, export, show
// ------------------------------------------------------------------------------------------

struct AcceptRequest {
  std::string job;
  std::string why;
  Who who;
};
struct AcceptReply {
  std::string sentence;
  int revision = 0;
};
Result<AcceptReply> accept(const AcceptRequest& request);

/// The person reads these units from now on; kept in the job, journaled if it is a change.
Status keep_units(const std::string& job, UnitSystem units, const Who& who);

enum class ExportForm { csv, tsv, json };
Result<ExportForm> export_form_named(std::string_view name);
struct ExportRequest {
  std::string job;
  ExportForm form = ExportForm::tsv;
  std::optional<int> revision;
  std::optional<car::TableWhat> what;  ///< default: every table (json), else ve or correction
};
/// The text of the file or the clipboard.
Result<std::string> export_tables(const ExportRequest& request);

enum class ShowWhat { summary, sheet, recordings, revisions, evidence, journal };
Result<ShowWhat> show_named(std::string_view name);
struct ShowRequest {
  std::string job;
  ShowWhat what = ShowWhat::summary;
};
struct ShowReply {
  ShowWhat what = ShowWhat::summary;
  std::string sentence;
  UnitSystem units = UnitSystem::metric;
  std::vector<car::Line> sheet;
  std::vector<RecordingRow> recordings;
  std::vector<RevisionRow> revisions;
  std::vector<JournalRow> journal;
  std::optional<car::Evidence> evidence;
  std::optional<car::Surface> in_force;
};
Result<ShowReply> show(const ShowRequest& request);

}  // namespace fuelwright::service
