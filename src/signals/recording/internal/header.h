/// Header: finds separator, header line, names and units at the top of a delimited text file.
#pragma once

#include <cstddef>
#include <string_view>
#include <vector>

#include "base/result.h"
#include "signals/recording/internal/scan.h"

namespace fuelwright::signals {

struct HeaderFound {
  std::string_view header_line;  ///< bytes of the header line, to notice it again further down
  std::string_view data;         ///< what follows the header and the row of units
  std::string_view units_line;   ///< bytes of the row of units; empty if there is none
  std::size_t data_line = 0;     ///< line number on which `data` starts
  char line_end = '\n';
};

/// As written before the numbers of the cells: a number, a unit behind it, a clock reading.
bool holds_number(std::string_view cell, bool allow_comma);
/// Could the text be the unit behind a number: letters, "%", "/", a degree sign?
bool looks_like_unit(std::string_view suffix);

/// Fills the table's separator, columns (names and units) and warnings.
Result<HeaderFound> read_header(std::string_view bytes, CsvTable& table);

}  // namespace fuelwright::signals
