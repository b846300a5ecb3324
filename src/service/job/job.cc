#include "service/job/job.h"

#include <fmt/format.h>

#include "service/job/internal/files.h"
#include "service/job/internal/journal.h"
#include "service/job/internal/seal.h"
#include "service/job/internal/sql.h"
#include "service/job/internal/statement.h"
#include "service/job/internal/store.h"

namespace fuelwright::service {

using internal::Draft;
using internal::Entry;
using internal::Seal;
using internal::Store;

namespace {

constexpr const char* kUnitsSetting = "units";
constexpr std::string_view kExtension = ".fw";

const char* name_of(UnitSystem units) { return units == UnitSystem::us ? "us" : "metric"; }

Status check_new_name(const std::string& path) {
  const std::string file = path.substr(path.rfind('/') + 1);  // npos + 1 is 0
  if (file.size() <= kExtension.size() || !file.ends_with(kExtension)) {
    return Error{ErrorCode::bad_input, path, "expected a name ending in .fw, such as coupe.fw"};
  }
  if (internal::is_taken(path)) {
    return Error{ErrorCode::conflict, path, "exists already; expected a name that is free"};
  }
  for (const char* tail : {"-wal", "-shm", "-journal"}) {
    if (internal::is_taken(path + tail)) {
      return Error{
          ErrorCode::conflict, path + tail,
          "is left from another job of this name and would be read into the new one; move it "
          "away first"};
    }
  }
  return Done{};
}

void add_sheet(SQLite::Database& db, const std::string& toml, std::int64_t journal) {
  internal::insert(db, internal::sql::kAddSheet, toml, Seal("sheet").add(toml).hex(), journal);
}

void add_setting(SQLite::Database& db, const std::string& name, const std::string& value,
                 std::int64_t journal) {
  internal::insert(db, internal::sql::kAddSetting, name, value,
                   Seal("setting").add(name).add(value).hex(), journal);
}

// The whole first state of a job, in a file that has no readers yet.
Status fill_new(const std::string& path, const NewJob& fresh) {
  SQLite::Database db(path.starts_with('/') ? path : "./" + path, SQLite::OPEN_READWRITE);
  db.exec(
      fmt::format("PRAGMA application_id = {}; PRAGMA foreign_keys = ON; PRAGMA synchronous = FULL",
                  internal::kApplicationId));
  SQLite::Transaction transaction(db);
  const auto migrations = internal::released_migrations();
  internal::migrate(db, migrations, 0, migrations.back().version);
  const auto journal = internal::add_journal(
      db, Entry{.command = "new", .by = fresh.by, .says = "a new job from its sheet"});
  add_sheet(db, fresh.sheet_toml, journal);
  add_setting(db, kUnitsSetting, name_of(fresh.units), journal);
  transaction.commit();
  return internal::keep_a_log(db, path);
}

}  // namespace

Job::Job(std::unique_ptr<Store> store) : store_(std::move(store)) {}
Job::Job(Job&&) noexcept = default;
Job& Job::operator=(Job&&) noexcept = default;
Job::~Job() = default;

const std::string& Job::path() const { return store_->path(); }
Status Job::can_write() const { return store_->can_write(); }

Result<Job> Job::create(const std::string& path, const NewJob& fresh) {
  FW_CHECK(check_new_name(path));
  FW_CHECK(internal::check(fresh.by));
  FW_CHECK(internal::check_text("the sheet", fresh.sheet_toml));
  FW_TRY(Draft draft, Draft::make(path));
  try {
    FW_CHECK(fill_new(draft.path(), fresh));
  } catch (const SQLite::Exception& e) {
    return Error{ErrorCode::io, path, fmt::format("cannot be written: {}", e.what())};
  }
  FW_CHECK(draft.publish(path));
  return open(path, Access::write);
}

Result<Job> Job::open(const std::string& path, Access access, const OpenOptions& options) {
  FW_TRY(auto store, Store::open(path, access, options, internal::released_migrations()));
  Job job(std::move(store));
  if (access == Access::write && job.can_write()) FW_CHECK(job.look_into());
  return job;
}

// A command that writes is not begun on a job that is damaged in a row which it does not read.
Status Job::look_into() const {
  FW_CHECK(sheet_toml());
  FW_CHECK(store_->read([&]() -> Status {
    SQLite::Statement row(store_->db(), internal::sql::kSettingRows);
    while (row.executeStep()) {
      const std::string name = row.getColumn(1);
      const std::string value = row.getColumn(2);
      if (Seal("setting").add(name).add(value).hex() != row.getColumn(3).getString()) {
        return store_->broken_seal(fmt::format("setting {}", row.getColumn(0).getInt64()));
      }
    }
    return Done{};
  }));
  FW_CHECK(recordings());
  FW_CHECK(check_ensembles());
  FW_CHECK(revisions());
  if (const auto known = evidence(); !known && known.error().code != ErrorCode::not_found) {
    return known.error();
  }
  return Done{};
}

Result<std::string> Job::sheet_toml() const {
  return store_->read([&]() -> Result<std::string> {
    SQLite::Statement row(store_->db(), internal::sql::kSheet);
    if (!row.executeStep()) return store_->damaged("sheet", "is missing");
    std::string toml = row.getColumn(1);
    if (Seal("sheet").add(toml).hex() != row.getColumn(2).getString()) {
      return store_->broken_seal(fmt::format("sheet {}", row.getColumn(0).getInt64()));
    }
    return toml;
  });
}

Status Job::set_sheet(const std::string& toml, const By& by) {
  FW_CHECK(internal::check(by));
  FW_CHECK(internal::check_text("the sheet", toml));
  return store_->write([&]() -> Status {
    add_sheet(store_->db(), toml,
              internal::add_journal(
                  store_->db(), {.command = "sheet", .by = by, .says = "the sheet was changed"}));
    return Done{};
  });
}

Result<std::optional<std::string>> Job::setting(const std::string& name) const {
  using Answer = Result<std::optional<std::string>>;
  return store_->read([&]() -> Answer {
    auto row = internal::prepared(store_->db(), internal::sql::kSetting, name);
    if (!row.executeStep()) return std::optional<std::string>();
    std::string value = row.getColumn(1);
    if (Seal("setting").add(name).add(value).hex() != row.getColumn(2).getString()) {
      return store_->broken_seal(fmt::format("setting {}", row.getColumn(0).getInt64()));
    }
    return std::optional<std::string>(std::move(value));
  });
}

Status Job::set_setting(const std::string& name, const std::string& value, const By& by) {
  FW_CHECK(internal::check(by));
  FW_CHECK(internal::check_text("the setting's name", name));
  FW_CHECK(internal::check_text("setting " + name, value));
  return store_->write([&]() -> Status {
    const auto journal = internal::add_journal(
        store_->db(), {.command = "set", .by = by, .says = fmt::format("{} = {}", name, value)});
    add_setting(store_->db(), name, value, journal);
    return Done{};
  });
}

Result<UnitSystem> Job::units() const {
  FW_TRY(const auto value, setting(kUnitsSetting));
  for (const UnitSystem units : {UnitSystem::metric, UnitSystem::us}) {
    if (value == name_of(units)) return units;
  }
  return store_->damaged("setting units", fmt::format("came \"{}\", expected metric or us",
                                                      value.value_or("nothing")));
}

Status Job::set_units(UnitSystem units, const By& by) {
  return set_setting(kUnitsSetting, name_of(units), by);
}

Result<std::vector<JournalRow>> Job::journal() const {
  return store_->read([&] { return internal::read_journal(*store_); });
}

}  // namespace fuelwright::service
