#include "service/job/internal/schema.h"

#include <SQLiteCpp/SQLiteCpp.h>

#include <array>
#include <set>
#include <string>
#include <utility>

namespace fuelwright::service::internal {
namespace {

// Rows are only ever added. The insert triggers close the one side door that the update and delete
// triggers leave open: INSERT OR REPLACE removes the old row without a word.
constexpr const char* kVersion1 = R"sql(
CREATE TABLE journal (
  id       INTEGER PRIMARY KEY,
  at       TEXT NOT NULL,
  who      TEXT NOT NULL,
  command  TEXT NOT NULL,
  why      TEXT NOT NULL,
  sources  TEXT NOT NULL,
  in_force INTEGER REFERENCES revisions (number) DEFERRABLE INITIALLY DEFERRED,
  seal     TEXT NOT NULL
) STRICT;

CREATE TABLE sheets (
  id      INTEGER PRIMARY KEY,
  toml    TEXT NOT NULL,
  seal    TEXT NOT NULL,
  journal INTEGER NOT NULL REFERENCES journal (id)
) STRICT;

CREATE TABLE settings (
  id      INTEGER PRIMARY KEY,
  name    TEXT NOT NULL,
  value   TEXT NOT NULL,
  seal    TEXT NOT NULL,
  journal INTEGER NOT NULL REFERENCES journal (id)
) STRICT;
CREATE INDEX settings_by_name ON settings (name, id);

CREATE TABLE recordings (
  id      INTEGER PRIMARY KEY,
  name    TEXT NOT NULL,
  sha256  TEXT NOT NULL UNIQUE,
  bytes   INTEGER NOT NULL,
  seal    TEXT NOT NULL,
  journal INTEGER NOT NULL REFERENCES journal (id),
  packed  BLOB NOT NULL
) STRICT;

CREATE TABLE readings (
  id        INTEGER PRIMARY KEY,
  recording INTEGER NOT NULL REFERENCES recordings (id),
  mapping   TEXT NOT NULL,
  summary   TEXT NOT NULL,
  samples   INTEGER NOT NULL,
  seal      TEXT NOT NULL,
  journal   INTEGER NOT NULL REFERENCES journal (id)
) STRICT;
CREATE INDEX readings_by_recording ON readings (recording, id);

CREATE TABLE proposals (
  id          INTEGER PRIMARY KEY,
  parent      INTEGER NOT NULL REFERENCES revisions (number),
  reason      TEXT NOT NULL,
  calibration TEXT NOT NULL,
  evidence    TEXT NOT NULL,
  details     TEXT NOT NULL,
  seal        TEXT NOT NULL,
  journal     INTEGER NOT NULL REFERENCES journal (id)
) STRICT;

CREATE TABLE proposal_recordings (
  proposal  INTEGER NOT NULL REFERENCES proposals (id),
  recording INTEGER NOT NULL REFERENCES recordings (id),
  PRIMARY KEY (proposal, recording)
) STRICT, WITHOUT ROWID;

CREATE TABLE revisions (
  number      INTEGER PRIMARY KEY CHECK (number >= 0),
  parent      INTEGER REFERENCES revisions (number),
  proposal    INTEGER UNIQUE REFERENCES proposals (id),
  calibration TEXT NOT NULL,
  seal        TEXT NOT NULL,
  journal     INTEGER NOT NULL REFERENCES journal (id)
) STRICT;

CREATE TRIGGER journal_stays BEFORE UPDATE ON journal
  BEGIN SELECT RAISE(ABORT, 'the journal is never changed'); END;
CREATE TRIGGER journal_kept BEFORE DELETE ON journal
  BEGIN SELECT RAISE(ABORT, 'the journal is never deleted'); END;
CREATE TRIGGER journal_once BEFORE INSERT ON journal
  WHEN EXISTS (SELECT 1 FROM journal WHERE id = NEW.id)
  BEGIN SELECT RAISE(ABORT, 'the journal is never replaced'); END;

CREATE TRIGGER sheets_stay BEFORE UPDATE ON sheets
  BEGIN SELECT RAISE(ABORT, 'a sheet is never changed'); END;
CREATE TRIGGER sheets_kept BEFORE DELETE ON sheets
  BEGIN SELECT RAISE(ABORT, 'a sheet is never deleted'); END;
CREATE TRIGGER sheets_once BEFORE INSERT ON sheets
  WHEN EXISTS (SELECT 1 FROM sheets WHERE id = NEW.id)
  BEGIN SELECT RAISE(ABORT, 'a sheet is never replaced'); END;

CREATE TRIGGER settings_stay BEFORE UPDATE ON settings
  BEGIN SELECT RAISE(ABORT, 'a setting is never changed, only followed by another'); END;
CREATE TRIGGER settings_kept BEFORE DELETE ON settings
  BEGIN SELECT RAISE(ABORT, 'a setting is never deleted'); END;
CREATE TRIGGER settings_once BEFORE INSERT ON settings
  WHEN EXISTS (SELECT 1 FROM settings WHERE id = NEW.id)
  BEGIN SELECT RAISE(ABORT, 'a setting is never replaced'); END;

CREATE TRIGGER recordings_stay BEFORE UPDATE ON recordings
  BEGIN SELECT RAISE(ABORT, 'a recording is never changed'); END;
CREATE TRIGGER recordings_kept BEFORE DELETE ON recordings
  BEGIN SELECT RAISE(ABORT, 'a recording is never deleted'); END;
CREATE TRIGGER recordings_once BEFORE INSERT ON recordings
  WHEN EXISTS (SELECT 1 FROM recordings WHERE id = NEW.id OR sha256 = NEW.sha256)
  BEGIN SELECT RAISE(ABORT, 'a recording is never replaced'); END;

CREATE TRIGGER readings_stay BEFORE UPDATE ON readings
  BEGIN SELECT RAISE(ABORT, 'a reading is never changed, only followed by another'); END;
CREATE TRIGGER readings_kept BEFORE DELETE ON readings
  BEGIN SELECT RAISE(ABORT, 'a reading is never deleted'); END;
CREATE TRIGGER readings_once BEFORE INSERT ON readings
  WHEN EXISTS (SELECT 1 FROM readings WHERE id = NEW.id)
  BEGIN SELECT RAISE(ABORT, 'a reading is never replaced'); END;

CREATE TRIGGER proposals_stay BEFORE UPDATE ON proposals
  BEGIN SELECT RAISE(ABORT, 'a proposal is never changed'); END;
CREATE TRIGGER proposals_kept BEFORE DELETE ON proposals
  BEGIN SELECT RAISE(ABORT, 'a proposal is never deleted'); END;
CREATE TRIGGER proposals_once BEFORE INSERT ON proposals
  WHEN EXISTS (SELECT 1 FROM proposals WHERE id = NEW.id)
  BEGIN SELECT RAISE(ABORT, 'a proposal is never replaced'); END;

CREATE TRIGGER proposal_recordings_stay BEFORE UPDATE ON proposal_recordings
  BEGIN SELECT RAISE(ABORT, 'a proposal is never changed'); END;
CREATE TRIGGER proposal_recordings_kept BEFORE DELETE ON proposal_recordings
  BEGIN SELECT RAISE(ABORT, 'a proposal is never changed'); END;

CREATE TRIGGER revisions_stay BEFORE UPDATE ON revisions
  BEGIN SELECT RAISE(ABORT, 'a revision is never changed'); END;
CREATE TRIGGER revisions_kept BEFORE DELETE ON revisions
  BEGIN SELECT RAISE(ABORT, 'a revision is never deleted'); END;
CREATE TRIGGER revisions_once BEFORE INSERT ON revisions
  WHEN EXISTS (SELECT 1 FROM revisions WHERE number = NEW.number OR proposal = NEW.proposal)
  BEGIN SELECT RAISE(ABORT, 'a revision is never replaced'); END;
)sql";

// Ensembles of engines that were computed from a sheet.
constexpr const char* kVersion2 = R"sql(
CREATE TABLE ensembles (
  id           INTEGER PRIMARY KEY,
  sheet_sha256 TEXT NOT NULL,
  members      INTEGER NOT NULL CHECK (members > 0),
  seed         INTEGER NOT NULL,
  model        TEXT NOT NULL,
  bytes        INTEGER NOT NULL,
  sha256       TEXT NOT NULL,
  seal         TEXT NOT NULL,
  journal      INTEGER NOT NULL REFERENCES journal (id),
  packed       BLOB NOT NULL,
  UNIQUE (sheet_sha256, members, seed, model)
) STRICT;

CREATE TRIGGER ensembles_stay BEFORE UPDATE ON ensembles
  BEGIN SELECT RAISE(ABORT, 'an ensemble is never changed'); END;
CREATE TRIGGER ensembles_kept BEFORE DELETE ON ensembles
  BEGIN SELECT RAISE(ABORT, 'an ensemble is never deleted'); END;
CREATE TRIGGER ensembles_once BEFORE INSERT ON ensembles
  WHEN EXISTS (SELECT 1 FROM ensembles WHERE id = NEW.id OR (sheet_sha256 = NEW.sheet_sha256
    AND members = NEW.members AND seed = NEW.seed AND model = NEW.model))
  BEGIN SELECT RAISE(ABORT, 'an ensemble is never replaced'); END;
)sql";

