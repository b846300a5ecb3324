/// Tables as text that every spreadsheet pastes: first row = corner and x axis, first column = y
/// axis.
///
///   kPa \ rpm   800    1200   1600
///   30          55.0   58.5   61.0
///   60          68.0   72.5   75.0
///
/// Written with tabs (the clipboard), or commas (a file). VE and corrections stand in %, lambda as
/// it is. Numbers are written with as many digits as they have, so that what was written reads back
/// to the same double.
#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "car/tables/calibration.h"

namespace fuelwright::car {

enum class TextForm { tsv, csv };

/// Metric or US shop units on the axes (kPa stays kPa in both: the trade reads MAP in kPa; vacuum
/// is inHg in US).
std::string write_table(const Surface& surface, TableWhat what, TextForm form, UnitSystem system);

/// A curve: two columns, breakpoint and value, each headed by what it is and its unit.
std::string write_curve(const Curve& curve, CurveWhat what, TextForm form, UnitSystem system);

/// A cell of words. One that a spreadsheet would take for a formula (= + - @ first) is quoted, with
/// an apostrophe before it, which spreadsheets read as "text".
std::string text_cell(std::string_view words, TextForm form);

/// A node of a grid by its numbers along the axes.
struct NodePlace {
  std::size_t ix = 0;
  std::size_t iy = 0;
};

/// What the reader must be told when the text does not say it.
struct TextReading {
  TableWhat what = TableWhat::ve;
  std::optional<AxisKind> load;       ///< what stands along y, if the corner cell does not say
  std::optional<std::string> x_unit;  ///< default rpm
  std::optional<std::string> y_unit;  ///< "kPa", "inHg", "%"
  std::optional<Grid> axes;     ///< axes to use when the text has none, or to match units against
  std::optional<char> decimal;  ///< ',' or '.'; default: as the cells show
  std::optional<NodePlace> at;  ///< of axes: where the first cell of a block without axes belongs
  bool whole = false;           ///< a block without axes must be the whole table
  bool last_row_first = false;  ///< a block without axes begins with the last breakpoint of y
};

struct ReadTable {
  Surface surface;
  bool had_axes = true;
  std::string note;       ///< how values were understood: "values read as %"
  std::string axes_note;  ///< how axes were: "engine speed in rpm, manifold vacuum in inHg"
};

/// Reads a pasted table. Separator: tab, else semicolon, else comma (then the decimal mark is the
/// point); with tab or semicolon a decimal comma is read. Thousands may be parted by blanks of any
/// kind, apostrophes, or the mark that is not the decimal one. A block without axes is taken if its
/// size equals reading.axes, or if reading.at says where it begins. A y axis without a unit takes
/// the one unit in which its numbers are those of reading.axes. Errors: bad_input with row and
/// column ("row 3, column 5: \"abc\" is not a number"), formulas among them; needs_answer if the
/// load axis' meaning or unit, the decimal mark or the place of a block is not said; out_of_range
/// for values or axes that cannot be; too_large.
Result<ReadTable> read_table(std::string_view text, const TextReading& reading);

}  // namespace fuelwright::car
