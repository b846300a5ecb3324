#include "sim/virtual_car/cycle.h"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <cmath>
#include <optional>
#include <string>

namespace fuelwright::sim::virtual_car {
namespace {

constexpr std::size_t kMostPoints = 100000;
constexpr double kFastest_mps = 100;

std::string_view trimmed(std::string_view text) {
  while (!text.empty() && (text.front() == ' ' || text.front() == '\t')) text.remove_prefix(1);
  while (!text.empty() && (text.back() == ' ' || text.back() == '\t' || text.back() == '\r')) {
    text.remove_suffix(1);
  }
  return text;
}

std::string_view next_cell(std::string_view& line) {
  const auto comma = line.find(',');
  const std::string_view cell = trimmed(line.substr(0, comma));
  line.remove_prefix(comma == std::string_view::npos ? line.size() : comma + 1);
  return cell;
}

std::optional<double> number_in(std::string_view cell) {
  double value = 0;
  const auto [end, error] = std::from_chars(cell.data(), cell.data() + cell.size(), value);
  if (error != std::errc{} || end != cell.data() + cell.size() || !std::isfinite(value)) {
    return std::nullopt;
  }
  return value;
}

/// One of the unit in m/s.
std::optional<double> unit_in(std::string_view header) {
  std::string name;
  for (const char c : header) {
    name += static_cast<char>(c >= 'A' && c <= 'Z' ? c - 'A' + 'a' : c);
  }
  const auto has = [&name](const char* word) { return name.find(word) != std::string::npos; };
  if (has("mph")) return (1.0 * mile_per_h).si;
  if (has("km/h") || has("kmh") || has("kph")) return (1.0 * km_per_h).si;
  if (has("mps") || has("m/s") || has("m_per_s")) return 1.0;
  return std::nullopt;
}

}  // namespace

Speed Cycle::speed_at(Duration time) const {
  if (time_s.empty()) return {};
  const auto above = std::ranges::upper_bound(time_s, time.si);
  if (above == time_s.begin()) return {speed_mps.front()};
  if (above == time_s.end()) return {speed_mps.back()};
  const auto i = static_cast<std::size_t>(above - time_s.begin());
  const double part = (time.si - time_s[i - 1]) / (time_s[i] - time_s[i - 1]);
  return {speed_mps[i - 1] + part * (speed_mps[i] - speed_mps[i - 1])};
}

Result<Cycle> read_cycle(std::string_view text, std::string_view file_name) {
  Cycle cycle;
  std::optional<double> unit;
  bool has_header = false;
  int number = 0;
  const auto error = [&](ErrorCode code, const std::string& message) {
    return Error{code, fmt::format("{}:{}", file_name, number), message};
  };
  while (!text.empty()) {
    const auto end = text.find('\n');
    std::string_view line = trimmed(text.substr(0, end));
    text.remove_prefix(end == std::string_view::npos ? text.size() : end + 1);
    ++number;
    if (line.empty() || line.front() == '#') continue;
    const std::string_view first = next_cell(line), second_cell = next_cell(line);
    const auto time = number_in(first), speed = number_in(second_cell);
    if (!has_header) {
      has_header = true;
      unit = unit_in(second_cell);
      if (time || !unit) {
        return error(ErrorCode::needs_answer,
                     fmt::format("\"{}\" names no unit of speed; expected a header such as "
                                 "time_s,speed_mps or speed_kmh or speed_mph",
                                 second_cell.substr(0, 40)));
      }
      continue;
    }
    if (!time || !speed) {
      return error(ErrorCode::bad_input,
                   fmt::format("\"{}\" came; expected time in seconds and speed, two numbers",
                               std::string(first.substr(0, 30)) + "," +
                                   std::string(second_cell.substr(0, 30))));
    }
    const double mps = *speed * *unit;
    if (!(mps >= 0 && mps <= kFastest_mps)) {
      return error(ErrorCode::out_of_range, fmt::format("speed {} came; expected 0 to {:.0f}",
                                                        *speed, kFastest_mps / *unit));
    }
    if (!cycle.time_s.empty() && !(*time > cycle.time_s.back())) {
      return error(ErrorCode::out_of_range,
                   fmt::format("time {} does not come after {}", *time, cycle.time_s.back()));
    }
    cycle.time_s.push_back(*time);
    cycle.speed_mps.push_back(mps);
    if (cycle.time_s.size() > kMostPoints) {
      return error(ErrorCode::too_large, fmt::format("more than {} points", kMostPoints));
    }
  }
  if (cycle.time_s.size() < 2) {
    return error(ErrorCode::bad_input, "fewer than two points; expected time and speed");
  }
  const double start = cycle.time_s.front();
  for (double& t : cycle.time_s) t -= start;
  return cycle;
}

}  // namespace fuelwright::sim::virtual_car
