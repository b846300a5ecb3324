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
  std::size_t data_line = 0;     ///< line number on which `data` starts
  char line_end = '\n';
};

/// Fills the table's separator, columns (names and units) and warnings.
Result<HeaderFound> read_header(std::string_view bytes, CsvTable& table);

}  // namespace fuelwright::signals
