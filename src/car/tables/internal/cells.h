/// Pasted text as cells, and cells as numbers: separators, quotes, decimal marks, thousands marks.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "base/result.h"
#include "base/units/number.h"

namespace fuelwright::car::internal {

/// The most that is looked at: more than any table with 64 by 64 breakpoints needs [bytes].
inline constexpr std::size_t kLargestTableText = std::size_t{1} << 20U;

struct Cells {
  std::vector<std::vector<std::string>> rows;  ///< every row has the same number of cells
  std::vector<std::size_t> line;               ///< the row's place in the text, from 1
  char decimal = '.';                          ///< see find_decimal_mark()

  std::size_t row_count() const { return rows.size(); }
  std::size_t column_count() const { return rows.empty() ? 0 : rows[0].size(); }
  /// "row 3, column 5"
  std::string place(std::size_t r, std::size_t c) const;
};

/// Separator: tab, else semicolon, else comma; cells may be quoted as in RFC 4180. Blank lines are
/// left out, and so are separators at the end of every line. `decimal_comma`: a comma is never the
/// separator. Errors: bad_input if it is empty, ragged, or a quote is not closed; too_large.
Result<Cells> split_cells(std::string_view text, bool decimal_comma);

/// Sets cells.decimal from what the cells themselves show: "55,5", "1.234,5", "1 234.5". A cell as
/// "1,500" alone says nothing; among the values of a table (the cells from row `first`, column
/// `first`) it can only be 1.5, in the first row it may be either. Errors: needs_answer; bad_input
/// if the cells contradict each other.
Status find_decimal_mark(Cells& cells, std::size_t first, std::optional<char> told);

/// bad_input naming the first cell that a spreadsheet would compute: = + - @ and then no number.
Status refuse_formulas(const Cells& cells);

/// Whether the cell is a number, with any marks. A formula is none.
bool looks_like_number(const std::string& cell);

/// The cell as plain digits with a decimal point. Errors: bad_input naming row and column.
Result<std::string> plain_number(const Cells& cells, std::size_t r, std::size_t c);
/// The cell times 10^shift, rounded once; or in a unit, as SI.
Result<double> number_at(const Cells& cells, std::size_t r, std::size_t c, int shift = 0);
Result<double> number_at(const Cells& cells, std::size_t r, std::size_t c, const UnitInfo& unit);

}  // namespace fuelwright::car::internal
