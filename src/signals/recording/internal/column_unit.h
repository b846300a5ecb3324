/// Column units: how the numbers of one column become SI, and which unit a column without one may
/// have.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "base/result.h"
#include "car/fuel/mixture.h"
#include "signals/channels/quantity.h"
#include "signals/recording/recording.h"

namespace fuelwright::signals {

/// SI = value * factor + offset; lambda = 1 / value for an equivalence ratio.
struct ColumnUnit {
  std::string text;  ///< as shown and as written in an answer: "kPa", "% around 100", "afr 14.7"
  double factor = 1;
  double offset = 0;
  bool reciprocal = false;
  std::optional<car::MixtureScale> scale;

  double si(double found) const { return reciprocal ? 1.0 / found : found * factor + offset; }
};

/// What an answer writes for the unit of clock readings whose dates can be read in two ways.
inline constexpr std::string_view kDayFirst = "day first";
inline constexpr std::string_view kMonthFirst = "month first";

/// The unit of a quantity by its text. A correction becomes a relative change of fuel: +5 % around
/// 0, 105 % around 100 and a factor of 1.05 all say +0.05 (recordings.5). Errors: unknown_unit
/// (with those known), needs_answer (an AFR without its constant, a gauge without the ambient).
Result<ColumnUnit> unit_of(Quantity what, std::string_view text, const Answers& answers);

/// True if the text is a unit of this quantity, whatever else must still be known.
bool is_unit_of(Quantity what, std::string_view text);

/// What is found in a column, over a sample and over all rows.
struct Stats {
  std::size_t filled = 0;
  double lowest = 0;
  double highest = 0;
  double low = 0;   ///< 1st percentile
  double mid = 0;   ///< median
  double high = 0;  ///< 99th percentile
  bool constant = false;
  bool whole = false;          ///< whole numbers only
  bool j1979_percent = false;  ///< multiples of 100/255, as SAE J1979 scales a percentage
  bool j1979_trim = false;     ///< multiples of 100/128, as it scales a trim
  double typical_step = 0;     ///< median change from row to row, among changes
  double falling = 0;          ///< share of the row-to-row differences that fall
};
Stats stats_of(const std::vector<double>& values);

/// What other columns tell about the unit of one without.
struct Neighbours {
  bool named_equivalence = false;  ///< this column is called an equivalence ratio
  bool j1979 = false;  ///< some column of this file bears the steps in which SAE J1979 counts
  std::optional<std::string> temperature_unit;  ///< settled for another temperature of this file
  std::string temperature_header;
  /// Median of engine speed times manifold pressure over the rows in which this column is filled
  /// [rpm Pa], for air flow: value over this times 120 R T is the swept volume times volumetric
  /// efficiency (recordings.2).
  std::optional<double> air_per_flow;
};

/// The unit chosen for a column, or what is unclear about it.
struct UnitChoice {
  std::optional<ColumnUnit> unit;
  double doubt = 1;  ///< the doubt about the quantity is multiplied by this: below 1 supports it
  std::string reason;
  std::string unclear;               ///< set when only the user can tell
  std::vector<std::string> options;  ///< units to offer
};
/// A column that gives its unit. Units of two meanings (kPa absolute or gauge, % around 0 or 100)
/// go by the range.
UnitChoice choose_given(Quantity what, const std::string& unit, const Stats& stats,
                        const Answers& answers);
/// A column that gives none: taken only if the range (or a neighbour) leaves one unit standing.
UnitChoice choose_by_range(Quantity what, const Stats& stats, const Neighbours& near,
                           const Answers& answers);

}  // namespace fuelwright::signals
