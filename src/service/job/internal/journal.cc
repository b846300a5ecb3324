#include "service/job/internal/journal.h"

#include <fmt/format.h>

#include <nlohmann/json.hpp>

#include "service/job/internal/seal.h"
#include "service/job/internal/sql.h"
#include "service/job/internal/statement.h"

namespace fuelwright::service::internal {
namespace {

bool is_utf8(const std::string& text) {
  // The JSON writer refuses what is not UTF-8, and these texts are going to be written as JSON.
  try {
    (void)nlohmann::json(text).dump();
    return true;
  } catch (const nlohmann::json::exception&) {
    return false;
  }
}

bool is_digits(std::string_view text) {
  return !text.empty() && text.find_first_not_of("0123456789") == std::string_view::npos;
}

bool within(std::string_view two_digits, int lowest, int highest) {
  if (!is_digits(two_digits)) return false;
  const int value = (two_digits[0] - '0') * 10 + (two_digits[1] - '0');
  return value >= lowest && value <= highest;
}

// "2026-05-04T09:30:00Z", with any number of decimals of a second.
bool is_utc(std::string_view t) {
  constexpr std::string_view kForm = "dddd-dd-ddTdd:dd:ddZ";
  if (t.size() < kForm.size() || t.back() != 'Z') return false;
  for (std::size_t i = 0; i + 1 < kForm.size(); ++i) {
    if (kForm[i] != 'd' && kForm[i] != t[i]) return false;
  }
  const std::string_view rest = t.substr(kForm.size() - 1, t.size() - kForm.size());
  if (!rest.empty() && (rest[0] != '.' || !is_digits(rest.substr(1)))) return false;
  return is_digits(t.substr(0, 4)) && within(t.substr(5, 2), 1, 12) &&
         within(t.substr(8, 2), 1, 31) && within(t.substr(11, 2), 0, 23) &&
         within(t.substr(14, 2), 0, 59) && within(t.substr(17, 2), 0, 60);
}

std::string seal_of(const JournalRow& row, const std::string& before) {
  return Seal("journal")
      .add(before)
      .add(row.id)
      .add(row.when)
      .add(row.who)
      .add(row.command)
      .add(row.why)
      .add(row.sources_json)
      .add(row.in_force ? std::optional<std::int64_t>(*row.in_force) : std::nullopt)
      .hex();
}

}  // namespace

Status check_text(const std::string& what, const std::string& text) {
  if (is_utf8(text)) return Done{};
  return Error{ErrorCode::bad_input, what, "is not UTF-8 text"};
}

Status check_json(const std::string& what, const std::string& text) {
  if (nlohmann::json::accept(text)) return Done{};
  return Error{ErrorCode::bad_input, what, "is not JSON"};
}

Status check(const By& by) {
  FW_CHECK(check_text("who", by.who));
  FW_CHECK(check_text("why", by.why));
  if (by.who.empty()) return Error{ErrorCode::bad_input, "who", "is empty; expected a name"};
  if (is_utc(by.when)) return Done{};
  return Error{ErrorCode::bad_input, "when",
               fmt::format("came \"{}\", expected a time in UTC such as 2026-05-04T09:30:00Z",
                           is_utf8(by.when) ? by.when : "?")};
}

std::int64_t add_journal(SQLite::Database& db, const Entry& entry) {
  JournalRow row{.id = 1,
                 .when = entry.by.when,
                 .who = entry.by.who,
                 .command = entry.command,
                 .why = entry.by.why.empty() ? entry.says : entry.by.why,
                 .sources_json = entry.sources_json,
                 .in_force = entry.in_force};
  std::string before;
  if (SQLite::Statement last(db, sql::kLastJournal); last.executeStep()) {
    row.id = last.getColumn(0).getInt64() + 1;
    before = last.getColumn(1).getString();
  }
  insert(db, sql::kAddJournal, row.id, row.when, row.who, row.command, row.why, row.sources_json,
         row.in_force, seal_of(row, before));
  return row.id;
}

Result<std::vector<JournalRow>> read_journal(const Store& store) {
  std::vector<JournalRow> out;
  std::string before;
  SQLite::Statement rows(store.db(), sql::kJournalRows);
  while (rows.executeStep()) {
    JournalRow row{.id = rows.getColumn(0).getInt64(),
                   .when = rows.getColumn(1),
                   .who = rows.getColumn(2),
                   .command = rows.getColumn(3),
                   .why = rows.getColumn(4),
                   .sources_json = rows.getColumn(5),
                   .in_force = optional_number<int>(rows.getColumn(6))};
    const auto expected_id = static_cast<std::int64_t>(out.size()) + 1;
    const std::string seal = rows.getColumn(7);
    if (row.id != expected_id) {
      return store.damaged(fmt::format("journal row {}", expected_id), "is missing");
    }
    if (seal != seal_of(row, before)) {
      return store.broken_seal(fmt::format("journal row {}", row.id));
    }
    before = seal;
    out.push_back(std::move(row));
  }
  if (out.empty()) return store.damaged("journal", "is empty; expected at least the row \"new\"");
  return out;
}

}  // namespace fuelwright::service::internal