constexpr std::array<Migration, 2> kReleased{{{1, kVersion1}, {2, kVersion2}}};

std::set<std::pair<std::string, std::string>> objects_of(SQLite::Database& db) {
  std::set<std::pair<std::string, std::string>> out;
  SQLite::Statement rows(db, "SELECT name, sql FROM sqlite_schema WHERE sql IS NOT NULL");
  while (rows.executeStep()) out.emplace(rows.getColumn(0), rows.getColumn(1));
  return out;
}

}  // namespace

std::span<const Migration> released_migrations() { return kReleased; }

void migrate(SQLite::Database& db, std::span<const Migration> migrations, int from, int to) {
  for (const Migration& m : migrations) {
    if (m.version <= from || m.version > to) continue;
    db.exec(m.sql);
    db.exec("PRAGMA user_version = " + std::to_string(m.version));
  }
}

bool has_schema(SQLite::Database& db, std::span<const Migration> migrations, int version) {
  SQLite::Database model(":memory:", SQLite::OPEN_READWRITE | SQLite::OPEN_CREATE);
  migrate(model, migrations, 0, version);
  const auto there = objects_of(db);
  for (const auto& object : objects_of(model)) {
    if (!there.contains(object)) return false;
  }
  return true;
}

}  // namespace fuelwright::service::internal
