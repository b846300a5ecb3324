/// The only door: one function per question a technician asks. Commands and pages call these and
/// nothing below.
///
///   FW_TRY(EstimateReply reply, estimate({.job = "coupe.fw", .who = {"Kim", now}}));
///   puts(text(reply).c_str());            // report/text.h
///
/// Each reply begins with one plain sentence. Texts are made by report/, JSON by api/.
#pragma once

#include <functional>
#include <optional>
#include <stop_token>
#include <string>
#include <vector>

#include "advice/doubts/doubts.h"
#include "advice/drive_plan/drive_plan.h"
#include "advice/map_estimate/observe.h"
#include "advice/outlook/outlook.h"
#include "advice/outlook/stopping.h"
#include "advice/proposal/proposal.h"
#include "base/result.h"
#include "car/build/sheet_file.h"
#include "car/tables/difference.h"
#include "car/tables/placing.h"
#include "car/tables/table_text.h"
#include "service/amend.h"
#include "service/chart.h"
#include "service/check.h"
#include "service/first_start.h"
#include "service/job/job.h"
#include "service/prediction.h"
#include "service/sheets.h"
#include "service/size.h"
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
  /// Factors over the VE table in the unit that it had learned by itself while this was driven.
  std::optional<TableIn> learned = {};
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
  std::string kept_answers;  ///< answers of an earlier file of this kind that were used; or empty
  std::string learned;       ///< what the unit had learned, in words; or empty
  signals::Gears gears;
  std::vector<std::string> teaches;  ///< ways in which it can teach the table
  std::vector<std::string> warnings;
};
/// The same bytes again are a conflict, unless they come with `learned`: then the recording that is
/// there is read with it from now on, and the journal says so.
Result<AddReply> add_recording(const AddRequest& request);

// ---- estimate
// ------------------------------------------------------------------------------------------------------

struct EstimateRequest {
  std::string job;
  std::optional<advice::Way> way;
  bool open_loop = false;
  Who who;
  /// Leanest mixture at full load without boost [lambda]; bounds and default: advice::SafeLimit.
  std::optional<double> lean_limit = {};
  /// Chance that a node at high load is leaner; bounds and default: advice::ProposalOptions.
  std::optional<double> lean_chance = {};
  /// A step of full throttle came out beyond what was predicted and stopped the climb; its cause is
  /// found, and it may go on from here. Kept in the job, journaled.
  bool cause_found = false;
  std::stop_token stop = {};  ///< nothing is written once it is asked to stop
  std::function<void(const std::string& says)> says = {};  ///< what it is at
};
/// How one recording was used.
struct UsedRecording {
  std::int64_t id = 0;
  std::string name;
  std::string how;
  std::string left_out;  ///< why, if it was not used at all
  std::optional<int> driven_with;  ///< revision in the unit
  bool dynamic = false;  ///< every moment, with film, delay and lag; false: steady driving only
  double seconds_used = 0;
  double seconds_total = 0;
  bool timed = true;  ///< false: seconds are rows
  std::vector<advice::SetAside> set_aside;
  std::vector<std::string> notes;
  std::vector<advice::doubts::Doubt> doubts;  ///< what was examined, the most probable first
};
struct Figure {
  double value = 0;
  double half_width = 0;  ///< 95 %
};
/// What stands between injectors and reading, as the driving showed it.
struct DynamicsFound {
  std::string sentence;
  Figure delay_low_flow_s, delay_high_flow_s;  ///< from injection to sensor; 10 and 90 % of flows
  Figure sensor_lag_s;
  Figure film_share;   ///< of the fuel, that wets the walls first [-]
  Figure film_time_s;  ///< in which it leaves them
  long rows_set_aside = 0;
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
  std::optional<DynamicsFound> dynamics;
  std::string prior;  ///< what was believed before driving
  std::optional<car::Evidence> evidence;
  std::optional<car::Surface> in_force;  ///< the table it is compared with
  std::optional<car::Surface> proposed;
  std::string family;            ///< whether the engine is one of those computed from its sheet; or empty
  double shift = 0;              ///< whole-table factor minus 1
  double shift_half_width = 0;   ///< 95 %
  double driven_half_width = 0;  ///< 95 %, usage-weighted median
  double repetition = 1;
  double noise_scale = 1;
  int measured = 0, inferred = 0, prior_only = 0;
  std::optional<std::int64_t> proposal;  ///< its number in the job
  int parent = 0;
  std::string reason;  ///< what the proposal changes, in one sentence
  car::MixtureScale scale;                ///< on which mixtures are shown
  std::optional<advice::ProposedTable> change;  ///< node by node: wanted, made, held back and why
  std::vector<std::string> change_words;
  std::optional<advice::Outlook> outlook;  ///< of the proposed table, where it was not driven
  std::vector<std::string> outlook_words;
  std::optional<advice::Stopping> stopping;
};
Result<EstimateReply> estimate(const EstimateRequest& request);

// ---- plan
// ----------------------------------------------------------------------------------------------------------

struct PlanRequest {
  std::string job;
  std::optional<double> minutes;        ///< bounds and default: advice::PlanOptions
  std::optional<Speed> top_speed;       ///< default: 55 mph or 90 km/h, on a dyno 100 or 160; said
  double grade = 0;                     ///< of the road at hand, rise over run
  bool dyno = false;
  std::optional<double> good;           ///< share that counts as within
  bool stop_finding = false;            ///< a check says stop, as one of the newest recording would
  std::string cycle_csv, cycle_name;    ///< what the car is used for, as a speed cycle; or empty
  std::vector<std::int64_t> use;        ///< recordings that show the use; empty: all
  std::optional<advice::Way> way = {};  ///< as EstimateRequest
  bool open_loop = false;
};
struct PlanReply {
  std::string sentence;
  UnitSystem units = UnitSystem::metric;
  advice::DrivePlan plan;
  std::vector<std::string> steps;     ///< as they are read out
  std::vector<std::string> cautions;
  std::vector<std::string> assumed;
  std::vector<std::string> left_out;
  int recordings = 0;  ///< behind what is known
};
/// Where to drive next; nothing is written. Errors: those of plan_drive(), read_cycle() and
/// witnesses_of(); not_found for a recording to take the use from that is not in the job.
Result<PlanReply> plan(const PlanRequest& request);

