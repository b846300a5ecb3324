/// Tables in ASAM CDF 2.0 (.cdfx): calibration data as XML, for other calibration chains.
///
/// An instance is a scalar, a curve, a map or something else, with physical values and a unit. A
/// map holds one group of values per y point, labelled with it; values run along x. Source: ASAM
/// MCD-2 CDF 2.0 (open standard), its public demonstration files (element names and order; from
/// memory where the standard's text is not at hand).
///
/// Pure: text in, text out. No document type, entity or other file is ever loaded; depth, size and
/// counts are bounded. What this program cannot use (texts, variants, unknown categories) is read
/// as far as it goes and kept with a word on why, so that one odd instance does not spoil a file.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "car/tables/calibration.h"
#include "car/tables/table_text.h"

namespace fuelwright::car {

enum class CdfKind { value, curve, map, block, axis, text, other };

struct CdfAxis {
  std::string unit;
  std::string instance;             ///< the common axis it stands for; empty if none
  std::vector<std::string> values;  ///< physical values as written
};

struct CdfInstance {
  std::string name;
  std::string long_name;
  std::string category;  ///< as written
  CdfKind kind = CdfKind::other;
  std::string unit;
  std::vector<CdfAxis> axes;                     ///< x, y
  std::vector<std::vector<std::string>> values;  ///< one row per y point, as written
  std::string unusable;                          ///< why it is no table of numbers; else empty
};

/// Every instance, in the file's order. Latin-1 and UTF-8 are read, values direct or in one
/// variant. Errors: bad_input (no XML, no CDF); too_large (over 16 MiB, 64 levels, 1,000,000
/// values).
Result<std::vector<CdfInstance>> read_cdf(std::string_view bytes);

/// A map as a table. Speed may stand along either axis. The load axis is what the long name says
/// ("manifold vacuum"), else reading.load, else reading.axes; its unit is the file's, else
/// reading.y_unit. Errors: bad_input, unknown_unit, out_of_range naming the instance; needs_answer
/// if the meaning of the load axis or a unit is not said.
Result<ReadTable> table_of(const CdfInstance& instance, const TextReading& reading);

/// An instance over one axis as a curve, and one number as a setting. Units are the file's; a value
/// without one is taken in the unit that write_cdf() would give it. Errors as table_of().
Result<Curve> curve_of(const CdfInstance& instance, CurveWhat what);
Result<double> setting_of(const CdfInstance& instance, SettingWhat what);

/// All of a calibration, or one part, as a file: tables as maps, curves and single values. Values
/// in % (lambda as it is, spark in deg), axes in rpm, kPa, %, degC, V and kPa/s. Every number reads
/// back to the same double. How values came about has no place in the standard and is not written.
std::string write_cdf(const Calibration& calibration, std::optional<What> only = {});

}  // namespace fuelwright::car
