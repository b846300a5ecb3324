/// The tables of a job file, as a list of migrations: a new job runs through all of them, an older
/// one through those it has not seen. A migration that has been released is never edited; the next
/// one is added below it.
#pragma once

#include <SQLiteCpp/Database.h>

#include <span>

#include "base/result.h"

namespace fuelwright::service::internal {

struct Migration {
  int version;      ///< 1, 2, 3 ...: PRAGMA user_version after it
  const char* sql;  ///< runs inside a transaction
};

/// PRAGMA application_id of a job file: the letters "FwJo".
inline constexpr int kApplicationId = 0x46774A6F;

std::span<const Migration> released_migrations();

/// Runs the migrations above version `from`, up to `to`. Call inside a transaction. Throws
/// SQLite::Exception.
void migrate(SQLite::Database& db, std::span<const Migration> migrations, int from, int to);

/// True if every table, index and trigger that version `version` has stands in db, word for word.
bool has_schema(SQLite::Database& db, std::span<const Migration> migrations, int version);

}  // namespace fuelwright::service::internal
