/// Column forms: what the cells of each column hold, judged by the first rows; and clock columns
/// made into seconds once all rows are known.
#pragma once

#include <optional>
#include <string_view>

#include "base/result.h"
#include "signals/recording/internal/clock.h"
#include "signals/recording/internal/header.h"
#include "signals/recording/internal/scan.h"

namespace fuelwright::signals {

/// Sets the form of every column, as far as the first rows show it, and warns about words. Errors:
/// bad_input where the unit in the cells is not the unit in the header.
Status find_forms(CsvTable& table, const HeaderFound& found);

/// The form of a column by one cell that is no gap.
CellForm form_of(std::string_view cell, bool allow_comma, std::string& suffix);
/// Takes a form over. Errors as find_forms().
Status set_form(CsvTable& table, std::size_t column, CellForm form, const std::string& suffix);

/// Adds the days to the clock columns; a date in a column of its own is added to the clock beside
/// it. A clock that passes midnight goes on. Errors: bad_input for a day that cannot be.
Status finish_clocks(CsvTable& table, std::optional<DateOrder> order);

}  // namespace fuelwright::signals
