#include "car/tables/curve.h"

#include <fmt/format.h>

#include <array>

#include "base/numerics/interpolate.h"
#include "car/tables/internal/shown.h"

namespace fuelwright::car {
namespace {

struct CurveRow {
  CurveWhat what;
  const char* name;
  const char* label;
  AxisKind axis;
  ValueUnit unit;
  Limits limits;
};

constexpr ValueUnit kCurveShare{"1", Kind::ratio, "%"};
constexpr ValueUnit kFactor{"1", Kind::ratio, ""};
constexpr ValueUnit kCurveDegrees{"deg", Kind::crank_angle, ""};
constexpr ValueUnit kSeconds{"s", Kind::time, ""};
constexpr AxisKind kCoolant = AxisKind::coolant_temperature;
constexpr AxisKind kIntake = AxisKind::intake_temperature;

constexpr std::array<CurveRow, kCurves> kCurveRows{{
    {CurveWhat::cranking_fuel,
     "cranking_fuel",
     "cranking fuel",
     kCoolant,
     {"kg", Kind::mass, "mg"},
     {1e-7, 5e-3}},
    {CurveWhat::after_start_fuel,
     "after_start_fuel",
     "after-start fuel",
     kCoolant,
     kCurveShare,
     {0, 3}},
    {CurveWhat::after_start_time,
     "after_start_time",
     "after-start time",
     kCoolant,
     kSeconds,
     {0, 600}},
    {CurveWhat::warm_up_fuel, "warm_up_fuel", "warm-up fuel", kCoolant, kCurveShare, {0, 3}},
    {CurveWhat::idle_speed,
     "idle_speed",
     "idle speed",
     kCoolant,
     {"rpm", Kind::engine_speed, ""},
     {200, 4000}},
    {CurveWhat::idle_air,
     "idle_air",
     "idle air",
     kCoolant,
     {"kg/s", Kind::mass_flow, ""},
     {0, 0.2}},
    {CurveWhat::charge_temperature,
     "charge_temperature",
     "charge temperature",
     kIntake,
     kFactor,
     {0.3, 2.5}},
    {CurveWhat::dead_time,
     "dead_time",
     "injector dead time",
     AxisKind::battery_voltage,
     {"s", Kind::time, "ms"},
     {0, 0.02}},
    {CurveWhat::spark_trim_coolant,
     "spark_trim_coolant",
     "spark trim over coolant",
     kCoolant,
     kCurveDegrees,
     {-40, 40}},
    {CurveWhat::spark_trim_intake,
     "spark_trim_intake",
     "spark trim over intake air",
     kIntake,
     kCurveDegrees,
     {-40, 40}},
    {CurveWhat::tip_in_fuel, "tip_in_fuel", "tip-in fuel", AxisKind::map_rate, kCurveShare, {0, 5}},
    {CurveWhat::tip_in_coolant,
     "tip_in_coolant",
     "tip-in over coolant",
     kCoolant,
     kFactor,
     {0, 10}},
    {CurveWhat::tip_in_time, "tip_in_time", "tip-in time", kCoolant, kSeconds, {0, 30}},
}};

const CurveRow& row(CurveWhat what) {
  for (const CurveRow& r : kCurveRows) {
    if (r.what == what) return r;
  }
  broken_contract("a curve of the list", __FILE__, __LINE__);
}

}  // namespace

double Curve::at(double x_si) const { return interpolate(axis.points(), values, x_si); }

std::span<const CurveWhat> all_curves() {
  static constexpr auto kAll = [] {
    std::array<CurveWhat, kCurves> out{};
    for (std::size_t i = 0; i < out.size(); ++i) out[i] = kCurveRows[i].what;
    return out;
  }();
  return kAll;
}

const char* name_of(CurveWhat what) { return row(what).name; }
const char* label_of(CurveWhat what) { return row(what).label; }
AxisKind axis_of(CurveWhat what) { return row(what).axis; }
ValueUnit unit_of(CurveWhat what) { return row(what).unit; }
Limits limits_of(CurveWhat what) { return row(what).limits; }

Result<CurveWhat> curve_named(std::string_view name) {
  std::string known;
  for (const CurveRow& r : kCurveRows) {
    if (name == r.name) return r.what;
    known += (known.empty() ? "" : ", ") + std::string(r.name);
  }
  return Error{
      ErrorCode::not_found, "",
      fmt::format("no curve is called \"{}\"; expected one of {}", internal::shown(name), known)};
}

}  // namespace fuelwright::car
