/// Number scanner: the fast road from the characters of a cell to the nearest double.
///
/// Numbers of at most 15 significant digits and 22 decimals, nearly all that loggers write, are the
/// quotient of two integers that doubles hold exactly, so one division rounds them rightly
/// (Clinger, "How to Read Floating Point Numbers Accurately", 1990, section 3). All others go to
/// std::from_chars, which is exact as well.
#pragma once

#include <array>
#include <cstdint>

namespace fuelwright::signals {

struct ScannedNumber {
  const char* end = nullptr;  ///< behind the number; nullptr if this road does not take it
  double value = 0;
  bool point = false;
  bool comma = false;
  bool thousands = false;  ///< "1,234": the comma may mark thousands
};

/// Reads [+-]digits[mark digits] at `p`. The characters up to a line end must be readable: the scan
/// stops at the first that does not belong. No number, an exponent or more digits: end is nullptr.
[[gnu::always_inline]] inline ScannedNumber scan_number(const char* p, bool allow_comma) {
  constexpr int kMostDigits = 15;
  constexpr std::array<double, 16> kPower = {1e0, 1e1, 1e2,  1e3,  1e4,  1e5,  1e6,  1e7,
                                             1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15};
  ScannedNumber out;
  const bool minus = *p == '-';
  if (minus || *p == '+') ++p;
  std::uint64_t digits = 0;
  const char* const first = p;
  unsigned d = static_cast<unsigned char>(*p) - unsigned{'0'};
  while (d < 10 && p - first <= kMostDigits) {
    digits = digits * 10 + d;
    d = static_cast<unsigned char>(*++p) - unsigned{'0'};
  }
  const auto whole = static_cast<int>(p - first);
  int decimals = 0;
  if (*p == '.' || (allow_comma && *p == ',')) {
    out.comma = *p == ',';
    out.point = !out.comma;
    const char* const mark = ++p;
    d = static_cast<unsigned char>(*p) - unsigned{'0'};
    while (d < 10 && p - mark <= kMostDigits) {
      digits = digits * 10 + d;
      d = static_cast<unsigned char>(*++p) - unsigned{'0'};
    }
    decimals = static_cast<int>(p - mark);
    out.thousands = out.comma && decimals == 3 && whole >= 1 && whole <= 3 && *first != '0';
  }
  const int all = whole + decimals;
  if (all == 0 || all > kMostDigits || d < 10 || *p == 'e' || *p == 'E') return out;
  const double value = static_cast<double>(static_cast<std::int64_t>(digits)) /
                       kPower[static_cast<std::size_t>(decimals)];
  out.value = minus ? -value : value;
  out.end = p;
  return out;
}

}  // namespace fuelwright::signals
