/// What differs between two calibrations: tables node by node, curves point by point, settings.
#pragma once

#include <optional>

#include "car/tables/calibration.h"

namespace fuelwright::car {

struct NodeDifference {
  std::size_t ix = 0;
  std::size_t iy = 0;
  double before = 0;
  double after = 0;
  /// (after - before) / before; of tables that change by share
  double share() const { return after / before - 1; }
  double change() const { return after - before; }
};

struct TableDifference {
  TableWhat what = TableWhat::ve;
  std::optional<Surface> before;  ///< none: the table is new
  std::optional<Surface> after;   ///< none: it is gone
  bool other_axes = false;  ///< `after` stood on other axes; here it is read off at before's nodes
  std::size_t changed = 0;  ///< nodes that differ
  std::optional<NodeDifference> largest_rise;  ///< by share; spark by degrees
  std::optional<NodeDifference> largest_fall;

  bool any() const { return before.has_value() != after.has_value() || other_axes || changed > 0; }
  /// The axes on which both are shown; a table is there, before or after.
  const Grid& grid() const { return before ? before->grid : after->grid; }
};

/// Values are compared exactly. Axes of other kinds (vacuum, then MAP) cannot be compared by node:
/// then changed is 0 and after is kept on its own axes.
TableDifference difference(TableWhat what, const Surface* before, const Surface* after);

struct PointDifference {
  std::size_t i = 0;
  double before = 0;
  double after = 0;
  double change() const { return after - before; }
};

struct CurveDifference {
  CurveWhat what = CurveWhat::cranking_fuel;
  std::optional<Curve> before;  ///< none: the curve is new
  std::optional<Curve> after;   ///< none: it is gone
  bool other_axis = false;      ///< `after` stood elsewhere; here it is read off at before's points
  std::size_t changed = 0;      ///< points that differ
  std::optional<PointDifference> largest;  ///< by its amount, up or down

  bool any() const { return before.has_value() != after.has_value() || other_axis || changed > 0; }
};

struct SettingDifference {
  SettingWhat what = SettingWhat::injector_flow;
  std::optional<double> before;
  std::optional<double> after;
};

/// Every table of either, in the order of TableWhat; those that are equal are left out.
std::vector<TableDifference> differences(const Calibration& before, const Calibration& after);

CurveDifference difference(CurveWhat what, const Curve* before, const Curve* after);
/// Those curves and settings that are not equal, in the order of CurveWhat and SettingWhat.
std::vector<CurveDifference> curve_differences(const Calibration& before, const Calibration& after);
std::vector<SettingDifference> setting_differences(const Calibration& before,
                                                   const Calibration& after);

}  // namespace fuelwright::car
