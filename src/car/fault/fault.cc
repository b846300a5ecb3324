#include "car/fault/fault.h"

#include <fmt/format.h>

#include <array>
#include <charconv>
#include <optional>

namespace fuelwright::car {
namespace {

constexpr double kLatest_s = 36000;

using K = FaultKind;
constexpr auto kWords = std::to_array<FaultWords>({
    {K::vacuum_leak, "vacuum_leak", "a hole of 8 % of one cylinder's bore area"},
    {K::exhaust_leak, "exhaust_leak", "8 % of fresh air in the exhaust at idle"},
    {K::dead_injector, "dead_injector", "one injector gives nothing"},
    {K::clogged_injectors, "clogged_injectors", "all injectors flow 25 % less"},
    {K::weak_pump, "weak_pump", "the pump gives 70 % less"},
    {K::lazy_sensor, "lazy_sensor", "the mixture sensor is 12 times as slow"},
    {K::drifting_sensor, "drifting_sensor", "the mixture sensor reads 1 % leaner every minute"},
    {K::stuck_map, "stuck_map", "the pressure reading does not move"},
    {K::map_offset, "map_offset", "the pressure reading is 15 kPa too high"},
    {K::coolant_sensor, "coolant_sensor", "the coolant reading is 60 K too cold"},
    {K::intake_sensor, "intake_sensor", "the intake air reading is 50 K too hot"},
    {K::misfire, "misfire", "one cycle in eight does not burn"},
    {K::low_battery, "low_battery", "4 V are missing"},
});

std::optional<double> number_in(std::string_view text) {
  double value = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (error != std::errc{} || end != text.data() + text.size()) return std::nullopt;
  return value;
}

Result<double> part(std::string_view text, std::string_view whole, const char* what, double most) {
  const auto value = number_in(text);
  if (!value) {
    return Error{ErrorCode::bad_input, "fault",
                 fmt::format("\"{}\": {} \"{}\" is no number; expected KIND@SECONDS:SEVERITY",
                             whole.substr(0, 80), what, text.substr(0, 40))};
  }
  if (!(*value >= 0 && *value <= most)) {
    return Error{ErrorCode::out_of_range, "fault",
                 fmt::format("\"{}\": {} {} came; expected 0 to {}", whole.substr(0, 80), what,
                             *value, most)};
  }
  return *value;
}

}  // namespace

std::span<const FaultWords> all_faults() { return kWords; }

const char* name_of(FaultKind kind) {
  for (const FaultWords& w : kWords) {
    if (w.kind == kind) return w.name;
  }
  broken_contract("a fault of the list", __FILE__, __LINE__);
}

Result<Fault> read_fault(std::string_view text) {
  const auto colon = text.find(':');
  const auto at = text.substr(0, colon).find('@');
  const std::string_view name = text.substr(0, std::min(at, colon));
  Fault fault;
  bool known = false;
  for (const FaultWords& w : kWords) {
    if (name != w.name) continue;
    fault.kind = w.kind;
    known = true;
  }
  if (!known) {
    std::string names;
    for (const FaultWords& w : kWords) names += (names.empty() ? "" : ", ") + std::string(w.name);
    return Error{ErrorCode::bad_input, "fault",
                 fmt::format("\"{}\" is not known; expected one of {}", name.substr(0, 40), names)};
  }
  if (at != std::string_view::npos) {
    const auto length = colon == std::string_view::npos ? colon : colon - at - 1;
    FW_TRY(fault.from.si, part(text.substr(at + 1, length), text, "time", kLatest_s));
  }
  if (colon != std::string_view::npos) {
    FW_TRY(fault.severity, part(text.substr(colon + 1), text, "severity", 1));
  }
  return fault;
}

std::string write_fault(const Fault& fault) {
  return fmt::format("{}@{}:{}", name_of(fault.kind), fault.from.si, fault.severity);
}

}  // namespace fuelwright::car
