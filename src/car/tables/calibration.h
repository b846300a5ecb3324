/// A calibration: the set of tables for the engine computer. A revision: one immutable calibration
/// in a job.
#pragma once

#include <map>
#include <optional>
#include <string>
#include <vector>

#include "car/tables/surface.h"

namespace fuelwright::car {

/// What a table's values are. The name stands in files; the unit is for people.
enum class TableWhat {
  ve,             ///< volumetric efficiency referred to manifold conditions [-]; shown in %
  lambda_target,  ///< mixture to aim at [-]
  correction,     ///< factor on the fuel of a unit whose own table is not known [-]; shown in %
};
const char* name_of(TableWhat what);
Result<TableWhat> table_named(std::string_view name);
/// Lowest and highest value that can be meant: VE 0.02..2.5, lambda 0.5..2, correction 0.3..3.
struct Limits {
  double lowest;
  double highest;
};
Limits limits_of(TableWhat what);

struct Calibration {
  std::map<TableWhat, Surface> tables;

  const Surface* find(TableWhat what) const;
  friend bool operator==(const Calibration&, const Calibration&) = default;
};

/// Error out_of_range naming the table and the node if a value is not a number or cannot be meant.
Status validate(const Calibration& calibration);

struct Revision {
  int number = 0;             ///< 0 = tables as found (or the flat start)
  std::optional<int> parent;  ///< the revision it was made from
  std::string reason;         ///< why it exists, in words
  std::string author;         ///< who accepted it
  std::string when;           ///< ISO 8601, UTC
  Calibration calibration;
};

}  // namespace fuelwright::car
