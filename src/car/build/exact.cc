#include "car/build/internal/exact.h"

#include <fmt/format.h>

#include <cmath>
#include <limits>

namespace fuelwright::car {
namespace {

// The units of a kind, commonest first; plain numbers have one, the empty one.
std::vector<UnitInfo> units_for(Kind kind) {
  if (kind == Kind::ratio || kind == Kind::count) return {{"", kind, 1, 0}};
  std::vector<UnitInfo> out;
  const std::string all = units_of(kind);
  for (std::size_t from = 0; from < all.size();) {
    const auto to = std::min(all.find(", ", from), all.size());
    if (auto unit = find_unit(all.substr(from, to - from), kind)) out.push_back(*unit);
    from = to + 2;
  }
  return out;
}

std::optional<std::string> in_unit(double si, const UnitInfo& unit) {
  return exact_text((si - unit.offset) / unit.factor, si,
                    [&](double value) { return value * unit.factor + unit.offset; });
}

InUnit best(double si, const std::vector<UnitInfo>& units) {
  std::optional<InUnit> out;
  for (const UnitInfo& unit : units) {
    const auto text = in_unit(si, unit);
    if (text && (!out || text->size() < out->number.size())) out = InUnit{*text, unit.symbol};
  }
  if (out) return *out;
  return {fmt::format("{}", (si - units[0].offset) / units[0].factor), units[0].symbol};
}

}  // namespace

std::optional<std::string> exact_text(double guess, double target,
                                      const std::function<double(double)>& convert) {
  if (!std::isfinite(guess)) return std::nullopt;
  // Fifteen digits restore what a person typed (4.03), sixteen and seventeen what a program
  // computed.
  for (int digits = 15; digits <= 17; ++digits) {
    const double rounded = parse_double(fmt::format("{:.{}g}", guess, digits)).value_or(guess);
    if (convert(rounded) == target) return fmt::format("{}", rounded);
  }
  constexpr int kNeighbours = 8;
  double up = guess;
  double down = guess;
  for (int i = 0; i < kNeighbours; ++i) {
    up = std::nextafter(up, std::numeric_limits<double>::infinity());
    down = std::nextafter(down, -std::numeric_limits<double>::infinity());
    if (convert(up) == target) return fmt::format("{}", up);
    if (convert(down) == target) return fmt::format("{}", down);
  }
  return std::nullopt;
}

InUnit exact_in_unit(double si, Kind kind) { return best(si, units_for(kind)); }

InUnit exact_step(double step, Kind kind, const std::string& preferred_unit) {
  const Kind step_kind = kind == Kind::temperature ? Kind::temperature_step : kind;
  std::vector<UnitInfo> units = units_for(step_kind);
  for (UnitInfo& unit : units) unit.offset = 0;
  constexpr std::size_t kTidy = 8;
  for (const UnitInfo& unit : units) {  // the value's own unit, if that makes a tidy number
    if (unit.symbol != preferred_unit) continue;
    if (const auto text = in_unit(step, unit); text && text->size() <= kTidy)
      return {*text, unit.symbol};
  }
  return best(step, units);
}

std::optional<std::vector<InUnit>> exact_list(const std::vector<double>& si, Kind kind) {
  std::optional<std::vector<InUnit>> shortest;
  std::size_t shortest_length = 0;
  for (const UnitInfo& unit : units_for(kind)) {
    std::vector<InUnit> all;
    std::size_t length = 0;
    for (const double value : si) {
      const auto text = in_unit(value, unit);
      if (!text) break;
      length += text->size();
      all.push_back({*text, unit.symbol});
    }
    if (all.size() == si.size() && (!shortest || length < shortest_length)) {
      shortest = all;
      shortest_length = length;
    }
  }
  return shortest;
}

}  // namespace fuelwright::car
