// Recordings of a job as files for a shop's archive.
#include <fmt/format.h>

#include <algorithm>
#include <cstdio>

#include "service/reading_json.h"
#include "service/service.h"
#include "signals/recording/parquet.h"

namespace fuelwright::service {
namespace {

constexpr std::int64_t kDay_us = std::int64_t{86'400} * 1'000'000;

// Days from 1970-01-01 to a day of the Gregorian calendar and back: whole years of March to
// February, in eras of 400 years (arithmetic of the calendar itself).
constexpr std::int64_t kEraDays = 146'097;
constexpr std::int64_t kTo1970 = 719'468;  // from 0000-03-01

std::int64_t days_of(int year, int month, int day) {
  const std::int64_t y = month <= 2 ? year - 1 : year;
  const std::int64_t era = y / 400;
  const std::int64_t of_era = y - era * 400;
  const std::int64_t of_year = (153 * (month + (month > 2 ? -3 : 9)) + 2) / 5 + day - 1;
  return era * kEraDays + of_era * 365 + of_era / 4 - of_era / 100 + of_year - kTo1970;
}

std::string date_of(std::int64_t days) {
  days += kTo1970;
  const std::int64_t era = days / kEraDays;
  const std::int64_t of_era = days - era * kEraDays;
  const std::int64_t year = (of_era - of_era / 1460 + of_era / 36'524 - of_era / 146'096) / 365;
  const std::int64_t of_year = of_era - (365 * year + year / 4 - year / 100);
  const std::int64_t month = (5 * of_year + 2) / 153;
  const std::int64_t day = of_year - (153 * month + 2) / 5 + 1;
  const bool next = month >= 10;
  return fmt::format("{:04}-{:02}-{:02}", year + era * 400 + (next ? 1 : 0),
                     next ? month - 9 : month + 3, day);
}

// Midnight of the day that an ISO 8601 time names.
Result<std::int64_t> midnight_us(const std::string& when, const std::string& where) {
  int year = 0;
  int month = 0;
  int day = 0;
  if (std::sscanf(when.c_str(), "%4d-%2d-%2d", &year, &month, &day) != 3) {
    return Error{ErrorCode::damaged, where,
                 fmt::format("was added \"{}\", which is no time", when)};
  }
  return days_of(year, month, day) * kDay_us;
}

bool fits_a_folder(const std::string& name) {
  return !name.empty() && name.front() != '.' && std::ranges::all_of(name, [](char c) {
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '_' ||
           c == '-' || c == '.';
  });
}

// The job's own name, in letters that fit a folder.
Result<std::string> vehicle_of(const ArchiveRequest& request) {
  if (!request.vehicle.empty()) {
    if (fits_a_folder(request.vehicle)) return request.vehicle;
    return Error{ErrorCode::usage, "--vehicle",
                 fmt::format("\"{}\" came; expected letters, digits, _ - and .", request.vehicle)};
  }
  std::string name = request.job.substr(request.job.rfind('/') + 1);
  if (name.ends_with(".fw")) name.resize(name.size() - 3);
  for (char& c : name) {
    if (!fits_a_folder(std::string("x") + c)) c = '_';
  }
  if (!name.empty() && name.front() == '.') name.front() = '_';
  return name.empty() ? std::string("car") : name;
}

std::vector<std::pair<std::string, std::string>> notes_of(const ArchivedRecording& a,
                                                          const RecordingRow& row,
                                                          const signals::Recording& r,
                                                          const HowRead& how) {
  std::vector<std::pair<std::string, std::string>> notes{
      {"vehicle", a.vehicle},
      {"recording", row.name},
      {"recording_number", std::to_string(row.id.value)},
      {"sha256", row.sha256},
      {"added_when", row.added_when},
      {"added_by", row.added_by},
      {"ts_is", a.date_driven ? "the clock of the recording, as it stands"
                              : "seconds from midnight of the day on which the recording was "
                                "added: it has no date of its own"},
      {"pace", r.pace_reason},
      {"rows", r.simultaneity_reason}};
  if (how.driven_with) notes.emplace_back("driven_with_revision", std::to_string(*how.driven_with));
  return notes;
}

Result<ArchivedRecording> archive_one(const Job& job, const RecordingRow& row,
                                      const std::string& vehicle,
                                      const std::function<Status(const ArchivedFile&)>& put) {
  const std::string where = fmt::format("{}: recording {}", job.path(), row.id.value);
  FW_TRY(const HowRead how, read_how(row.reading.mapping_json, where));
  FW_TRY(const std::string bytes, job.recording_bytes(row.id));
  FW_TRY(const signals::Recording r, signals::read_recording(bytes, row.name, how.answers));
  ArchivedRecording a;
  a.id = row.id.value;
  a.name = row.name;
  a.rows = r.rows;
  a.vehicle = vehicle;
  a.session = fmt::format("{:04}-{}", row.id.value, row.sha256.substr(0, 12));
  const auto clock = signals::clock_start_us(r);
  a.date_driven = clock.has_value();
  FW_TRY(const std::int64_t added, midnight_us(row.added_when, where));
  signals::ParquetOptions options{a.session, clock.value_or(added), {}};
  a.date = date_of(options.start_utc_us / kDay_us);
  options.notes = notes_of(a, row, r, how);
  const std::string rest =
      fmt::format("/vehicle={}/date={}/{}.parquet", vehicle, a.date, a.session);
  const ArchivedFile files[] = {{"logs" + rest, signals::write_parquet(r, options)},
                                {"sessions" + rest, signals::write_parquet_channels(r, options)}};
  for (const ArchivedFile& file : files) {
    FW_CHECK(put(file));
    a.bytes += file.bytes.size();
  }
  a.path = files[0].path;
  return a;
}

}  // namespace

Result<ArchiveReply> archive_recordings(const ArchiveRequest& request,
                                        const std::function<Status(const ArchivedFile&)>& put) {
  FW_TRY(const std::string vehicle, vehicle_of(request));
  FW_TRY(const Job job, Job::open(request.job, Access::read));
  FW_TRY(const auto rows, job.recordings());
  ArchiveReply reply;
  for (const RecordingRow& row : rows) {
    FW_TRY(ArchivedRecording one, archive_one(job, row, vehicle, put));
    reply.recordings.push_back(std::move(one));
  }
  const std::size_t n = reply.recordings.size();
  reply.sentence = n == 0
                       ? fmt::format("{} holds no recording yet; nothing was written.", request.job)
                       : fmt::format("{} recording{} of {} written for vehicle {}.", n,
                                     n == 1 ? "" : "s", request.job, vehicle);
  return reply;
}

}  // namespace fuelwright::service
