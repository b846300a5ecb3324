/// One open job file: the connection, the look-over when it is opened, and the way from SQLite's
/// complaints to Error.
#pragma once

#include <SQLiteCpp/Backup.h>
#include <SQLiteCpp/SQLiteCpp.h>

#include <memory>
#include <string>
#include <string_view>
#include <type_traits>

#include "base/result.h"
#include "service/job/internal/schema.h"
#include "service/job/job.h"

namespace fuelwright::service::internal {

/// Puts a job into the journal mode it is always in. io where the file system cannot do that.
/// Throws SQLite::Exception.
Status keep_a_log(SQLite::Database& db, const std::string& path);

class Store {
 public:
  /// As Job::open; `migrations` is what this program knows.
  static Result<std::unique_ptr<Store>> open(const std::string& path, Access access,
                                             const OpenOptions& options,
                                             std::span<const Migration> migrations);

  const std::string& path() const { return path_; }
  SQLite::Database& db() const { return *db_; }
  Status can_write() const;

  /// damaged, at "coupe.fw: revision 3".
  Error damaged(const std::string& row, const std::string& what) const;
  /// damaged, for a row whose seal does not fit what it says.
  Error broken_seal(const std::string& row) const;

  /// Runs body() on one unchanging state of the file. body returns a Result.
  template <class Body>
  std::invoke_result_t<Body> read(Body&& body) const {
    try {
      const SQLite::Transaction transaction(*db_, SQLite::TransactionBehavior::DEFERRED);
      return body();
    } catch (const SQLite::Exception& e) {
      return translated(e);
    }
  }

  /// Runs body() as one transaction: all of it is on the disk afterwards, or nothing if it returns
  /// or meets an error.
  template <class Body>
  std::invoke_result_t<Body> write(Body&& body) {
    FW_CHECK(can_write());
    try {
      SQLite::Transaction transaction(*db_, SQLite::TransactionBehavior::IMMEDIATE);
      auto result = body();
      if (result) transaction.commit();
      return result;
    } catch (const SQLite::Exception& e) {
      return translated(e);
    }
  }

 private:
  Store(std::string path, Access access) : path_(std::move(path)), access_(access) {}
  Error translated(const SQLite::Exception& e) const;
  void connect(int wait_ms);
  Status look_over(std::span<const Migration> migrations, int wait_ms);
  Status check_identity(std::span<const Migration> migrations);
  Status check_soundness() const;
  Status upgrade(std::span<const Migration> migrations, int wait_ms);
  Status copy_aside(int wait_ms) const;
  void read_through_memory(std::span<const Migration> migrations);
  int version() const;

  std::string path_;
  Access access_;
  std::unique_ptr<SQLite::Database> db_;
  int newest_known_ = 0;
  bool newer_ = false;
};

}  // namespace fuelwright::service::internal
