// Can the sensors be believed? Key on, and the recordings of a job.
#include "service/checking.h"

#include <fmt/format.h>

#include <algorithm>

#include "service/mapping.h"
#include "service/weather.h"

namespace fuelwright::service {
namespace {

using advice::Finding;
using advice::Grade;

// By number or by name.
Result<std::size_t> place_of(const Ground& g, const std::string& word, const std::string& job) {
  const auto is_number = !word.empty() && word.size() < 10 &&
                         std::ranges::all_of(word, [](char c) { return c >= '0' && c <= '9'; });
  std::string names;
  for (std::size_t i = 0; i < g.recordings.size(); ++i) {
    const RecordingRow& row = g.recordings[i].row;
    if (row.name == word || (is_number && row.id.value == std::stoll(word))) return i;
    names += fmt::format("{}{} {}", i == 0 ? "" : ", ", row.id.value, row.name);
  }
  return Error{ErrorCode::not_found, job,
               g.recordings.empty()
                   ? fmt::format("recording \"{}\" came; there is none in this job yet", word)
                   : fmt::format("recording \"{}\" came; expected one of: {}", word, names)};
}

// A file that is not in the job, read as `add` would read it; nothing is kept.
Result<Loaded> read_file(const Job& job, const Ground& g, const CheckFile& file) {
  Loaded out;
  out.row.name = file.name.substr(file.name.rfind('/') + 1);
  FW_TRY(const std::string kind, signals::file_kind(file.bytes, out.row.name));
  FW_TRY(const auto kept, kept_answers(job, kind));
  out.how.answers = kept ? merged(file.answers, *kept) : file.answers;
  if (!out.how.answers.ambient) out.how.answers.ambient = g.sheet.place.pressure.value;
  FW_TRY(out.recording, signals::read_recording(file.bytes, out.row.name, out.how.answers));
  return out;
}

CheckedRecording named(const Loaded& l) {
  CheckedRecording out;
  out.id = l.row.id.value;
  out.name = l.row.name;
  out.timed = l.recording.row_step.has_value() && l.recording.pace != signals::Pace::unordered;
  out.seconds = static_cast<double>(l.recording.rows) *
                (out.timed && l.recording.row_step ? l.recording.row_step->si : 1.0);
  return out;
}

void take(CheckedRecording& out, advice::SensorReport report, const Loaded& l) {
  const Duration step = out.timed ? *l.recording.row_step : 1.0 * second;
  out.masked = report.masks.shares(step);
  out.findings = std::move(report.findings);
  out.not_checked = std::move(report.not_checked);
}

CheckedRecording at_rest(const Ground& g, const Loaded& l, const advice::WeatherReport& weather) {
  CheckedRecording out = named(l);
  out.key_on = true;
  const car::Sheet& sheet = g.sheet;
  take(out,
       advice::check_key_on(l.recording, {.sheet = sheet, .weather = weather, .units = g.units}),
       l);
  return out;
}

// Of the job by number or name, else one of the files that came along.
Result<CheckedRecording> key_on_of(const Job& job, const Ground& g, const std::string& word,
                                   const CheckRequest& request) {
  const auto at = place_of(g, word, request.job);
  if (at) return at_rest(g, g.recordings[*at], request.weather);
  const auto file = std::ranges::find(request.files, word, &CheckFile::name);
  if (file == request.files.end()) return at.error();
  FW_TRY(const Loaded loaded, read_file(job, g, *file));
  return at_rest(g, loaded, request.weather);
}

CheckedRecording driven(const Ground& g, const Loaded& l, const advice::WeatherReport& weather) {
  CheckedRecording out = named(l);
  advice::SensorReport report = check_recording(g, l, weather);
  out.refused = report.refused();
  take(out, std::move(report), l);
  out.guard = advice::guard_recording(l.recording, g.guard, g.sheet);
  return out;
}

const Finding* gravest(const CheckedRecording& r) {
  return r.findings.empty() ? nullptr : &r.findings.front();  // worst first
}

std::string fires(const CheckReply& reply) {
  std::size_t count = 0;
  const advice::Firing* first = nullptr;
  for (const CheckedRecording& r : reply.recordings) {
    if (!first && !r.guard.firings.empty()) first = &r.guard.firings.front();
    count += r.guard.firings.size();
  }
  if (!first) return "";
  return fmt::format(" The guard fired {} time{}, first for {}.", count, count == 1 ? "" : "s",
                     advice::words_of(first->rule).label);
}

// Believed or not, and what is to be put right first.
std::string sentence_of(const CheckReply& reply) {
  const CheckedRecording* worst = nullptr;
  for (const CheckedRecording& r : reply.recordings) {
    const Finding* f = gravest(r);
    if (f && (!worst || f->grade > gravest(*worst)->grade)) worst = &r;
  }
  if (!worst) return "Nothing could be checked: see what was missing.";
  const Finding& f = *gravest(*worst);
  const auto& words = advice::words_of(f.check);
  const std::string where = worst->id == 0
                                ? fmt::format("{} ({})", words.label, worst->name)
                                : fmt::format("{} (recording {})", words.label, worst->id);
  switch (f.grade) {
    case Grade::stop:
      return fmt::format("Do not trust these sensors yet; first put right: {}.", where) +
             fires(reply);
    case Grade::doubt:
      return fmt::format(
                 "The sensors can be believed with care: {} of {} findings are doubts, the first "
                 "{}.",
                 reply.doubts, reply.doubts + reply.fine, where) +
             fires(reply);
    case Grade::fine:
      return "The sensors can be believed, as far as these recordings show." + fires(reply);
  }
  broken_contract("a Grade", __FILE__, __LINE__);
}

void count(CheckReply& reply) {
  for (const CheckedRecording& r : reply.recordings) {
    for (const Finding& f : r.findings) {
      ++(f.grade == Grade::stop    ? reply.stops
         : f.grade == Grade::doubt ? reply.doubts
                                   : reply.fine);
    }
  }
}

}  // namespace

Result<CheckReply> check(const CheckRequest& request) {
  FW_CHECK(check_weather(request.weather));
  FW_TRY(Job job, Job::open(request.job, Access::read));
  FW_TRY(const Ground g, load_ground(job, request.job));
  std::vector<std::size_t> drives;
  CheckReply reply;
  for (const std::string& word : request.key_on) {
    FW_TRY(CheckedRecording one, key_on_of(job, g, word, request));
    reply.recordings.push_back(std::move(one));
  }
  for (const std::string& word : request.recordings) {
    FW_TRY(const std::size_t at, place_of(g, word, request.job));
    drives.push_back(at);
  }
  if (request.recordings.empty() && request.key_on.empty()) {
    for (std::size_t i = 0; i < g.recordings.size(); ++i) drives.push_back(i);
  }
  if (drives.empty() && reply.recordings.empty()) {
    return Error{ErrorCode::not_found, request.job, "no recording in this job; add one first"};
  }
  reply.units = g.units;
  reply.rules = g.guard;
  FW_TRY(const auto kept, job.setting("guard rules"));
  reply.own_rules = kept.has_value();
  for (const std::size_t i : drives) {
    reply.recordings.push_back(driven(g, g.recordings[i], request.weather));
  }
  count(reply);
  reply.sentence = sentence_of(reply);
  return reply;
}

}  // namespace fuelwright::service
