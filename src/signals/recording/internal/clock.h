/// Clock readings: cells such as "12:34:56.789", "2026-05-04T09:30:00Z", "4.5.2026 9:30:00".
///
/// Only differences between the rows of a file matter, so zones and eras are left out. Whether day
/// or month comes first is kept open until the whole column is known.
#pragma once

#include <cstdint>
#include <string_view>

namespace fuelwright::signals {

/// A date as written. Where `year_first`, a is the month and b the day; else a and b are the first
/// and the second number, in an order that the column must show.
struct DateCell {
  std::int32_t year = 0;
  std::int32_t a = 0;
  std::int32_t b = 0;
  bool year_first = false;
  friend bool operator==(const DateCell&, const DateCell&) = default;
};

struct ClockCell {
  bool ok = false;
  bool has_date = false;
  bool has_clock = false;
  bool two_parts = false;  ///< "12:34": hours and minutes or minutes and seconds (seconds taken)
  DateCell date;
  double seconds = 0;  ///< of the day
};

/// ok is false if the text is neither a clock reading, a date, nor both.
ClockCell read_clock(std::string_view text);

enum class DateOrder { day_first, month_first };
/// Days from 1970-01-01, Gregorian. False if there is no such day.
bool days_of(const DateCell& date, DateOrder order, std::int64_t& days);

}  // namespace fuelwright::signals
