/// The journal: one row per command, each sealed together with the seal of the row before it, so
/// that a changed or missing row is noticed. And the checks on what a caller hands in.
#pragma once

#include <string>
#include <vector>

#include "service/job/internal/store.h"

namespace fuelwright::service::internal {

/// bad_input if who is empty, when is not ISO 8601 in UTC, or a text is not UTF-8.
Status check(const By& by);
/// bad_input if text is not UTF-8; `what` names it: "the name of the recording".
Status check_text(const std::string& what, const std::string& text);
/// bad_input if text is not JSON in UTF-8.
Status check_json(const std::string& what, const std::string& text);

struct Entry {
  const char* command;
  By by;
  std::string says;  ///< why, if by.why is empty
  std::string sources_json = "{}";
  std::optional<int> in_force = {};
};

/// Adds a row and answers its id. Call inside a transaction.
std::int64_t add_journal(SQLite::Database& db, const Entry& entry);
/// All rows, the chain checked. Throws SQLite::Exception.
Result<std::vector<JournalRow>> read_journal(const Store& store);

}  // namespace fuelwright::service::internal
