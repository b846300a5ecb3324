/// The sheet of a job, seen and changed value by value, and what the next measurement is worth.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "base/result.h"
#include "base/units/number.h"
#include "car/build/sheet_file.h"
#include "physics/ensemble/what_to_measure.h"

namespace fuelwright::service {

/// Of which sheet the worth of measurements speaks.
enum class WorthOf { none, earlier, this_sheet };

struct SheetReply {
  std::string sentence;
  UnitSystem units = UnitSystem::metric;
  std::string toml;
  std::vector<car::Line> lines;
  int given = 0, typical = 0;
  std::vector<physics::Worth> worth;  ///< the most worthwhile first, for each kind of driving
  WorthOf worth_of = WorthOf::none;
  std::string worth_says;
  std::int64_t head = 0;  ///< the journal's last row
};
Result<SheetReply> sheet(const std::string& job);

/// One value of the sheet, as a person writes it.
struct ValueChange {
  std::string section;  ///< "engine", "sensors.mixture.1"
  std::string key;      ///< "compression"
  /// As a person writes it: "10.2 +- 0.2", "1, 8, 4, 3" for a list; none: off the sheet, so that it
  /// is typical again.
  std::optional<std::string> value;
  std::string source;  ///< measured, stated; empty: stated
  std::string note;
};
struct ChangeSheetRequest {
  std::string job;
  std::optional<std::string> toml;  ///< the whole sheet; else `changes`
  std::vector<ValueChange> changes;
  bool dry_run = false;
  std::optional<std::int64_t> seen;  ///< the journal's last row that was looked at
  std::string why;
  std::string who, when;
};
struct ChangeSheetReply {
  std::string sentence;
  UnitSystem units = UnitSystem::metric;
  std::vector<car::Line> changed;  ///< lines that differ, as they are now
  std::vector<car::Line>
      was;  ///< the same before, in the same order; those that are new are not there
  std::vector<car::Line> lines;
  bool written = false;
  std::int64_t head = 0;
};
/// Errors: not_found for a section or key that is not, with the nearest; those of read_sheet();
/// conflict if the sheet was changed since `seen`.
Result<ChangeSheetReply> change_sheet(const ChangeSheetRequest& request);

/// The journal's last row; 0 in an empty one. Errors: those of Job::open.
Result<std::int64_t> journal_head(const std::string& job);

}  // namespace fuelwright::service
