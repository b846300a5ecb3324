/// Scanner: the bytes of a delimited text file become columns of doubles, NaN for gaps.
///
/// It knows files, not cars: separator (comma, semicolon, tab, bar, aligned blanks), decimal comma,
/// byte order mark, line ends, quotes, header with units in brackets, a row of units, units behind
/// the numbers, clock readings and dates, gaps, sessions one after another, torn last line. What a
/// column means is decided elsewhere. Linear in time; needs the bytes and the decoded columns,
/// nothing else that grows with the file.
#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "base/result.h"
#include "signals/recording/internal/clock.h"

namespace fuelwright::signals {

/// What the cells of a column hold.
enum class CellForm {
  unseen,    ///< only gaps so far
  number,    ///< numbers
  suffixed,  ///< numbers with a unit behind each
  clock,     ///< clock readings, dates, or both
  text,      ///< words
};

struct CsvColumn {
  std::string header;  ///< without the unit, UTF-8
  std::string unit;    ///< from brackets, the row of units or the cells; empty if none
  std::optional<std::string> header_unit;  ///< from the header alone; none where there is no text
  bool text = false;   ///< holds words, or a date that another column has taken in: no values
  bool clock = false;  ///< holds clock readings; the values are seconds
  std::vector<double> value;
  CellForm form = CellForm::unseen;
  std::string suffix;                                   ///< of the cells, as written
  std::vector<std::pair<std::size_t, DateCell>> dates;  ///< rows from which a date holds
  bool two_parts = false;                               ///< some cell is "12:34"
  bool day_order_unclear = false;  ///< its dates may be read in two ways of different seconds
};

struct CsvTable {
  std::string name;
  const char* row_word = "line";  ///< what the file calls a row, for messages
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
/// day_order: for dates such as 4.5.2026 that do not show it themselves.
/// Errors, each naming file:line: no header, no columns, no rows, a cell that is no number in a
/// column of numbers (naming the channel), wrong number of cells, a quote that is not closed,
/// decimal points mixed with decimal commas. A torn last line is left out with a warning: it has no
/// line end, so its last number may be cut short.
Result<CsvTable> scan_csv(std::string_view bytes, std::string_view name,
                          std::optional<DateOrder> day_order = {});

}  // namespace fuelwright::signals
