#include "signals/recording/internal/clock.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <optional>
#include <utility>

#include "signals/recording/internal/cells.h"

namespace fuelwright::signals {
namespace {

constexpr double kMinute = 60;
constexpr double kHour = 3600;

bool digit(char c) { return c >= '0' && c <= '9'; }

// Digits at the front; nullopt if there are none or more than `most`.
std::optional<int> take_int(std::string_view& s, std::size_t most) {
  std::size_t n = 0;
  int value = 0;
  while (n < s.size() && digit(s[n])) {
    if (n == most) return std::nullopt;
    value = value * 10 + (s[n++] - '0');
  }
  if (n == 0) return std::nullopt;
  s.remove_prefix(n);
  return value;
}

bool take(std::string_view& s, char c) {
  if (s.empty() || s.front() != c) return false;
  s.remove_prefix(1);
  return true;
}

// ".789", ",789"; a colon before thousandths too: "12:34:56:789".
double take_fraction(std::string_view& s) {
  double value = 0;
  double place = 0.1;
  while (!s.empty() && digit(s.front())) {
    value += place * (s.front() - '0');
    place /= 10;
    s.remove_prefix(1);
  }
  return value;
}

// "Z", "+02:00", "+0200", "-05" behind a date: one zone in a file, so it changes no difference.
bool take_zone(std::string_view& s) {
  if (take(s, 'Z') || take(s, 'z')) return true;
  if (s.empty() || (s.front() != '+' && s.front() != '-')) return true;
  s.remove_prefix(1);
  if (!take_int(s, 4)) return false;
  return !take(s, ':') || take_int(s, 2).has_value();
}

// Hours of a twelve-hour clock.
bool take_half_day(std::string_view& s, double& seconds) {
  s = trimmed(s);
  if (s.size() < 2) return true;
  const char first = static_cast<char>(s[0] | 0x20);
  if ((first != 'a' && first != 'p') || static_cast<char>(s[1] | 0x20) != 'm') return true;
  s.remove_prefix(2);
  if (seconds >= 13 * kHour || seconds < kHour) return false;
  if (seconds >= 12 * kHour) seconds -= 12 * kHour;
  if (first == 'p') seconds += 12 * kHour;
  return true;
}

bool take_time_of_day(std::string_view& s, ClockCell& out) {
  const auto first = take_int(s, 6);
  if (!first || !take(s, ':')) return false;
  const auto second = take_int(s, 2);
  if (!second || *second > 59) return false;
  if (!take(s, ':')) {  // minutes and seconds
    out.two_parts = true;
    out.seconds = *first * kMinute + *second;
    if (take(s, '.') || take(s, ',')) {
      out.two_parts = false;
      out.seconds += take_fraction(s);
    }
    return true;
  }
  const auto third = take_int(s, 2);
  if (!third || *third > 60) return false;
  out.seconds = *first * kHour + *second * kMinute + *third;
  if (take(s, '.') || take(s, ',') || take(s, ':')) out.seconds += take_fraction(s);
  return true;
}

bool take_date(std::string_view& s, DateCell& date) {
  const std::string_view whole = s;
  const auto one = take_int(s, 4);
  const std::size_t width = whole.size() - s.size();
  if (!one || s.empty()) return false;
  const char mark = s.front();
  if (mark != '-' && mark != '/' && mark != '.') return false;
  s.remove_prefix(1);
  const auto two = take_int(s, 2);
  if (!two || !take(s, mark)) return false;
  const auto three = take_int(s, 4);
  if (!three) return false;
  if (width == 4) {
    date = {*one, *two, *three, true};
  } else if (width <= 2) {
    date = {*three < 100 ? 2000 + *three : *three, *one, *two, false};
  } else {
    return false;
  }
  constexpr int kMostDays = 31;
  return date.a >= 1 && date.b >= 1 && date.a <= kMostDays && date.b <= kMostDays &&
         date.year >= 1970 && date.year < 2200;
}

}  // namespace

ClockCell read_clock(std::string_view text) {
  ClockCell out;
  std::string_view s = trimmed(text);
  std::string_view after = s;
  if (take_date(after, out.date)) {
    out.has_date = true;
    s = after;
    if (s.empty()) {
      out.ok = true;
      return out;
    }
    if (!take(s, 'T') && !take(s, ' ') && !take(s, ',')) return out;
    s = trimmed(s);
  }
  if (!take_time_of_day(s, out)) return out;
  out.has_clock = true;
  if (out.has_date && out.two_parts) {  // a date and "12:34" are hours and minutes
    out.seconds *= kMinute;
    out.two_parts = false;
  }
  if (!take_half_day(s, out.seconds)) return out;
  if (!take_zone(s)) return out;
  out.ok = trimmed(s).empty();
  return out;
}

bool days_of(const DateCell& date, DateOrder order, std::int64_t& days) {
  int month = date.a;
  int day = date.b;
  if (!date.year_first && order == DateOrder::day_first) std::swap(month, day);
  constexpr std::array<int, 12> kLength = {31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
  if (month < 1 || month > 12) return false;
  const bool leap = date.year % 4 == 0 && (date.year % 100 != 0 || date.year % 400 == 0);
  const auto length_of = [&](int m) {
    return kLength[static_cast<std::size_t>(m - 1)] + (m == 2 && leap ? 1 : 0);
  };
  if (day < 1 || day > length_of(month)) return false;
  const int before = date.year - 1;
  days = std::int64_t{365} * before + before / 4 - before / 100 + before / 400 + day;
  for (int m = 1; m < month; ++m) days += length_of(m);
  constexpr std::int64_t kTo1970 = 719163;  // 1970-01-01 counted from 0001-01-01
  days -= kTo1970;
  return true;
}

}  // namespace fuelwright::signals
