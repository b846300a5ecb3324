// The parts of the key table joined, and what follows from a row of it.
#include "car/build/internal/keys.h"

#include <fmt/format.h>

#include "car/build/internal/bind.h"

namespace fuelwright::car {
namespace {

constexpr const char* kTappets[] = {"hydraulic_flat", "hydraulic_roller", "solid_flat",
                                    "solid_roller", "direct"};
constexpr const char* kIntakes[] = {"shared_plenum", "two_plane", "individual_throttles"};
constexpr const char* kExhausts[] = {"four_into_one", "four_two_one", "log"};
constexpr const char* kInjections[] = {"ports", "throttle"};
constexpr const char* kReferences[] = {"manifold", "atmosphere"};
constexpr const char* kPumpPlaces[] = {"tank", "outside"};
constexpr const char* kRegulatorPlaces[] = {"rail", "tank"};
constexpr const char* kIgnitions[] = {"distributor", "wasted_spark", "coil_per_plug"};
constexpr const char* kLoads[] = {"map", "vacuum", "throttle"};

std::vector<Key> joined() {
  std::vector<Key> out;
  for (const auto part : {engine_keys(), cam_keys(), pipe_keys(), feed_keys(), supply_keys(),
                          road_keys(), wish_keys()}) {
    out.insert(out.end(), part.begin(), part.end());
  }
  return out;
}

UnitInfo unit_info(Kind kind, std::string_view unit) {
  const auto info = find_unit(unit, kind);
  EXPECTS(info.has_value());
  return *info;
}

}  // namespace

std::span<const char* const> names(Tappet) { return kTappets; }
std::span<const char* const> names(IntakeArrangement) { return kIntakes; }
std::span<const char* const> names(ExhaustArrangement) { return kExhausts; }
std::span<const char* const> names(InjectionArrangement) { return kInjections; }
std::span<const char* const> names(RegulatorReference) { return kReferences; }
std::span<const char* const> names(PumpPlace) { return kPumpPlaces; }
std::span<const char* const> names(RegulatorPlace) { return kRegulatorPlaces; }
std::span<const char* const> names(IgnitionKind) { return kIgnitions; }
std::span<const char* const> names(LoadAxis) { return kLoads; }

const char* name_of(Source source) {
  constexpr const char* kNames[] = {"measured", "stated", "computed", "typical"};
  return kNames[static_cast<std::size_t>(source)];
}

std::span<const Key> all_keys() {
  static const std::vector<Key> keys = joined();
  return keys;
}

const Key& key_at(std::string_view path) {
  for (const Key& key : all_keys()) {
    if (key.path() == path) return key;
  }
  broken_contract("a key of the table", __FILE__, __LINE__);
}

Kind kind_of(const Key& key, const Sheet& sheet) {
  if (!key.by_load_axis) return key.kind;
  const LoadAxis load = sheet.wishes.load_axis.value;
  if (load == LoadAxis::map) return Kind::absolute_pressure;
  return load == LoadAxis::vacuum ? Kind::pressure_step : Kind::ratio;
}

std::string unit_of(const Key& key, const Sheet& sheet) {
  if (!key.by_load_axis) return key.unit;
  return sheet.wishes.load_axis.value == LoadAxis::throttle ? "%" : "kPa";
}

std::string shown_unit(const Key& key, const Sheet& sheet, UnitSystem system) {
  const Kind kind = kind_of(key, sheet);
  const std::string own = unit_of(key, sheet);
  const bool same = kind == Kind::time || kind == Kind::volume_flow || key.by_load_axis;
  if (system == UnitSystem::metric || same) return own;
  return *key.us != '\0' ? key.us : display_unit(kind, system).symbol;
}

double to_si(double value, Kind kind, std::string_view unit) {
  const UnitInfo info = unit_info(kind, unit);
  return value * info.factor + info.offset;
}

double step_to_si(double step, Kind kind, std::string_view unit) {
  return step * unit_info(kind, unit).factor;
}

std::string limits_text(const Key& key, const Sheet& sheet) {
  const std::string unit = key.mixture ? "" : unit_of(key, sheet);
  return fmt::format("{} to {}{}{}", key.low, key.high, unit.empty() ? "" : " ", unit);
}

bool two_valves(const Sheet& s) { return s.heads.valves_per_cylinder.value <= 2; }

Status known_scale(std::string_view text) {
  if (auto parsed = MixtureScale::parse(text); !parsed) return parsed.error();
  return Done{};
}

}  // namespace fuelwright::car
