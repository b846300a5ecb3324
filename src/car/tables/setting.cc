#include "car/tables/setting.h"

#include <fmt/format.h>

#include <array>

#include "car/tables/internal/shown.h"

namespace fuelwright::car {
namespace {

struct SettingRow {
  SettingWhat what;
  const char* name;
  const char* label;
  ValueUnit unit;
  Limits limits;
};

constexpr ValueUnit kShare{"1", Kind::ratio, "%"};
constexpr ValueUnit kPlain{"1", Kind::ratio, ""};
constexpr ValueUnit kDegrees{"deg", Kind::crank_angle, ""};
constexpr ValueUnit kRpm{"rpm", Kind::engine_speed, ""};
constexpr ValueUnit kMap{"Pa", Kind::absolute_pressure, ""};
constexpr ValueUnit kKelvin{"K", Kind::temperature, ""};

using W = SettingWhat;
constexpr std::array<SettingRow, kSettings> kSettingRows{{
    {W::injector_flow, "injector_flow", "injector flow", {"kg/s", Kind::mass_flow, ""}, {1e-5, 1}},
    {W::injector_pressure,
     "injector_pressure",
     "pressure across the injector",
     {"Pa", Kind::pressure_step, "", "psi"},  // inches of mercury are for vacuum
     {20e3, 3e6}},
    {W::stoichiometric, "stoichiometric", "stoichiometric ratio of the fuel", kPlain, {5, 20}},
    {W::fuel_density, "fuel_density", "fuel density", {"kg/m3", Kind::density, ""}, {500, 1200}},
    {W::cranking_spark, "cranking_spark", "cranking spark", kDegrees, {-10, 40}},
    {W::idle_spark, "idle_spark", "idle spark", kDegrees, {-10, 60}},
    {W::soft_rev_limit, "soft_rev_limit", "soft rev limit", kRpm, {1000, 20000}},
    {W::hard_rev_limit, "hard_rev_limit", "hard rev limit", kRpm, {1000, 20000}},
    {W::overrun_entry, "overrun_entry", "overrun cut above", kRpm, {500, 20000}},
    {W::overrun_resume, "overrun_resume", "overrun fuel again below", kRpm, {300, 20000}},
    {W::overrun_pressure, "overrun_pressure", "overrun cut below", kMap, {0, 150e3}},
    {W::overrun_throttle, "overrun_throttle", "overrun cut below opening", kShare, {0, 1}},
    {W::overrun_delay, "overrun_delay", "overrun cut after", {"s", Kind::time, ""}, {0, 30}},
    {W::closed_loop_add, "closed_loop_add", "closed loop may add", kShare, {0, 1}},
    {W::closed_loop_take, "closed_loop_take", "closed loop may take", kShare, {0, 1}},
    {W::closed_loop_richest, "closed_loop_richest", "closed loop from lambda", kPlain, {0.5, 2}},
    {W::closed_loop_leanest, "closed_loop_leanest", "closed loop to lambda", kPlain, {0.5, 2}},
    {W::closed_loop_pressure, "closed_loop_pressure", "closed loop below", kMap, {0, 500e3}},
    {W::closed_loop_coolant, "closed_loop_coolant", "closed loop above", kKelvin, {200, 450}},
    {W::idle_pressure, "idle_pressure", "idle manifold pressure", kMap, {10e3, 150e3}},
    {W::idle_throttle, "idle_throttle", "idle throttle opening (area)", kShare, {0, 1}},
    {W::flood_clear_throttle, "flood_clear_throttle", "flood clear above opening", kShare, {0, 1}},
    {W::charge_temperature_reference,
     "charge_temperature_reference",
     "charge temperature counts from",
     kKelvin,
     {200, 450}},
}};

const SettingRow& row(SettingWhat what) {
  for (const SettingRow& r : kSettingRows) {
    if (r.what == what) return r;
  }
  broken_contract("a setting of the list", __FILE__, __LINE__);
}

}  // namespace

std::span<const SettingWhat> all_settings() {
  static constexpr auto kAll = [] {
    std::array<SettingWhat, kSettings> out{};
    for (std::size_t i = 0; i < out.size(); ++i) out[i] = kSettingRows[i].what;
    return out;
  }();
  return kAll;
}

const char* name_of(SettingWhat what) { return row(what).name; }
const char* label_of(SettingWhat what) { return row(what).label; }
ValueUnit unit_of(SettingWhat what) { return row(what).unit; }
Limits limits_of(SettingWhat what) { return row(what).limits; }

Result<SettingWhat> setting_named(std::string_view name) {
  std::string known;
  for (const SettingRow& r : kSettingRows) {
    if (name == r.name) return r.what;
    known += (known.empty() ? "" : ", ") + std::string(r.name);
  }
  return Error{
      ErrorCode::not_found, "",
      fmt::format("no setting is called \"{}\"; expected one of {}", internal::shown(name), known)};
}

}  // namespace fuelwright::car
