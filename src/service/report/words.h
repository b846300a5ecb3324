/// Words and signs that several reports use.
#pragma once

#include <fmt/format.h>

#include <string>

namespace fuelwright::service {

inline constexpr const char* kPlusMinus = "\xC2\xB1";

/// "90 s", "2.5 min", or the number of rows of a recording without time.
inline std::string span(double seconds, bool timed) {
  if (!timed) return fmt::format("{:.0f} rows", seconds);
  return seconds < 120 ? fmt::format("{:.0f} s", seconds) : fmt::format("{:.1f} min", seconds / 60);
}

}  // namespace fuelwright::service
