// Sections injection, ignition and fuel: keys, limits and typical values.
// Every typical value here is common practice, no source, unless a line says otherwise.
#include <fmt/format.h>

#include <algorithm>

#include "base/numerics/interpolate.h"
#include "car/build/derived.h"
#include "car/build/internal/bind.h"
#include "car/fuel/fuel.h"

namespace fuelwright::car {
namespace {

bool at_ports(const Sheet& s) {
  return s.injection.arrangement.value == InjectionArrangement::ports;
}

Guess injector_places(const Filling&) {
  return guess_text("ports", "most injected engines have one injector at each port");
}

Guess injector_count(const Filling& f) {
  const int n = f.sheet.engine.cylinders.value;
  if (at_ports(f.sheet)) return guess(n, 0, "one injector a cylinder");
  return guess(n > 4   ? 4
               : n > 2 ? 2
                       : 1,
               0, "injectors above the throttle: one for two cylinders or so");
}

Guess rated_density(const Filling&) {
  return guess(0.74, 0.04,
               "test fluids lie between heptane (0.684) and calibration fluid (0.78 kg/l)");
}

Guess squirts(const Filling& f) {
  if (at_ports(f.sheet))
    return guess(1, 1, "sequential injection; older units squirt twice a cycle");
  return guess(f.sheet.engine.cylinders.value, 0,
               "above the throttle: once for each intake stroke");
}

Guess dead_time(const Filling&) {
  return guess(0.95, 0.35, "injectors take 0.6 to 1.3 ms to open at 13.5 V");
}
Guess dead_time_voltage(const Filling&) { return guess(13.5, 0.3, "charging voltage"); }

Guess regulator_reference(const Filling& f) {
  if (at_ports(f.sheet))
    return guess_text("manifold", "port injection is mostly regulated against the manifold");
  return guess_text("atmosphere", "injectors above the throttle spray into near-ambient pressure");
}

Guess regulator_pressure(const Filling& f) {
  const double kpa = f.sheet.injection.injector_pressure.value.in(kPa);
  return guess(kpa, 0.06 * kpa, "most systems run at the pressure their injectors are rated at");
}

// The curve, where there is one, says the flow at the rating's pressure; the pressure is filled
// after the flow.
Guess flow_from_curve(const Filling& f) {
  const auto& p = f.sheet.supply.pump_curve_pressure.values;
  const auto& q = f.sheet.supply.pump_curve_flow.values;
  const Injection& i = f.sheet.injection;
  const PressureStep at =
      f.has("injection.pump_pressure") ? i.pump_pressure.value : i.regulator_pressure.value;
  std::vector<double> x, y;
  for (std::size_t k = 0; k < std::min(p.size(), q.size()); ++k) {
    x.push_back(p[k].si);
    y.push_back(q[k].in(litre_per_h));
  }
  const double flow = strictly_increasing(x) ? interpolate(x, y, at.si) : y.front();
  return computed(flow, f.sheet.supply.pump_curve_flow.tolerance * flow,
                  "from the pump's curve at that pressure");
}

// Pump flow at pressure: enough for every injector held open, with reserve.
Guess pump_flow(const Filling& f) {
  if (f.has("supply.pump_curve_pressure") && f.has("supply.pump_curve_flow"))
    return flow_from_curve(f);
  const Injection& i = f.sheet.injection;
  const int pumps = f.has("supply.pump_count") ? f.sheet.supply.pump_count.value : 1;
  const double all =
      i.injector_flow.value.si * i.injector_count.value / f.sheet.fuel.density.value.si;
  const double l_per_h = std::clamp(1.15 * all / pumps / litre_per_h.factor, 30.0, 1500.0);
  return guess(l_per_h, 0.35 * l_per_h,
               "pumps are mostly chosen a little larger than their injectors");
}
Guess pump_pressure(const Filling& f) {
  const double kpa = f.sheet.injection.regulator_pressure.value.in(kPa);
  return guess(kpa, 0.05 * kpa, "pump flow is stated at the pressure it works against");
}
Guess pump_voltage(const Filling&) {
  return guess(13.5, 0.3, "pumps are mostly rated at charging voltage");
}
Guess pump_wiring_drop(const Filling& f) {
  if (f.has("supply.pump_volts") || f.has("supply.wire_area") || f.has("supply.wire_length") ||
      f.has("supply.ground_length") || f.has("supply.contact_drop")) {
    return drop_from_wires(f);
  }
  return guess(0.7, 0.5, "sound wiring loses 0.3 V, old wiring more than 1 V");
}

Guess ignition_kind(const Filling& f) {
  if (f.sheet.cam.tappet.value != Tappet::direct) {
    return guess_text("distributor", "pushrod engines mostly have a distributor");
  }
  return guess_text("wasted_spark", "small engines of the injection age mostly fire in pairs");
}

Guess advance(const Filling& f) {
  if (f.sheet.heads.valves_per_cylinder.value <= 2) {
    return guess(34, 3, "two-valve wedge chambers: 32 to 36 degrees at full throttle");
  }
  return guess(28, 4, "four-valve chambers burn faster: 24 to 32 degrees");
}

Fuel tank(const Filling& f) {
  auto fuel = fuel_named(f.sheet.fuel.name.value);
  EXPECTS(fuel.ok());
  return *fuel;
}
Guess stoichiometric(const Filling& f) {
  const Fuel fuel = tank(f);
  return computed(fuel.stoichiometric_afr, fuel.stoichiometric_tolerance,
                  fmt::format("from the elements of {}; spread from pump to pump", fuel.name));
}
Guess density(const Filling& f) {
  const Fuel fuel = tank(f);
  return computed(fuel.density.in(kg_per_litre), 0.02,
                  fmt::format("from the parts of {}, at 15 to 20 degC", fuel.name));
}
Guess octane(const Filling& f) {
  const Fuel fuel = tank(f);
  return guess(fuel.octane_ron, fuel.octane_tolerance,
               fmt::format("{} as pumps sell it", fuel.name));
}

Status known_fuel(std::string_view name) {
  if (auto fuel = fuel_named(name); !fuel) return fuel.error();
  return Done{};
}

Key pressure(const char* key, const char* about, Binding at, Guess (*rule)(const Filling&)) {
  return {.section = "injection",
          .key = key,
          .about = about,
          .at = at,
          .kind = Kind::pressure_step,
          .unit = "kPa",
          .low = 30,
          .high = 1500,
          .tolerance = {.share = 0.02},
          .typical = rule,
          .us = "psi"};
}
Key volts(const char* key, const char* about, Binding at, double low, double high,
          Guess (*rule)(const Filling&)) {
  return {.section = "injection",
          .key = key,
          .about = about,
          .at = at,
          .kind = Kind::voltage,
          .unit = "V",
          .low = low,
          .high = high,
          .tolerance = {.step = 0.1},
          .typical = rule};
}

}  // namespace

std::span<const Key> feed_keys() {
  using namespace bind;
  constexpr auto kInj = &Sheet::injection;
  constexpr auto kIgn = &Sheet::ignition;
  constexpr auto kFuel = &Sheet::fuel;
  static const Key kKeys[] = {
      {.section = "fuel",
       .key = "name",
       .about = "fuel in the tank",
       .at = text<kFuel, &FuelInTank::name>(),
       .check_text = known_fuel},
      {.section = "fuel",
       .key = "stoichiometric",
       .about = "mass of air per mass of this fuel",
       .at = number<kFuel, &FuelInTank::stoichiometric>(),
       .kind = Kind::ratio,
       .low = 5,
       .high = 16,
       .tolerance = {.share = 0.01},
       .typical = stoichiometric},
      {.section = "fuel",
       .key = "density",
       .about = "liquid, 15 to 20 degC",
       .at = number<kFuel, &FuelInTank::density>(),
       .kind = Kind::density,
       .unit = "kg/l",
       .low = 0.6,
       .high = 0.9,
       .tolerance = {.share = 0.01},
       .typical = density},
      {.section = "fuel",
       .key = "octane",
       .about = "research octane number",
       .at = number<kFuel, &FuelInTank::octane>(),
       .kind = Kind::ratio,
       .low = 70,
       .high = 130,
       .tolerance = {.step = 1},
       .typical = octane},
      {.section = "injection",
       .key = "arrangement",
       .about = "where the injectors sit",
       .at = choice<kInj, &Injection::arrangement>(),
       .typical = injector_places,
       .choices = names(InjectionArrangement{})},
      {.section = "injection",
       .key = "injector_count",
       .about = "how many injectors",
       .at = number<kInj, &Injection::injector_count>(),
       .kind = Kind::count,
       .low = 1,
       .high = 32,
       .typical = injector_count},
      pressure("injector_pressure", "across the injector where its flow is stated",
               number<kInj, &Injection::injector_pressure>(), nullptr),
      {.section = "injection",
       .key = "rated_density",
       .about = "fluid the injector flow was measured with",
       .at = number<kInj, &Injection::rated_density>(),
       .kind = Kind::density,
       .unit = "kg/l",
       .low = 0.6,
       .high = 0.9,
       .tolerance = {.share = 0.01},
       .typical = rated_density},
      {.section = "injection",
       .key = "injector_flow",
       .about = "one injector held open",
       .at = number<kInj, &Injection::injector_flow>(),
       .kind = Kind::mass_flow,
       .unit = "g/s",
       .low = 0.2,
       .high = 80,
       .tolerance = {.share = 0.03}},
      {.section = "injection",
       .key = "squirts_per_cycle",
       .about = "of one injector in two turns of the crank",
       .at = number<kInj, &Injection::squirts_per_cycle>(),
       .kind = Kind::ratio,
       .low = 0.5,
       .high = 16,
       .typical = squirts},
      {.section = "injection",
       .key = "dead_time",
       .about = "injector opening less closing time",
       .at = number<kInj, &Injection::dead_time>(),
       .kind = Kind::time,
       .unit = "ms",
       .low = 0.05,
       .high = 4,
       .tolerance = {.step = 0.08},
       .typical = dead_time},
      volts("dead_time_voltage", "voltage the dead time is stated at",
            number<kInj, &Injection::dead_time_voltage>(), 6, 18, dead_time_voltage),
      {.section = "injection",
       .key = "regulator_reference",
       .about = "what the regulator measures against",
       .at = choice<kInj, &Injection::regulator_reference>(),
       .typical = regulator_reference,
       .choices = names(RegulatorReference{})},
      pressure("regulator_pressure", "above the regulator's reference",
               number<kInj, &Injection::regulator_pressure>(), regulator_pressure),
      {.section = "injection",
       .key = "pump_flow",
       .about = "pump flow at pump_pressure and pump_voltage",
       .at = number<kInj, &Injection::pump_flow>(),
       .kind = Kind::volume_flow,
       .unit = "l/h",
       .low = 10,
       .high = 2000,
       .tolerance = {.share = 0.07},
       .typical = pump_flow},
      pressure("pump_pressure", "pressure the pump flow is stated at",
               number<kInj, &Injection::pump_pressure>(), pump_pressure),
      volts("pump_voltage", "voltage the pump flow is stated at",
            number<kInj, &Injection::pump_voltage>(), 6, 18, pump_voltage),
      volts("pump_wiring_drop", "lost between battery and running pump",
            number<kInj, &Injection::pump_wiring_drop>(), 0, 6, pump_wiring_drop),
      {.section = "ignition",
       .key = "kind",
       .about = "how the spark is made",
       .at = choice<kIgn, &Ignition::kind>(),
       .typical = ignition_kind,
       .choices = names(IgnitionKind{})},
      {.section = "ignition",
       .key = "full_throttle_advance",
       .about = "total, before top dead centre",
       .at = number<kIgn, &Ignition::full_throttle_advance>(),
       .kind = Kind::crank_angle,
       .unit = "deg",
       .low = 5,
       .high = 60,
       .tolerance = {.step = 2},
       .typical = advance},
  };
  return kKeys;
}

}  // namespace fuelwright::car
