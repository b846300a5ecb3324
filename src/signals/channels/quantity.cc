#include "signals/channels/quantity.h"

#include <algorithm>
#include <array>
#include <cctype>
#include <cstddef>
#include <limits>
#include <numbers>

#include "base/contract.h"

namespace fuelwright::signals {
namespace {

constexpr double kAny = std::numeric_limits<double>::max();
constexpr double kDeg = std::numbers::pi / 180.0;
constexpr double kKmh = 1.0 / 3.6;

using Q = Quantity;
using K = Kind;
constexpr auto kTable = std::to_array<QuantityInfo>({
    {Q::time, "time", "time", K::time, "s", -kAny, kAny, false},
    {Q::run_time, "run_time", "time since engine start", K::time, "s", 0, 65535, false},
    {Q::rpm, "rpm", "engine speed", K::engine_speed, "rpm", 0, 15000, true},
    {Q::map, "map", "manifold pressure", K::absolute_pressure, "kPa", 5e3, 500e3, true},
    {Q::maf, "maf", "air mass flow", K::mass_flow, "g/s", 0, 1.0, true},
    {Q::throttle, "throttle", "throttle position", K::ratio, "%", -0.1, 1.1, true},
    {Q::coolant, "coolant", "coolant temperature", K::temperature, "degC", 213.15, 433.15, true},
    {Q::intake_air, "intake_air", "intake air temperature", K::temperature, "degC", 213.15, 453.15,
     true},
    {Q::lambda, "lambda", "measured mixture", K::ratio, "", 0, 20, true},
    {Q::target, "target", "mixture target", K::ratio, "", 0.4, 2.5, true},
    {Q::correction, "correction", "fuel correction", K::ratio, "%", -0.9, 2.0, true},
    {Q::short_trim, "short_trim", "short-term fuel trim", K::ratio, "%", -1.0, 1.0, true},
    {Q::long_trim, "long_trim", "long-term fuel trim", K::ratio, "%", -1.0, 1.0, true},
    {Q::warm_up, "warm_up", "warm-up enrichment", K::ratio, "%", -0.5, 9.0, false},
    {Q::pulse_width, "pulse_width", "injector pulse width", K::time, "ms", 0, 0.2, true},
    {Q::duty, "duty", "injector duty cycle", K::ratio, "%", 0, 2.0, false},
    {Q::commanded_ratio, "commanded_ratio", "commanded equivalence ratio", K::ratio, "", 0.4, 2.0,
     false},
    {Q::battery, "battery", "battery voltage", K::voltage, "V", 0, 60, false},
    {Q::speed, "speed", "road speed", K::speed, "km/h", 0, 450 * kKmh, false},
    {Q::baro, "baro", "barometric pressure", K::absolute_pressure, "kPa", 40e3, 115e3, false},
    {Q::spark, "spark", "spark advance", K::crank_angle, "deg", -70 * kDeg, 90 * kDeg, false},
    {Q::engine_load, "engine_load", "calculated load", K::ratio, "%", 0, 4.0, false},
    {Q::gear, "gear", "gear", K::count, "", -2, 20, false},
    {Q::fuel_pressure, "fuel_pressure", "fuel pressure", K::gauge_pressure, "kPa", 0, 50e6, false},
    {Q::fuel_flow, "fuel_flow", "fuel flow", K::volume_flow, "l/h", 0, 1e-3, false},
    {Q::ambient_air, "ambient_air", "ambient air temperature", K::temperature, "degC", 203.15,
     343.15, false},
    {Q::oil_temperature, "oil_temperature", "oil temperature", K::temperature, "degC", 213.15,
     473.15, false},
    {Q::catalyst_temperature, "catalyst_temperature", "catalyst temperature", K::temperature,
     "degC", 213.15, 1473.15, false},
    {Q::oxygen_voltage, "oxygen_voltage", "oxygen sensor voltage", K::voltage, "V", -1, 5.5, false},
    {Q::throttle_other, "throttle_other", "another throttle position", K::ratio, "%", -0.1, 1.1,
     false},
    {Q::pedal, "pedal", "pedal position", K::ratio, "%", -0.1, 1.1, false},
    {Q::fuel_level, "fuel_level", "fuel tank level", K::ratio, "%", 0, 1.1, false},
    {Q::purge, "purge", "evaporative purge", K::ratio, "%", 0, 1.1, false},
    {Q::ethanol, "ethanol", "ethanol share", K::ratio, "%", 0, 1.0, false},
    {Q::counter, "counter", "bookkeeping of the engine computer", K::count, "", -kAny, kAny, false},
    {Q::segment, "segment", "number of the drive", K::count, "", -kAny, kAny, false},
    {Q::row_number, "row_number", "row number", K::count, "", -kAny, kAny, false},
    {Q::other, "other", "something else", K::ratio, "", -kAny, kAny, false},
});

}  // namespace

std::span<const QuantityInfo> quantities() { return kTable; }

const QuantityInfo& info(Quantity what) {
  const QuantityInfo& row = kTable.at(static_cast<std::size_t>(what));
  EXPECTS(row.what == what);
  return row;
}

UnitInfo shown_unit(Quantity what, Kind kind, UnitSystem system) {
  const QuantityInfo& row = info(what);
  const std::string_view usual = row.unit;
  if (kind == row.kind && (usual == "%" || usual == "ms")) return *find_unit(usual, kind);
  return display_unit(kind, system);
}

std::optional<Quantity> find_quantity(std::string_view name) {
  std::string wanted(name);
  std::ranges::transform(wanted, wanted.begin(), [](char c) {
    return c == '-' || c == ' ' ? '_'
                                : static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
  });
  for (const QuantityInfo& row : kTable) {
    if (wanted == row.name) return row.what;
  }
  return std::nullopt;
}

std::string quantity_names() {
  std::string out;
  for (const QuantityInfo& row : kTable) {
    out += (out.empty() ? "" : ", ") + std::string(row.name);
  }
  return out;
}

}  // namespace fuelwright::signals
