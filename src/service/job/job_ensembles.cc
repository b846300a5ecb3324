/// The ensembles of a job: what took seconds to compute from a sheet, kept by what it was computed
/// from.
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

namespace {

std::string place(std::int64_t id) { return fmt::format("ensemble {}", id); }

std::string seal_of(const std::string& sheet_sha256, std::int64_t members, std::int64_t seed,
                    const std::string& model, std::int64_t bytes, const std::string& sha256) {
  return Seal("ensemble")
      .add(sheet_sha256)
      .add(members)
      .add(seed)
      .add(model)
      .add(bytes)
      .add(sha256)
      .hex();
}

// A row of kEnsembleRows or kEnsemble: what it says is what was written.
bool is_sound(const SQLite::Statement& row) {
  return seal_of(row.getColumn(1), row.getColumn(2).getInt64(), row.getColumn(3).getInt64(),
                 row.getColumn(4), row.getColumn(5).getInt64(),
                 row.getColumn(6)) == row.getColumn(7).getString();
}

SQLite::Statement find(SQLite::Database& db, const EnsembleKey& key, const std::string& sheet) {
  return internal::prepared(db, internal::sql::kEnsemble, sheet, key.members, key.seed, key.model);
}

}  // namespace

Status Job::keep_ensemble(const EnsembleKey& key, const std::string& bytes, const By& by) {
  FW_CHECK(internal::check(by));
  FW_CHECK(internal::check_text("the ensemble's model", key.model));
  if (key.members < 1) {
    return Error{ErrorCode::out_of_range, "the ensemble",
                 fmt::format("came with {} members, expected 1 or more", key.members)};
  }
  if (bytes.size() > kLargestEnsemble) {
    return Error{ErrorCode::too_large, "the ensemble",
                 fmt::format("has {} bytes; a job takes up to {}", bytes.size(), kLargestEnsemble)};
  }
  const std::string sheet = internal::sha256_hex(key.sheet_toml);
  const std::string sha256 = internal::sha256_hex(bytes);
  const std::string packed = internal::pack(bytes);
  const auto size = static_cast<std::int64_t>(bytes.size());
  return store_->write([&]() -> Status {
    if (auto same = find(store_->db(), key, sheet); same.executeStep()) {
      return Error{ErrorCode::conflict, store_->path(),
                   fmt::format("an ensemble of this sheet, {} members and seed {} is kept already",
                               key.members, key.seed)};
    }
    const auto journal = internal::add_journal(
        store_->db(),
        {.command = "ensemble",
         .by = by,
         .says = fmt::format("{} engines computed from the sheet", key.members),
         .sources_json = fmt::format(R"({{"sheet_sha256": "{}", "members": {}, "seed": {}}})",
                                     sheet, key.members, key.seed)});
    internal::insert(store_->db(), internal::sql::kAddEnsemble, sheet, key.members, key.seed,
                     key.model, size, sha256,
                     seal_of(sheet, key.members, key.seed, key.model, size, sha256), journal,
                     internal::Blob{packed});
    return Done{};
  });
}

Result<std::optional<std::string>> Job::ensemble_for(const EnsembleKey& key) const {
  using Answer = Result<std::optional<std::string>>;
  const std::string sheet = internal::sha256_hex(key.sheet_toml);
  return store_->read([&]() -> Answer {
    auto row = find(store_->db(), key, sheet);
    if (!row.executeStep()) return std::optional<std::string>();
    const std::int64_t id = row.getColumn(0).getInt64();
    if (!is_sound(row)) return store_->broken_seal(place(id));
    const std::int64_t size = row.getColumn(5).getInt64();
    if (size < 0 || size > static_cast<std::int64_t>(kLargestEnsemble))
      return store_->damaged(place(id), fmt::format("its size cannot be {}", size));
    auto bytes =
        internal::unpack(internal::blob_of(row.getColumn(8)), static_cast<std::size_t>(size));
    if (!bytes || internal::sha256_hex(*bytes) != row.getColumn(6).getString())
      return store_->damaged(place(id), "its bytes are not those that were kept");
    return std::optional<std::string>(std::move(*bytes));
  });
}

Status Job::check_ensembles() const {
  return store_->read([&]() -> Status {
    SQLite::Statement row(store_->db(), internal::sql::kEnsembleRows);
    while (row.executeStep()) {
      if (!is_sound(row)) return store_->broken_seal(place(row.getColumn(0).getInt64()));
    }
    return Done{};
  });
}

}  // namespace fuelwright::service
