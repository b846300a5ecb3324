// Taking recordings in.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "car/build/derived.h"
#include "service/mapping.h"
#include "service/reading_json.h"
#include "service/service.h"

namespace fuelwright::service {
namespace {

// The ways in which a recording can teach, tried on the unit's own axes.
std::vector<std::string> ways_of(const signals::Recording& recording, const car::Sheet& sheet) {
  const car::Surface table = car::Surface::flat(car::table_grid(sheet), 0.8);
  std::vector<std::string> out;
  for (const auto way : {advice::Way::correction, advice::Way::pulse_width, advice::Way::trims,
                         advice::Way::metered_air}) {
    advice::ObserveOptions options;
    options.way = way;
    if (const auto o = advice::Observer::make(recording, sheet, table, options)) {
      out.emplace_back(advice::describe(way));
      continue;
    }
    options.open_loop = true;
    if (const auto o = advice::Observer::make(recording, sheet, table, options)) {
      out.push_back(std::string(advice::describe(way)) +
                    ", if the unit ran without it (estimate --open-loop)");
    }
  }
  return out;
}

// The unit's own learned factors, on the axes of the table they stand over.
Result<car::Surface> learned_of(const Job& job, const TableIn& in, const car::Sheet& sheet,
                                int driven_with) {
  FW_TRY(const car::Revision revision, job.revision(driven_with));
  const car::Surface* ve = revision.calibration.find(car::TableWhat::ve);
  car::TextReading reading = in.reading;
  reading.what = car::TableWhat::correction;
  if (!reading.axes) reading.axes = ve ? ve->grid : car::table_grid(sheet);
  reading.whole = true;
  auto read = car::read_table(in.text, reading);
  if (!read) {
    Error e = read.error();
    e.where = in.name + (e.where.empty() ? "" : ": " + e.where);
    return e;
  }
  if (read->surface.grid.y.kind() != reading.axes->y.kind() ||
      read->surface.grid.x.kind() != reading.axes->x.kind()) {
    return Error{ErrorCode::bad_input, in.name,
                 "stands over other axes than the VE table it was learned over"};
  }
  return std::move(read->surface);
}

std::string learned_text(const car::Surface& learned) {
  const auto moved =
      std::ranges::count_if(learned.values, [](double v) { return std::abs(v - 1) > 5e-4; });
  const auto [low, high] = std::ranges::minmax_element(learned.values);
  return fmt::format("{} of {} factors differ from 1, {:+.1f} % to {:+.1f} %", moved,
                     learned.values.size(), 100 * (*low - 1), 100 * (*high - 1));
}

// The recording with the same bytes.
Result<std::optional<RecordingRow>> same_in_job(const Job& job, const std::string& bytes) {
  FW_TRY(const std::vector<RecordingRow> rows, job.recordings());
  for (const RecordingRow& row : rows) {
    if (row.bytes != static_cast<std::int64_t>(bytes.size())) continue;
    FW_TRY(const std::string other, job.recording_bytes(row.id));
    if (other == bytes) return std::optional{row};
  }
  return std::optional<RecordingRow>{};
}

std::string length_text(const AddReply& reply) {
  if (!reply.seconds) return fmt::format("{} rows without time", reply.rows);
  return fmt::format("{:.1f} minutes", *reply.seconds / 60);
}

}  // namespace

Result<AddReply> add_recording(const AddRequest& request) {
  FW_TRY(Job job, Job::open(request.job, Access::write));
  FW_CHECK(job.can_write());
  FW_TRY(const std::string toml, job.sheet_toml());
  FW_TRY(const car::Sheet sheet, car::read_sheet(toml, request.job + ": sheet"));
  FW_TRY(const std::string kind, signals::file_kind(request.bytes, request.name));
  FW_TRY(const std::optional<signals::Answers> kept, kept_answers(job, kind));
  HowRead how{request.answers, request.driven_with};
  std::optional<RecordingRow> there;
  if (request.learned) {
    FW_TRY(there, same_in_job(job, request.bytes));
  }
  if (there) {  // it keeps what was said of it before
    FW_TRY(const HowRead before, read_how(there->reading.mapping_json, there->name));
    how.answers = merged(how.answers, before.answers);
    if (!how.answers.ambient) how.answers.ambient = before.answers.ambient;
    if (!how.driven_with) how.driven_with = before.driven_with;
  }
  if (kept) how.answers = merged(how.answers, *kept);
  const signals::Answers answered = how.answers;
  if (!how.answers.ambient) how.answers.ambient = sheet.place.pressure.value;
  if (!how.driven_with) {
    FW_TRY(how.driven_with, job.number_in_force());
  } else {
    FW_CHECK(job.revision(*how.driven_with));
  }
  if (request.learned) {
    FW_TRY(how.learned, learned_of(job, *request.learned, sheet, *how.driven_with));
  }
  auto read = signals::read_with_report(request.bytes, request.name, how.answers);
  if (!read) {
    Error e = read.error();
    if (kept)
      e.message += fmt::format(" (with the answers kept for such files: {})", describe(*kept));
    return e;
  }
  const signals::Report& report = read->report;
  const signals::Recording& recording = read->recording;

  AddReply reply;
  reply.name = request.name;
  reply.rows = recording.rows;
  reply.pace = recording.pace_reason;
  reply.simultaneity = recording.simultaneity_reason;
  reply.columns = report.columns;
  if (kept) reply.kept_answers = describe(*kept);
  reply.warnings = recording.warnings;
  if (recording.row_step && recording.pace != signals::Pace::unordered) {
    reply.seconds = recording.row_step->si * static_cast<double>(recording.rows);
  }
  const auto* n = recording.find(signals::Quantity::rpm);
  const auto* v = recording.find(signals::Quantity::speed);
  if (n && v) reply.gears = signals::find_gears(n->si, v->si);
  reply.teaches = ways_of(recording, sheet);
  if (reply.teaches.empty()) {
    const car::Surface table = car::Surface::flat(car::table_grid(sheet), 0.8);
    const auto why = advice::Observer::make(recording, sheet, table, {});
    if (!why) reply.warnings.push_back(why.error().message);
  }

  nlohmann::json summary{{"rows", recording.rows}, {"channels", recording.channels.size()}};
  if (reply.seconds) summary["seconds"] = *reply.seconds;
  RecordingIn in{request.name,
                 request.bytes,
                 {json_text(how), summary.dump(), static_cast<std::int64_t>(recording.rows)}};
  By by{request.who.name, request.who.when, ""};
  if (how.learned) {
    reply.learned = learned_text(*how.learned);
    by.why = fmt::format("driven with what the unit had learned, {}: {}", request.learned->name,
                         reply.learned);
  }
  if (there) {
    FW_CHECK(job.read_again(there->id, in.reading, by));
    reply.id = there->id.value;
    reply.name = there->name;
  } else {
    FW_TRY(const RecordingId id, job.add_recording(in, by));
    reply.id = id.value;
  }
  const Status kept_now =
      keep_answers(job, kind, answered,
                   {request.who.name, request.who.when,
                    "for the next recording with the columns of " + request.name});
  if (!kept_now) reply.warnings.push_back("the answers were not kept: " + kept_now.error().line());
  reply.sentence =
      reply.teaches.empty()
          ? fmt::format("Recording {} ({}) is kept, but nothing in it can teach a fuel table.",
                        reply.id, length_text(reply))
          : fmt::format("Recording {} ({}) can teach the table: {}.", reply.id, length_text(reply),
                        reply.teaches.front());
  return reply;
}

}  // namespace fuelwright::service
