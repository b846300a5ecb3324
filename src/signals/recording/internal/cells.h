/// Cells: cutting one line of delimited text into its cells, and a cell into a number.
#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace fuelwright::signals {

/// The next line, without its end; `rest` moves on. `ended` is false when the bytes stop before a
/// line end.
struct Line {
  std::string_view text;
  bool ended = true;
};
Line next_line(std::string_view& rest, char line_end);

/// The next record: a line, or several where a quoted cell holds line ends. A quote that stays open
/// for more than a screen of lines, or to the end, makes no record: its line stands alone.
struct TextRecord {
  std::string_view text;
  std::size_t lines = 1;
  bool ended = true;
};
TextRecord next_record(std::string_view& rest, char line_end);

/// Without blanks and tabs at both ends.
std::string_view trimmed(std::string_view s);

/// Cuts a line. A quoted cell keeps its quotes in the view (unquoted() removes them). False if a
/// quote stays open.
bool cut_cells(std::string_view line, char separator, std::vector<std::string_view>& cells);
/// Cuts a line of aligned columns at runs of at least `least` blanks.
void cut_aligned(std::string_view line, std::size_t least, std::vector<std::string_view>& cells);
/// Cuts at the separator; a blank means aligned columns.
bool cut(std::string_view line, char separator, std::vector<std::string_view>& cells);
/// Without surrounding quotes, doubled quotes made single, trimmed.
std::string unquoted(std::string_view cell);

enum class CellKind { number, gap, other };
struct Cell {
  CellKind kind = CellKind::gap;
  double value = 0;
  bool point = false;       ///< a decimal point was in it
  bool comma = false;       ///< a decimal comma was in it
  bool thousands = false;   ///< "1,234": the comma may mark thousands
  std::string_view suffix;  ///< what stands behind a number: "kPa" of "61kPa"; kind is other then
};
/// allow_comma: the separator is not a comma, so one in a number is a decimal comma.
Cell read_cell(std::string_view raw, bool allow_comma);

/// UTF-8 as it is; anything else is taken as Latin-1 (a degree sign is one byte there).
std::string to_utf8(std::string_view s);

}  // namespace fuelwright::signals
