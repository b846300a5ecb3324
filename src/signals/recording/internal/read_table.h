/// Table of a file of any known kind, told apart by its first bytes: MDF 4 or delimited text.
#pragma once

#include <optional>
#include <string_view>

#include "signals/recording/internal/column_unit.h"
#include "signals/recording/internal/mdf4.h"
#include "signals/recording/internal/scan.h"

namespace fuelwright::signals {

/// The answers may say whether dates begin with the day or the month.
inline Result<CsvTable> read_table(std::string_view bytes, std::string_view name,
                                   const Answers& answers) {
  if (looks_like_mdf(bytes)) return read_mdf4(bytes, name);
  std::optional<DateOrder> order;
  for (const auto& [header, answer] : answers.channels) {
    if (answer.unit == kDayFirst) order = DateOrder::day_first;
    if (answer.unit == kMonthFirst) order = DateOrder::month_first;
  }
  return scan_csv(bytes, name, order);
}

}  // namespace fuelwright::signals
