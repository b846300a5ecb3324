// Decimal text, exact both ways.
#include "car/tables/internal/decimal.h"

#include <fmt/format.h>

#include <array>
#include <charconv>
#include <cmath>

#include "car/tables/axis_unit.h"
#include "car/tables/internal/shown.h"

namespace fuelwright::car::internal {
namespace {

// 3 for kPa, -2 for %; nullopt if the unit is no power of ten.
std::optional<int> decades(const UnitInfo& unit) {
  const double d = std::log10(unit.factor);
  if (unit.offset != 0 || d != std::round(d)) return std::nullopt;
  return static_cast<int>(std::lround(d));
}

template <class T>
std::optional<T> number_of(std::string_view text) {
  T value = 0;
  const auto end = std::from_chars(text.data(), text.data() + text.size(), value);
  if (end.ec != std::errc{} || end.ptr != text.data() + text.size()) return std::nullopt;
  return value;
}

}  // namespace

std::string shifted(double v, int shift) {
  if (v == 0) return "0";
  std::array<char, 64> buffer{};
  const auto end =
      std::to_chars(buffer.data(), buffer.data() + buffer.size(), v, std::chars_format::scientific);
  const std::string_view text(buffer.data(), static_cast<std::size_t>(end.ptr - buffer.data()));
  const auto e = text.find('e');
  std::string digits(text.substr(0, e));
  const int exponent = number_of<int>(text.substr(e + (text[e + 1] == '+' ? 2 : 1))).value_or(0);
  const bool negative = digits[0] == '-';
  std::erase(digits, '-');
  std::erase(digits, '.');
  int point = 1 + exponent + shift;  // digits before the decimal point
  if (point <= 0) {
    digits.insert(0, static_cast<std::size_t>(1 - point), '0');
    point = 1;
  }
  const auto before = static_cast<std::size_t>(point);
  if (digits.size() < before) digits.append(before - digits.size(), '0');
  std::string out = digits.substr(0, before);
  if (digits.size() > before) out += "." + digits.substr(before);
  return negative ? "-" + out : out;
}

std::optional<double> parse_shifted(std::string_view text, int shift) {
  const auto e = text.find_first_of("eE");
  int exponent = 0;
  if (e != std::string_view::npos) {
    std::string_view rest = text.substr(e + 1);
    if (rest.starts_with('+')) rest.remove_prefix(1);
    const auto read = rest.size() <= 4 ? number_of<int>(rest) : std::nullopt;
    if (!read) return std::nullopt;
    exponent = *read;
  }
  if (e == 0 || text.empty()) return std::nullopt;
  return parse_double(fmt::format("{}e{}", text.substr(0, e), exponent + shift));
}

std::string text_in(double si, const UnitInfo& unit) {
  if (const auto d = decades(unit)) return shifted(si, -*d);
  const double near = (si - unit.offset) / unit.factor;
  std::string text = shifted(near, 0);
  // Not every double is the product of a double and the factor; with the digits of a wider number
  // every one can be reached.
  const long double wide =
      (static_cast<long double>(si) - unit.offset) / static_cast<long double>(unit.factor);
  for (int digits = 17; digits <= 22 && parse_in(text, unit) != si; ++digits) {
    std::array<char, 64> buffer{};
    const auto end = std::to_chars(buffer.data(), buffer.data() + buffer.size(), wide,
                                   std::chars_format::general, digits);
    text.assign(buffer.data(), end.ptr);
  }
  return text;
}

std::optional<double> parse_in(std::string_view text, const UnitInfo& unit) {
  if (const auto d = decades(unit)) return parse_shifted(text, *d);
  const auto wide = parse_double(text) ? number_of<long double>(text) : std::nullopt;
  if (!wide) return std::nullopt;
  return static_cast<double>(*wide * static_cast<long double>(unit.factor) +
                             static_cast<long double>(unit.offset));
}

// No kind of number is a pressure by time; this axis alone has it.
static UnitInfo kilopascal_per_second() { return {"kPa/s", Kind::pressure_step, 1e3, 0}; }

Result<UnitInfo> axis_unit_named(AxisKind kind, std::string_view text) {
  const Kind number = number_kind(kind);
  if (kind == AxisKind::map_rate) {
    if (text == "kPa/s") return kilopascal_per_second();
    if (text == "Pa/s") return UnitInfo{"Pa/s", number, 1, 0};
    return Error{ErrorCode::unknown_unit, label_of(kind),
                 fmt::format("\"{}\" is no unit for it; expected kPa/s or Pa/s", shown(text))};
  }
  if (const auto unit = find_unit(text, number)) return *unit;
  return Error{ErrorCode::unknown_unit, label_of(kind),
               fmt::format("\"{}\" is no unit for it; expected {}", shown(text), units_of(number))};
}

int percent_shift(TableWhat what) {
  return what == TableWhat::ve || what == TableWhat::correction ? 2 : 0;
}

}  // namespace fuelwright::car::internal

namespace fuelwright::car {

UnitInfo axis_unit(AxisKind kind, UnitSystem system) {
  if (kind == AxisKind::throttle) return *find_unit("%", Kind::ratio);
  if (kind == AxisKind::map_rate) return internal::kilopascal_per_second();
  return display_unit(number_kind(kind), system);
}

}  // namespace fuelwright::car