// ---- accept, export, show
// ------------------------------------------------------------------------------------------

struct AcceptRequest {
  std::string job;
  std::string why;
  Who who;
  std::optional<std::int64_t> seen = {};  ///< the proposal that was looked at
};
struct AcceptReply {
  std::string sentence;
  int revision = 0;
};
Result<AcceptReply> accept(const AcceptRequest& request);

/// The person reads these units from now on; kept in the job, journaled if it is a change.
Status keep_units(const std::string& job, UnitSystem units, const Who& who);

enum class ExportForm { csv, tsv, json, cdf };
Result<ExportForm> export_form_named(std::string_view name);
struct ExportRequest {
  std::string job;
  ExportForm form = ExportForm::tsv;
  std::optional<int> revision;
  std::optional<car::What> what;  ///< default: everything (json, cdf), else VE
};
/// The text of the file or the clipboard.
Result<std::string> export_tables(const ExportRequest& request);

// ---- tables in by hand, compare, revert
// ------------------------------------------------------------------------------------------------

/// A table, or a part of one, as text (TSV, CSV); tables, curves and settings as JSON or CDF.
struct BringInRequest {
  std::string job;
  TableIn table;
  std::optional<ExportForm> form;  ///< default: as the text begins
  std::optional<car::What> what;   ///< default: all of JSON and CDF, else ve or correction
  std::string named;               ///< the CDF instance that is the table, if its name is another
  std::string at;                  ///< where a block without axes begins: "1500 rpm, 40 kPa"
  bool interpolate = false;        ///< a table on other axes is put on the job's own
  std::optional<int> seen;         ///< the revision that a preview was shown of
  std::string why;                 ///< for the journal; bring_in() needs it
  Who who;
};
struct BroughtTable {
  car::TableDifference difference;  ///< from the revision in force to what would be
  car::AxesThatCame axes = car::AxesThatCame::same;
  std::size_t nodes = 0;    ///< that the text gives a value
  double largest_loss = 0;  ///< by interpolation, unit of the values
  std::string understood;   ///< units and axes, in words
};
struct BringInReply {
  std::string sentence;
  UnitSystem units = UnitSystem::metric;
  int parent = 0;
  std::optional<int> revision;  ///< none: a preview, or nothing changes
  std::vector<BroughtTable> tables;
  std::vector<car::CurveDifference> curves;      ///< those that change
  std::vector<car::SettingDifference> settings;  ///< those that change
};
/// What would change, node by node; nothing is written.
Result<BringInReply> preview_tables(const BringInRequest& request);
/// The change becomes a new revision, in force, with its reason in the journal. Errors: as
/// car::read_table and car::place; usage without a reason; conflict if `seen` is not in force.
Result<BringInReply> bring_in(const BringInRequest& request);

struct CompareRequest {
  std::string job;
  int from = 0;
  int to = 0;
};
struct CompareReply {
  std::string sentence;
  UnitSystem units = UnitSystem::metric;
  int from = 0;
  int to = 0;
  std::vector<car::TableDifference> tables;  ///< those that differ
  std::vector<car::CurveDifference> curves;
  std::vector<car::SettingDifference> settings;
};
Result<CompareReply> compare(const CompareRequest& request);

struct RevertRequest {
  std::string job;
  int revision = 0;
  std::string why;  ///< may be empty
  Who who;
};
struct RevertReply {
  std::string sentence;
  int revision = 0;
  int before = 0;  ///< the one that was in force
};
/// An earlier revision is in force again; nothing is deleted.
Result<RevertReply> revert(const RevertRequest& request);

/// Recordings for a shop's archive: one Parquet file each, and one that says what its columns are.
struct ArchiveRequest {
  std::string job;
  std::string vehicle;  ///< name of its folder; empty: the job's own name
};
struct ArchivedFile {
  std::string path;  ///< below the archive: "logs/vehicle=coupe/date=2026-05-04/....parquet"
  std::string bytes;
};
struct ArchivedRecording {
  std::int64_t id = 0;
  std::string name;
  std::size_t rows = 0;
  std::string vehicle;
  std::string session;       ///< its name in the archive: number and beginning of its hash
  std::string date;          ///< in UTC
  bool date_driven = false;  ///< false: the recording has none, the day it was added stands for it
  std::string path;
  std::size_t bytes = 0;
};
struct ArchiveReply {
  std::string sentence;
  std::vector<ArchivedRecording> recordings;
};
/// Hands each file to `put` as soon as it is made; stops at the first error, its own or put's.
Result<ArchiveReply> archive_recordings(const ArchiveRequest& request,
                                        const std::function<Status(const ArchivedFile&)>& put);

enum class ShowWhat { summary, sheet, recordings, revisions, evidence, journal, calibration };
Result<ShowWhat> show_named(std::string_view name);
/// One revision; default: the one in force.
struct RevisionReply {
  car::Revision revision;
  bool in_force = false;
  UnitSystem units = UnitSystem::metric;
};
Result<RevisionReply> revision(const std::string& job, std::optional<int> number);

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
  car::Revision revision_in_force;
};
Result<ShowReply> show(const ShowRequest& request);

}  // namespace fuelwright::service
