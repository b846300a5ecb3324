#include "service/job/internal/store.h"

#include <fmt/format.h>
#include <sqlite3.h>
#include <unistd.h>

#include <cerrno>
#include <cstring>
#include <new>

#include "service/job/internal/files.h"
#include "service/job/internal/journal.h"

namespace fuelwright::service::internal {
namespace {

// A path that SQLite takes as a file's name whatever it is called.
std::string plain(const std::string& path) { return path.starts_with('/') ? path : "./" + path; }

std::string immutable_uri(const std::string& path) {
  std::string uri = "file:";
  for (const char c : plain(path)) {
    if (std::isalnum(static_cast<unsigned char>(c)) || c == '/' || c == '.' || c == '-') {
      uri += c;
    } else {
      uri += fmt::format("%{:02X}", static_cast<unsigned char>(c));
    }
  }
  return uri + "?immutable=1";
}

void set_habits(SQLite::Database& db) {
  db.exec(
      "PRAGMA trusted_schema = OFF; PRAGMA cell_size_check = ON; PRAGMA foreign_keys = ON;"
      "PRAGMA synchronous = FULL");
}

}  // namespace

Status keep_a_log(SQLite::Database& db, const std::string& path) {
  if (db.execAndGet("PRAGMA journal_mode = WAL").getString() == "wal") return Done{};
  return Error{ErrorCode::io, path,
               "no write-ahead log can be kept there (a network folder?); expected a local disk"};
}

namespace {

int primary_code(const SQLite::Exception& e) {
  constexpr int kPrimary = 0xff;  // the low byte; the rest is detail
  return e.getErrorCode() & kPrimary;
}

// While a job has not been looked over, closing it must not move its log into it.
void keep_log_on_close(SQLite::Database& db, bool keep) {
  sqlite3_db_config(db.getHandle(), SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, keep ? 1 : 0, nullptr);
}

}  // namespace

Result<std::unique_ptr<Store>> Store::open(const std::string& path, Access access,
                                           const OpenOptions& options,
                                           std::span<const Migration> migrations) {
  EXPECTS(!migrations.empty());
  FW_CHECK(size_of_plain_file(path));
  if (is_taken(path + "-journal")) {
    return Error{
        ErrorCode::damaged, path,
        fmt::format("{}-journal lies beside it, which no job has; nothing was changed", path)};
  }
  const int wait_ms = static_cast<int>(options.wait.count());
  std::unique_ptr<Store> store(new Store(path, access));
  store->newest_known_ = migrations.back().version;
  try {
    store->connect(wait_ms);
    FW_CHECK(store->look_over(migrations, wait_ms));
  } catch (const SQLite::Exception& e) {
    return store->translated(e);
  }
  return store;
}

// Opened to read and write in any case, so that the last one to close it tidies the log away;
// SQLite itself falls back to reading where writing is not allowed.
void Store::connect(int wait_ms) {
  const auto start = [&](const std::string& name, int flags) {
    db_ = std::make_unique<SQLite::Database>(name, flags, wait_ms);
    keep_log_on_close(*db_, log_size(path_) > 0);
    set_habits(*db_);
    version();  // the first look into the file
  };
  try {
    start(plain(path_), SQLite::OPEN_READWRITE);
  } catch (const SQLite::Exception& e) {
    const bool no_log_possible =
        primary_code(e) == SQLITE_CANTOPEN || primary_code(e) == SQLITE_READONLY;
    const bool lies_still = !folder_is_writable(path_) && log_size(path_) == 0;
    if (!no_log_possible || !lies_still || ::access(path_.c_str(), R_OK) != 0) throw;
    start(immutable_uri(path_), SQLite::OPEN_READONLY | SQLite::OPEN_URI);
  }
}

int Store::version() const { return db_->execAndGet("PRAGMA user_version").getInt(); }

Status Store::look_over(std::span<const Migration> migrations, int wait_ms) {
  FW_CHECK(check_identity(migrations));
  FW_CHECK(check_soundness());
  if (newer_) {
    db_->exec("PRAGMA query_only = ON");
    keep_log_on_close(*db_, false);
    return Done{};
  }
  if (!has_schema(*db_, migrations, version())) {
    return damaged("schema", "its tables or triggers are not those of a job");
  }
  FW_CHECK(read_journal(*this));
  if (access_ == Access::write && sqlite3_db_readonly(db_->getHandle(), "main") == 1) {
    return Error{ErrorCode::io, path_,
                 "is read-only (no permission to write, or a read-only medium)"};
  }
  keep_log_on_close(*db_, false);
  if (version() < newest_known_) {
    if (access_ == Access::write) {
      FW_CHECK(upgrade(migrations, wait_ms));
    } else {
      read_through_memory(migrations);
    }
  }
  if (access_ == Access::read) {
    db_->exec("PRAGMA query_only = ON");
    return Done{};
  }
  return keep_a_log(*db_, path_);
}

Status Store::check_identity(std::span<const Migration> migrations) {
  const int id = db_->execAndGet("PRAGMA application_id").getInt();
  if (id != kApplicationId) {
    return Error{ErrorCode::bad_input, path_,
                 fmt::format("is a database of another program (application id {:#x}); expected a "
                             "job ({:#x})",
                             static_cast<unsigned>(id), kApplicationId)};
  }
  if (version() < migrations.front().version) {
    return damaged("schema version", fmt::format("came {}, expected {} or more", version(),
                                                 migrations.front().version));
  }
  newer_ = version() > newest_known_;
  return Done{};
}

Status Store::check_soundness() const {
  const std::string verdict = db_->execAndGet("PRAGMA quick_check(1)").getString();
  if (verdict != "ok") {
    // A heading may stand on a line above the finding.
    return damaged("",
                   fmt::format("SQLite's check says: {}", verdict.substr(verdict.rfind('\n') + 1)));
  }
  SQLite::Statement orphans(*db_, "PRAGMA foreign_key_check");
  if (orphans.executeStep()) {
    return damaged(orphans.getColumn(0).getString(),
                   fmt::format("a row points to a row of {} that is not there",
                               orphans.getColumn(2).getString()));
  }
  return Done{};
}

Status Store::upgrade(std::span<const Migration> migrations, int wait_ms) {
  SQLite::Transaction transaction(*db_, SQLite::TransactionBehavior::IMMEDIATE);
  const int from = version();
  if (from >= newest_known_) return Done{};  // another program was quicker
  FW_CHECK(copy_aside(wait_ms));
  try {
    migrate(*db_, migrations, from, newest_known_);
  } catch (const SQLite::Exception& e) {
    if (primary_code(e) != SQLITE_ERROR && primary_code(e) != SQLITE_CONSTRAINT) throw;
    return damaged("schema", fmt::format("cannot be brought from version {} to {}: {}", from,
                                         newest_known_, e.what()));
  }
  FW_CHECK(check_soundness());
  transaction.commit();
  return Done{};
}

// Through a connection of its own: SQLite copies nothing from a connection that holds a write lock.
Status Store::copy_aside(int wait_ms) const {
  const std::string wanted = fmt::format("{}.version-{}", path_, version());
  FW_TRY(Draft draft, Draft::make(wanted));
  {
    SQLite::Database from(plain(path_), SQLite::OPEN_READWRITE, wait_ms);
    SQLite::Database to(plain(draft.path()), SQLite::OPEN_READWRITE, wait_ms);
    SQLite::Backup(to, from).executeStep();
  }
  std::string name = wanted;
  for (int i = 2; is_taken(name); ++i) name = fmt::format("{}-{}", wanted, i);
  return draft.publish(name);
}

void Store::read_through_memory(std::span<const Migration> migrations) {
  auto copy =
      std::make_unique<SQLite::Database>(":memory:", SQLite::OPEN_READWRITE | SQLite::OPEN_CREATE);
  SQLite::Backup(*copy, *db_).executeStep();
  set_habits(*copy);
  SQLite::Transaction transaction(*copy);
  migrate(*copy, migrations, copy->execAndGet("PRAGMA user_version").getInt(), newest_known_);
  transaction.commit();
  db_ = std::move(copy);
}

Status Store::can_write() const {
  if (newer_) {
    return Error{
        ErrorCode::newer_version, path_,
        fmt::format("was made by a newer version (format {}; this one writes up to {}); it "
                    "can be read, not written",
                    version(), newest_known_)};
  }
  if (access_ == Access::read) return Error{ErrorCode::io, path_, "was opened for reading only"};
  return Done{};
}

Error Store::damaged(const std::string& row, const std::string& what) const {
  return {ErrorCode::damaged, row.empty() ? path_ : fmt::format("{}: {}", path_, row),
          what + ". Nothing was changed"};
}

Error Store::broken_seal(const std::string& row) const {
  return damaged(row, "what it says is not what was written (its checksum differs)");
}

Error Store::translated(const SQLite::Exception& e) const {
  const int system = db_ ? sqlite3_system_errno(db_->getHandle()) : errno;
  switch (primary_code(e)) {
    case SQLITE_BUSY:
    case SQLITE_LOCKED:
      return {ErrorCode::locked, path_,
              "another program is writing to it; try again when it is done"};
    case SQLITE_CORRUPT:
      return damaged("", fmt::format("is damaged ({})", e.what()));
    case SQLITE_NOTADB:
      return damaged("", "is not a job, or its beginning is damaged");
    case SQLITE_FULL:
      return {ErrorCode::io, path_, "the disk is full; nothing was changed"};
    case SQLITE_READONLY:
      return {ErrorCode::io, path_, "is read-only; nothing was changed"};
    case SQLITE_IOERR:
    case SQLITE_CANTOPEN:
    case SQLITE_PERM:
    case SQLITE_AUTH:
    case SQLITE_NOLFS:
    case SQLITE_PROTOCOL:
      return {ErrorCode::io, path_,
              fmt::format("the system refused: {}; nothing was changed",
                          system != 0 ? std::strerror(system) : e.what())};
    case SQLITE_TOOBIG:
      return {ErrorCode::too_large, path_, "a text or a recording is too large for a job"};
    case SQLITE_NOMEM:
      throw std::bad_alloc();
    case SQLITE_ERROR:
      if (newer_) {
        return {ErrorCode::newer_version, path_,
                fmt::format("was made by a newer version and cannot be read here ({})", e.what())};
      }
      return damaged("schema", e.what());
    default:
      throw Bug(fmt::format("{}: {}", path_, e.what()));
  }
}

}  // namespace fuelwright::service::internal
