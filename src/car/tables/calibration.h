/// A calibration: all that the engine computer is given, as tables, curves and settings, and how
/// each came about. A revision: one immutable calibration in a job.
///
/// It need not be complete: a job that began with a table as found holds that and little else.
#pragma once

#include <map>
#include <optional>
#include <span>
#include <string>
#include <variant>
#include <vector>

#include "car/tables/curve.h"
#include "car/tables/setting.h"
#include "car/tables/surface.h"

namespace fuelwright::car {

/// What a table's values are. The name stands in files; the unit is for people.
enum class TableWhat {
  ve,             ///< volumetric efficiency referred to manifold conditions [-]; shown in %
  lambda_target,  ///< mixture to aim at [-]
  correction,     ///< factor on the fuel of a unit whose own table is not known [-]; shown in %
  spark,          ///< ignition before top dead centre [deg]
};
std::span<const TableWhat> all_tables();
const char* name_of(TableWhat what);
Result<TableWhat> table_named(std::string_view name);
/// VE 0.02..2.5, lambda 0.5..2, correction 0.3..3, spark -20..70 deg.
Limits limits_of(TableWhat what);
ValueUnit unit_of(TableWhat what);
/// Whether a change of it is a share of what it was; spark may be zero and changes by degrees.
bool changes_by_share(TableWhat what);

/// Any one part of a calibration, and its name in files.
using What = std::variant<TableWhat, CurveWhat, SettingWhat>;
std::string name_of(const What& what);
/// Error not_found naming the nearest.
Result<What> part_named(std::string_view name);

/// How a value came about.
struct Origin {
  std::string reason;  ///< one sentence
  /// Of a table: 95 % half-width of each node, [y][x], as a share of it (spark: in degrees); empty
  /// if none is known.
  std::vector<double> half_width = {};
  friend bool operator==(const Origin&, const Origin&) = default;
};

struct Calibration {
  std::map<TableWhat, Surface> tables;
  std::map<CurveWhat, Curve> curves = {};
  std::map<SettingWhat, double> settings = {};  ///< in the unit of SettingWhat
  /// Beside the numbers, so that they can be compared alone. What is not in it has no story.
  std::map<What, Origin> origins = {};

  const Surface* find(TableWhat what) const;
  const Curve* find(CurveWhat what) const;
  const double* find(SettingWhat what) const;
  bool has(const What& what) const;
  const Origin* origin(const What& what) const;
  /// Everything is equal, how it came about too.
  friend bool operator==(const Calibration&, const Calibration&) = default;
};

/// The same tables, curves and settings, however they came about.
bool same_numbers(const Calibration& a, const Calibration& b);

/// Error out_of_range naming the table and the node (the curve and the point, the setting) if a
/// value is not a number or cannot be meant; if a curve stands over another axis than its own, or a
/// table over one of a curve; if the soft rev limit lies above the hard one, or fuel comes back on
/// the overrun at or above the speed of its cut; if an origin has no value it could tell of, or its
/// half-widths are not one per node and 0 or more.
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
