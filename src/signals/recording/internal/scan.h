/// Scanner: the bytes of a delimited text file become columns of doubles, NaN for gaps.
///
/// It knows files, not cars: separator (comma, semicolon, tab), decimal comma, byte order mark,
/// line ends, quotes, header with units in brackets, a row of units, gaps, torn last line. What a
/// column means is decided elsewhere. Linear in time; needs the bytes and the decoded columns,
/// nothing else that grows with the file.
#pragma once

#include <cstddef>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "base/result.h"

namespace fuelwright::signals {

struct CsvColumn {
  std::string header;  ///< without the unit, UTF-8
  std::string unit;    ///< from brackets or the row of units; empty if none
  bool text = false;   ///< holds words, not numbers: no values
  std::vector<double> value;
};

struct CsvTable {
  std::string name;
  char separator = ',';
  bool decimal_comma = false;
  std::size_t rows = 0;
  std::vector<CsvColumn> columns;
  std::vector<std::size_t> breaks;  ///< rows before which the file starts again (header repeated)
  std::vector<std::string> warnings;
  /// (row, line) wherever a row's line is not the line after the row before.
  std::vector<std::pair<std::size_t, std::size_t>> line_marks;

  /// The line (from 1) on which a row stands.
  std::size_t line_of(std::size_t row) const;
};

/// Gaps: an empty cell, -, --, n/a, NA, NaN, null, none, without case.
///
/// Errors, each naming file:line: no header, no columns, no rows, a cell that is no number in a
/// column of numbers (naming the channel), wrong number of cells, a quote that is not closed,
/// decimal points mixed with decimal commas. A torn last line is left out with a warning: it has no
/// line end, so its last number may be cut short.
Result<CsvTable> scan_csv(std::string_view bytes, std::string_view name);

}  // namespace fuelwright::signals
