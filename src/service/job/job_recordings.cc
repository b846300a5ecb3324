/// The recordings of a job: original bytes in, the same bytes out.
#include <fmt/format.h>

#include "service/job/internal/journal.h"
#include "service/job/internal/pack.h"
#include "service/job/internal/seal.h"
#include "service/job/internal/sql.h"
#include "service/job/internal/statement.h"
#include "service/job/internal/store.h"
#include "service/job/job.h"

namespace fuelwright::service {

using internal::Seal;
using internal::Store;

namespace {

std::string seal_of(const std::string& name, const std::string& sha256, std::int64_t bytes) {
  return Seal("recording").add(name).add(sha256).add(bytes).hex();
}

std::string seal_of(std::int64_t recording, const Reading& r) {
  return Seal("reading").add(recording).add(r.mapping_json).add(r.summary_json).add(r.rows).hex();
}

std::string place(RecordingId id) { return fmt::format("recording {}", id.value); }

Status check_reading(const Reading& reading) {
  FW_CHECK(internal::check_json("the recording's mapping", reading.mapping_json));
  FW_CHECK(internal::check_json("the recording's summary", reading.summary_json));
  if (reading.rows >= 0) return Done{};
  return Error{ErrorCode::bad_input, "the recording's rows",
               fmt::format("came {}, expected 0 or more", reading.rows)};
}

void add_reading(Store& store, std::int64_t recording, const Reading& reading,
                 std::int64_t journal) {
  internal::insert(store.db(), internal::sql::kAddReading, recording, reading.mapping_json,
                   reading.summary_json, reading.rows, seal_of(recording, reading), journal);
}

Result<RecordingRow> row_of(const Store& store, SQLite::Statement& s) {
  RecordingRow row{.id = {s.getColumn(0).getInt64()},
                   .name = s.getColumn(1),
                   .sha256 = s.getColumn(2),
                   .bytes = s.getColumn(3).getInt64(),
                   .added_when = s.getColumn(5),
                   .added_by = s.getColumn(6),
                   .reading = {.mapping_json = s.getColumn(7),
                               .summary_json = s.getColumn(8),
                               .rows = s.getColumn(9).getInt64()}};
  if (seal_of(row.name, row.sha256, row.bytes) != s.getColumn(4).getString() ||
      seal_of(row.id.value, row.reading) != s.getColumn(10).getString()) {
    return store.broken_seal(place(row.id));
  }
  return row;
}

Error no_recording(const Store& store, RecordingId id) {
  return {ErrorCode::not_found, store.path(), fmt::format("there is no recording {}", id.value)};
}

}  // namespace

Result<RecordingId> Job::add_recording(const RecordingIn& in, const By& by) {
  FW_CHECK(internal::check(by));
  FW_CHECK(internal::check_text("the recording's name", in.name));
  FW_CHECK(check_reading(in.reading));
  if (in.bytes.size() > kLargestRecording) {
    return Error{ErrorCode::too_large, in.name,
                 fmt::format("has {} bytes; a job takes up to {} in one recording", in.bytes.size(),
                             kLargestRecording)};
  }
  const std::string sha256 = internal::sha256_hex(in.bytes);
  const std::string packed = internal::pack(in.bytes);
  const auto size = static_cast<std::int64_t>(in.bytes.size());
  return store_->write([&]() -> Result<RecordingId> {
    auto same = internal::prepared(store_->db(), internal::sql::kRecordingWithHash, sha256);
    if (same.executeStep()) {
      return Error{
          ErrorCode::conflict, in.name,
          fmt::format("the same bytes are in this job already: recording {}, \"{}\", taken in {}",
                      same.getColumn(0).getInt64(), same.getColumn(1).getString(),
                      same.getColumn(2).getString())};
    }
    const auto journal = internal::add_journal(
        store_->db(), {.command = "add",
                       .by = by,
                       .says = fmt::format("recording {} taken in", in.name),
                       .sources_json = fmt::format(R"({{"sha256": "{}"}})", sha256)});
    const auto id =
        internal::insert(store_->db(), internal::sql::kAddRecording, in.name, sha256, size,
                         seal_of(in.name, sha256, size), journal, internal::Blob{packed});
    add_reading(*store_, id, in.reading, journal);
    return RecordingId{id};
  });
}

Status Job::read_again(RecordingId id, const Reading& reading, const By& by) {
  FW_CHECK(internal::check(by));
  FW_CHECK(check_reading(reading));
  return store_->write([&]() -> Status {
    auto there = internal::prepared(store_->db(), internal::sql::kPackedBytes, id.value);
    if (!there.executeStep()) return no_recording(*store_, id);
    const auto journal = internal::add_journal(
        store_->db(), {.command = "read",
                       .by = by,
                       .says = fmt::format("recording {} is read in another way", id.value),
                       .sources_json = fmt::format(R"({{"recordings": [{}]}})", id.value)});
    add_reading(*store_, id.value, reading, journal);
    return Done{};
  });
}

Result<std::vector<RecordingRow>> Job::recordings() const {
  return store_->read([&]() -> Result<std::vector<RecordingRow>> {
    std::vector<RecordingRow> out;
    auto rows =
        internal::prepared(store_->db(), internal::sql::kRecordings, std::optional<std::int64_t>());
    while (rows.executeStep()) {
      FW_TRY(auto row, row_of(*store_, rows));
      out.push_back(std::move(row));
    }
    return out;
  });
}

Result<RecordingRow> Job::recording(RecordingId id) const {
  return store_->read([&]() -> Result<RecordingRow> {
    auto rows = internal::prepared(store_->db(), internal::sql::kRecordings,
                                   std::optional<std::int64_t>(id.value));
    if (!rows.executeStep()) return no_recording(*store_, id);
    return row_of(*store_, rows);
  });
}

Result<std::string> Job::recording_bytes(RecordingId id) const {
  return store_->read([&]() -> Result<std::string> {
    auto row = internal::prepared(store_->db(), internal::sql::kPackedBytes, id.value);
    if (!row.executeStep()) return no_recording(*store_, id);
    const std::int64_t size = row.getColumn(1).getInt64();
    if (size < 0 || size > static_cast<std::int64_t>(kLargestRecording)) {
      return store_->damaged(place(id), fmt::format("its size cannot be {}", size));
    }
    auto bytes =
        internal::unpack(internal::blob_of(row.getColumn(0)), static_cast<std::size_t>(size));
    if (!bytes || internal::sha256_hex(*bytes) != row.getColumn(2).getString()) {
      return store_->damaged(place(id), "its bytes are not those that were taken in");
    }
    return std::move(*bytes);
  });
}

}  // namespace fuelwright::service
