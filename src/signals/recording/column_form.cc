#include "signals/recording/internal/column_form.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <limits>
#include <map>
#include <string>
#include <utility>
#include <vector>

#include "base/units/number.h"
#include "signals/recording/internal/cells.h"

namespace fuelwright::signals {
namespace {

constexpr std::size_t kSampleRows = 200;
constexpr double kDay = 86400;

struct Seen {
  std::size_t numbers = 0;
  std::size_t clocks = 0;
  std::size_t words = 0;
  std::map<std::string, std::size_t> suffixes;
};

void look(std::string_view cell, bool allow_comma, Seen& seen) {
  std::string suffix;
  switch (form_of(cell, allow_comma, suffix)) {
    case CellForm::number:
      ++seen.numbers;
      break;
    case CellForm::suffixed:
      ++seen.suffixes[suffix];
      break;
    case CellForm::clock:
      ++seen.clocks;
      break;
    case CellForm::text:
      ++seen.words;
      break;
    case CellForm::unseen:
      break;
  }
}

// The commonest form; several units in one column are words unless all of them are known.
CellForm judge(const Seen& seen, std::string& suffix) {
  std::size_t suffixed = 0;
  std::size_t most = 0;
  bool known = true;
  for (const auto& [text, times] : seen.suffixes) {
    suffixed += times;
    known = known && !find_units(text).empty();
    if (times > most) suffix = text;
    most = std::max(most, times);
  }
  const std::size_t all = seen.numbers + seen.clocks + seen.words + suffixed;
  if (all == 0) return CellForm::unseen;
  if (seen.clocks * 2 > all) return CellForm::clock;
  if (suffixed * 2 > all && (seen.suffixes.size() == 1 || known)) return CellForm::suffixed;
  return seen.numbers * 2 >= all ? CellForm::number : CellForm::text;
}

bool same_unit(const std::string& a, const std::string& b) {
  if (a == b) return true;
  const auto units = find_units(a);
  const auto others = find_units(b);
  return std::ranges::any_of(units, [&](const UnitInfo& u) {
    return std::ranges::any_of(others, [&](const UnitInfo& v) {
      return u.kind == v.kind && u.factor == v.factor && u.offset == v.offset;
    });
  });
}

double days_at(const CsvColumn& column, std::size_t span, DateOrder order) {
  std::int64_t days = 0;
  std::int64_t first = 0;
  days_of(column.dates.front().second, order, first);
  days_of(column.dates[span].second, order, days);
  return static_cast<double>(days - first);
}

bool all_days_exist(const CsvColumn& column, DateOrder order) {
  std::int64_t days = 0;
  return std::ranges::all_of(column.dates,
                             [&](const auto& d) { return days_of(d.second, order, days); });
}

// Does it matter which of the two numbers is the day?
bool differs(const CsvColumn& column) {
  for (std::size_t i = 1; i < column.dates.size(); ++i) {
    if (days_at(column, i, DateOrder::day_first) != days_at(column, i, DateOrder::month_first))
      return true;
  }
  return false;
}

void add_days(const CsvColumn& dates, DateOrder order, CsvColumn& clock) {
  for (std::size_t i = 0; i < dates.dates.size(); ++i) {
    const std::size_t last =
        i + 1 < dates.dates.size() ? dates.dates[i + 1].first : clock.value.size();
    const double seconds = days_at(dates, i, order) * kDay;
    for (std::size_t row = dates.dates[i].first; row < last; ++row) clock.value[row] += seconds;
  }
}

// A clock without a date begins again at midnight.
void pass_midnight(CsvColumn& clock) {
  double last = std::numeric_limits<double>::quiet_NaN();
  double days = 0;
  for (double& v : clock.value) {
    if (std::isnan(v)) continue;
    if (v < last - kDay / 2) days += kDay;
    last = v;
    v += days;
  }
}

Status place_dates(CsvTable& table, const CsvColumn& dates, CsvColumn& clock,
                   std::optional<DateOrder> order) {
  const bool day_first = all_days_exist(dates, DateOrder::day_first);
  const bool month_first = all_days_exist(dates, DateOrder::month_first);
  if (!day_first && !month_first) {
    return Error{
        ErrorCode::bad_input, table.name,
        fmt::format("channel \"{}\" holds a day that is not in the calendar", dates.header)};
  }
  if (!order && day_first && month_first && differs(dates)) {
    clock.day_order_unclear = true;
  }
  DateOrder chosen = order.value_or(DateOrder::day_first);
  if (day_first != month_first) chosen = day_first ? DateOrder::day_first : DateOrder::month_first;
  add_days(dates, chosen, clock);
  return Done{};
}

}  // namespace

CellForm form_of(std::string_view cell, bool allow_comma, std::string& suffix) {
  const Cell read = read_cell(cell, allow_comma);
  if (read.kind == CellKind::gap) return CellForm::unseen;
  if (read.kind == CellKind::number) return CellForm::number;
  const std::string text = unquoted(cell);
  if (read_clock(text).ok) return CellForm::clock;
  suffix = to_utf8(read.suffix);
  return looks_like_unit(suffix) ? CellForm::suffixed : CellForm::text;
}

Status set_form(CsvTable& table, std::size_t index, CellForm form, const std::string& suffix) {
  CsvColumn& c = table.columns[index];
  c.form = form;
  if (form == CellForm::text) {
    c.text = true;
    c.value.clear();
    table.warnings.push_back(
        fmt::format("\"{}\" holds words, not numbers; it was not read", c.header));
  } else if (form == CellForm::clock) {
    c.clock = true;
    c.unit.assign(1, 's');
  } else if (form == CellForm::suffixed) {
    if (!c.unit.empty() && !same_unit(c.unit, suffix)) {
      return Error{ErrorCode::bad_input, table.name,
                   fmt::format("channel \"{}\": the header says {}, the cells say {}", c.header,
                               c.unit, suffix)};
    }
    c.suffix = suffix;
    c.unit = suffix;
  }
  return Done{};
}

Status find_forms(CsvTable& table, const HeaderFound& found) {
  std::vector<Seen> seen(table.columns.size());
  const bool allow_comma = table.separator != ',';
  std::vector<std::string_view> cells;
  std::string_view rest = found.data;
  for (std::size_t n = 0; n < kSampleRows && !rest.empty(); ++n) {
    const TextRecord next = next_record(rest, found.line_end);
    if (!next.ended || next.text == found.header_line || next.text == found.units_line) continue;
    if (trimmed(next.text).empty()) continue;
    cut(next.text, table.separator, cells);
    for (std::size_t i = 0; i < std::min(cells.size(), seen.size()); ++i) {
      look(cells[i], allow_comma, seen[i]);
    }
  }
  for (std::size_t i = 0; i < seen.size(); ++i) {
    std::string suffix;
    const CellForm form = judge(seen[i], suffix);
    FW_CHECK(set_form(table, i, form, suffix));
  }
  return Done{};
}

Status finish_clocks(CsvTable& table, std::optional<DateOrder> order) {
  CsvColumn* date = nullptr;
  for (CsvColumn& c : table.columns) {
    if (c.form != CellForm::clock || c.dates.empty()) continue;
    const bool alone = std::ranges::all_of(c.value, [](double v) { return !(v > 0); });
    if (alone && date == nullptr) date = &c;
  }
  for (CsvColumn& c : table.columns) {
    if (c.form != CellForm::clock || &c == date) continue;
    if (!c.dates.empty()) {
      FW_CHECK(place_dates(table, c, c, order));
    } else if (date != nullptr) {
      FW_CHECK(place_dates(table, *date, c, order));
      date->text = true;
      table.warnings.push_back(fmt::format("the days of \"{}\" were added to the clock of \"{}\"",
                                           date->header, c.header));
    } else {
      pass_midnight(c);
    }
    if (c.two_parts) {
      table.warnings.push_back(fmt::format(
          "\"{}\" holds readings of two parts, taken for minutes and seconds", c.header));
    }
  }
  if (date != nullptr && !date->text) {
    date->text = true;
    date->value.clear();
    table.warnings.push_back(fmt::format("\"{}\" holds days alone; it was not read", date->header));
  } else if (date != nullptr) {
    date->value.clear();
  }
  return Done{};
}

}  // namespace fuelwright::signals
