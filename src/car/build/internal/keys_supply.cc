// Section supply: from the tank to the rail: keys, limits and typical values.
// Every typical value here is common practice, no source, unless a line says otherwise.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "base/numerics/interpolate.h"
#include "car/build/derived.h"
#include "car/build/internal/bind.h"
#include "car/fuel/fuel.h"

namespace fuelwright::car {
namespace {

Guess pump_count(const Filling&) { return guess(1, 0, "one pump"); }

// Flow over that at the rated pressure falls by 0.35 for each rated pressure: pumps of the trade
// lie between 0.2 (gears, rollers) and 0.5 (turbines).
constexpr double kCurveAt[] = {0, 0.5, 1, 1.5, 2};
constexpr double kCurveFall = 0.35;

Guess curve_pressure(const Filling& f) {
  std::vector<double> out;
  for (const double x : kCurveAt) out.push_back(x * f.sheet.injection.pump_pressure.value.in(kPa));
  return guess_list(out, 0, "around the pressure of the rating");
}
Guess curve_flow(const Filling& f) {
  const auto& rated = f.sheet.injection.pump_flow;
  const double at = f.sheet.injection.pump_pressure.value.si;
  std::vector<double> out;
  for (const PressureStep p : f.sheet.supply.pump_curve_pressure.values) {
    out.push_back(std::max(0.0, 1 + kCurveFall * (1 - p.si / at)) * rated.value.in(litre_per_h));
  }
  return guess_list(out, rated.tolerance / rated.value,
                    "through the rating, falling as such pumps do");
}

// A fifth to a third of the electric power arrives in the fuel.
Guess pump_current(const Filling& f) {
  const Injection& i = f.sheet.injection;
  constexpr double kEfficiency = 0.23;
  const double amp =
      i.pump_flow.value.si * i.pump_pressure.value.si / (kEfficiency * i.pump_voltage.value.si);
  return guess(std::clamp(amp, 1.0, 40.0), 0.3 * std::clamp(amp, 1.0, 40.0),
               "pumps turn a fifth to a third of their electric power into flow at pressure");
}

Guess charging_voltage(const Filling&) {
  return guess(13.8, 0.4, "alternators hold 13.4 to 14.4 V with the usual load");
}
Guess wire_area(const Filling&) {
  return guess(2.5, 1.0, "pumps are mostly fed through 1.5 to 4 mm2 (16 to 12 AWG)");
}
Guess wire_length(const Filling&) { return guess(5, 1.5, "battery in front, pump at the tank"); }
Guess ground_length(const Filling&) { return guess(0.5, 0.4, "grounded to the body nearby"); }
Guess contact_drop(const Filling&) {
  return guess(0.35, 0.25, "relay, fuse, plugs and body: sound 0.15 V, corroded 1 V");
}

double volts(const Filling& f, const char* path, const Known<Voltage>& at,
             Guess (*rule)(const Filling&)) {
  return f.has(path) ? at.value.si : rule(f).values[0];
}

Guess pump_volts(const Filling& f) {
  const auto& drop = f.sheet.injection.pump_wiring_drop;
  const auto& source = f.sheet.supply.charging_voltage;
  return computed(source.value.si - drop.value.si,
                  std::hypot(source.tolerance.si, drop.tolerance.si),
                  "charging voltage less what the wiring loses");
}

Guess pump_place(const Filling&) {
  return guess_text("tank", "most injected cars have the pump in the tank");
}
bool in_tank(const Filling& f) { return f.sheet.supply.pump_place.value == PumpPlace::tank; }
Guess suction_length(const Filling& f) {
  if (in_tank(f)) return guess(0.05, 0.05, "the pump stands in the fuel");
  return guess(0.6, 0.3, "a pump outside sits near the tank");
}
Guess suction_diameter(const Filling&) { return guess(10, 2, "10 mm (3/8 in) is usual"); }
Guess hose_length(const Filling&) { return guess(4.5, 1.2, "tank behind, engine in front"); }
Guess hose_diameter(const Filling& f) {
  const double all =
      f.sheet.injection.pump_flow.value.in(litre_per_h)*f.sheet.supply.pump_count.value;
  if (all > 330) return guess(9.5, 1.0, "large pumps mostly feed 9.5 mm (3/8 in)");
  return guess(8, 0.8, "8 mm (5/16 in) is usual");
}
Guess filter_loss(const Filling&) {
  return guess(12, 10, "a clean filter loses about 5 kPa, an old one 30");
}
Guess regulator_place(const Filling&) {
  return guess_text("rail", "port injection is mostly regulated behind the rail");
}
Guess return_length(const Filling& f) {
  const auto& s = f.sheet.supply;
  if (s.regulator_place.value == RegulatorPlace::tank)
    return guess(0.1, 0.05, "the regulator spills into the tank");
  return guess(s.hose_length.value.si, 0.25 * s.hose_length.value.si, "beside the feed");
}
Guess return_diameter(const Filling&) { return guess(7, 1.2, "6 to 8 mm is usual"); }
Guess lift_flow(const Filling&) { return guess(0, 0, "no lift pump"); }
Guess surge_volume(const Filling& f) {
  if (f.sheet.supply.lift_flow.value.si > 0) return guess(1.5, 0.5, "surge tanks hold 1 to 2 l");
  return guess(0, 0, "no surge tank");
}
Guess fuel_temperature(const Filling&) { return guess(40, 8, "an hour of driving on a hot day"); }

// Reid vapour pressure of summer petrol 60 kPa; alcohol in it by volume (from memory).
Guess vapour_pressure(const Filling& f) {
  const auto fuel = fuel_named(f.sheet.fuel.name.value);
  EXPECTS(fuel.ok());
  const bool methyl = fuel->name.front() == 'M' || fuel->name == "methanol";
  const double whole = (methyl ? methanol() : ethanol()).composition.oxygen;
  const double by_mass = std::clamp(fuel->composition.oxygen / whole, 0.0, 1.0);
  const double a = by_mass / (methyl ? methanol() : ethanol()).density.si;
  const double p = (1 - by_mass) / petrol().density.si;
  const double share = a / (a + p);
  constexpr double kAt[] = {0, 0.05, 0.1, 0.2, 0.5, 0.7, 0.85, 1};
  constexpr double kEthanol[] = {60, 66, 67, 66, 58, 50, 38, 16};
  constexpr double kMethanol[] = {60, 82, 83, 82, 76, 68, 55, 32};
  return guess(interpolate(kAt, methyl ? kMethanol : kEthanol, share), 9,
               fmt::format("{} in summer; winter grades lie 20 to 30 kPa higher", fuel->name));
}

Guess injector_match(const Filling& f) {
  return guess_list(
      std::vector<double>(static_cast<std::size_t>(f.sheet.injection.injector_count.value), 1),
      0.03, "all alike; a set lies within a few percent");
}
Guess most_duty(const Filling&) { return guess(0.85, 0, "80 to 85 % at rated power"); }
Guess delivery_flow(const Filling& f) {
  const auto& rated = f.sheet.injection.pump_flow;
  const double all = rated.value.in(litre_per_h)*f.sheet.supply.pump_count.value;
  return computed(all, all * (rated.tolerance / rated.value), "what the rating promises");
}
Guess delivery_pressure(const Filling& f) {
  const auto& p = f.sheet.injection.pump_pressure;
  return computed(p.value.in(kPa), p.tolerance.in(kPa), "the pressure of the rating");
}
Guess delivery_volts(const Filling& f) {
  const auto& v = f.sheet.injection.pump_voltage;
  return computed(v.value.si, v.tolerance.si, "the voltage of the rating");
}

// "12 AWG", "4/0 AWG" is not taken.
std::optional<double> american_gauge(std::string_view text) {
  const auto cut = text.find_first_not_of("0123456789");
  if (cut == 0 || cut == std::string_view::npos) return std::nullopt;
  std::string word;
  for (const char c : text.substr(cut)) {
    if (c != ' ') word += static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
  }
  const auto n = parse_double(text.substr(0, cut));
  if (word != "awg" || !n || *n > 40) return std::nullopt;
  return gauge_area(static_cast<int>(*n)).si;
}

constexpr auto kSupply = &Sheet::supply;

Key length(const char* key, const char* about, Binding at, const char* unit, double low,
           double high, DefaultTolerance tolerance, Guess (*rule)(const Filling&)) {
  return {.section = "supply",
          .key = key,
          .about = about,
          .at = at,
          .kind = Kind::length,
          .unit = unit,
          .low = low,
          .high = high,
          .tolerance = tolerance,
          .typical = rule,
          .us = unit[0] == 'm' && unit[1] == '\0' ? "ft" : ""};
}
Key volt(const char* key, const char* about, Binding at, double low, double high,
         Guess (*rule)(const Filling&)) {
  return {.section = "supply",
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

std::vector<Key> pump_part() {
  using namespace bind;
  return {
      {.section = "supply",
       .key = "pump_count",
       .about = "pumps side by side, all alike",
       .at = number<kSupply, &Supply::pump_count>(),
       .kind = Kind::count,
       .low = 1,
       .high = 4,
       .typical = pump_count},
      {.section = "supply",
       .key = "pump_curve_pressure",
       .about = "pressures of the pump's curve",
       .at = numbers<kSupply, &Supply::pump_curve_pressure>(),
       .kind = Kind::pressure_step,
       .unit = "kPa",
       .low = 0,
       .high = 3000,
       .typical = curve_pressure,
       .us = "psi"},
      {.section = "supply",
       .key = "pump_curve_flow",
       .about = "flow of one pump at those pressures and pump_voltage",
       .at = numbers<kSupply, &Supply::pump_curve_flow>(),
       .kind = Kind::volume_flow,
       .unit = "l/h",
       .low = 0,
       .high = 3000,
       .tolerance = {.share = 0.05},
       .typical = curve_flow},
      {.section = "supply",
       .key = "pump_current",
       .about = "of one pump at pump_pressure and pump_voltage",
       .at = number<kSupply, &Supply::pump_current>(),
       .kind = Kind::current,
       .unit = "A",
       .low = 0.5,
       .high = 60,
       .tolerance = {.share = 0.05},
       .typical = pump_current},
      volt("charging_voltage", "at the battery, engine pulling",
           number<kSupply, &Supply::charging_voltage>(), 9, 18, charging_voltage),
      {.section = "supply",
       .key = "wire_area",
       .about = "conductor that feeds the pumps (mm2, or 12 AWG)",
       .at = number<kSupply, &Supply::wire_area>(),
       .kind = Kind::area,
       .unit = "mm2",
       .low = 0.2,
       .high = 120,
       .tolerance = {.share = 0.05},
       .typical = wire_area,
       .us = "mm2",
       .other_form = american_gauge},
      length("wire_length", "of that wire, one way, battery to pump",
             number<kSupply, &Supply::wire_length>(), "m", 0.2, 20, {.share = 0.05}, wire_length),
      length("ground_length", "of the wire from the pump to body or battery",
             number<kSupply, &Supply::ground_length>(), "m", 0, 20, {.share = 0.05, .step = 0.05},
             ground_length),
      volt("contact_drop", "lost in relay, fuse, plugs and body at the pumps' current",
           number<kSupply, &Supply::contact_drop>(), 0, 6, contact_drop),
      volt("pump_volts", "at the pump while it runs at pressure, engine charging",
           number<kSupply, &Supply::pump_volts>(), 4, 18, pump_volts),
      {.section = "supply",
       .key = "pump_place",
       .about = "where the pump sits",
       .at = choice<kSupply, &Supply::pump_place>(),
       .typical = pump_place,
       .choices = names(PumpPlace{})},
  };
}

std::vector<Key> line_part() {
  using namespace bind;
  const DefaultTolerance bore{.share = 0.03};
  const DefaultTolerance tape{.share = 0.05, .step = 0.05};
  return {
      length("suction_length", "tank to pump", number<kSupply, &Supply::suction_length>(), "m", 0,
             10, tape, suction_length),
      length("suction_diameter", "inside", number<kSupply, &Supply::suction_diameter>(), "mm", 3,
             40, bore, suction_diameter),
      length("hose_length", "pump to rail", number<kSupply, &Supply::hose_length>(), "m", 0, 20,
             tape, hose_length),
      length("hose_diameter", "inside its narrowest part",
             number<kSupply, &Supply::hose_diameter>(), "mm", 3, 40, bore, hose_diameter),
      {.section = "supply",
       .key = "filter_loss",
       .about = "pressure lost in the filter at the pumps' rated flow",
       .at = number<kSupply, &Supply::filter_loss>(),
       .kind = Kind::pressure_step,
       .unit = "kPa",
       .low = 0,
       .high = 400,
       .tolerance = {.share = 0.15, .step = 2},
       .typical = filter_loss,
       .us = "psi"},
      {.section = "supply",
       .key = "regulator_place",
       .about = "behind the rail with a return line, or at the tank (returnless)",
       .at = choice<kSupply, &Supply::regulator_place>(),
       .typical = regulator_place,
       .choices = names(RegulatorPlace{})},
      length("return_length", "regulator to tank", number<kSupply, &Supply::return_length>(), "m",
             0, 20, tape, return_length),
      length("return_diameter", "inside its narrowest part",
             number<kSupply, &Supply::return_diameter>(), "mm", 2, 40, bore, return_diameter),
      {.section = "supply",
       .key = "lift_flow",
       .about = "lift pump that fills a surge tank, as it delivers in the car; 0 if none",
       .at = number<kSupply, &Supply::lift_flow>(),
       .kind = Kind::volume_flow,
       .unit = "l/h",
       .low = 0,
       .high = 2000,
       .tolerance = {.share = 0.1},
       .typical = lift_flow},
      {.section = "supply",
       .key = "surge_volume",
       .about = "surge tank or sump from which the pump draws",
       .at = number<kSupply, &Supply::surge_volume>(),
       .kind = Kind::volume,
       .unit = "l",
       .low = 0,
       .high = 20,
       .tolerance = {.share = 0.05},
       .typical = surge_volume},
  };
}

std::vector<Key> fuel_part() {
  using namespace bind;
  return {
      {.section = "supply",
       .key = "fuel_temperature",
       .about = "hottest fuel in the tank",
       .at = number<kSupply, &Supply::fuel_temperature>(),
       .kind = Kind::temperature,
       .unit = "degC",
       .low = -40,
       .high = 90,
       .tolerance = {.step = 3},
       .typical = fuel_temperature},
      {.section = "supply",
       .key = "vapour_pressure",
       .about = "of the fuel at 37.8 degC (Reid)",
       .at = number<kSupply, &Supply::vapour_pressure>(),
       .kind = Kind::absolute_pressure,
       .unit = "kPa",
       .low = 5,
       .high = 120,
       .tolerance = {.step = 3},
       .typical = vapour_pressure},
      {.section = "supply",
       .key = "injector_match",
       .about = "flow of each injector over injector_flow, injector 1 first",
       .at = numbers<kSupply, &Supply::injector_match>(),
       .kind = Kind::ratio,
       .low = 0.2,
       .high = 3,
       .tolerance = {.share = 0.01},
       .typical = injector_match},
      {.section = "supply",
       .key = "most_duty",
       .about = "largest duty cycle that may be used",
       .at = number<kSupply, &Supply::most_duty>(),
       .kind = Kind::ratio,
       .low = 0.3,
       .high = 1,
       .typical = most_duty},
      {.section = "supply",
       .key = "delivery_flow",
       .about = "timed delivery into a can, all pumps through the car's own filter and hose",
       .at = number<kSupply, &Supply::delivery_flow>(),
       .kind = Kind::volume_flow,
       .unit = "l/h",
       .low = 5,
       .high = 4000,
       .tolerance = {.share = 0.03},
       .typical = delivery_flow},
      {.section = "supply",
       .key = "delivery_pressure",
       .about = "at the rail during that delivery",
       .at = number<kSupply, &Supply::delivery_pressure>(),
       .kind = Kind::pressure_step,
       .unit = "kPa",
       .low = 0,
       .high = 1500,
       .tolerance = {.share = 0.02},
       .typical = delivery_pressure,
       .us = "psi"},
      volt("delivery_volts", "at the pump during that delivery",
           number<kSupply, &Supply::delivery_volts>(), 6, 18, delivery_volts),
  };
}

}  // namespace

Guess drop_from_wires(const Filling& f) {
  const Supply& s = f.sheet.supply;
  if (f.has("supply.pump_volts")) {
    const double source = volts(f, "supply.charging_voltage", s.charging_voltage, charging_voltage);
    return computed(std::max(0.0, source - s.pump_volts.value.si), s.pump_volts.tolerance.si,
                    "charging voltage less what was found at the pump");
  }
  const double area_mm2 =
      f.has("supply.wire_area") ? s.wire_area.value.in(mm2) : wire_area(f).values[0];
  const double length_m =
      (f.has("supply.wire_length") ? s.wire_length.value.si : wire_length(f).values[0]) +
      (f.has("supply.ground_length") ? s.ground_length.value.si : ground_length(f).values[0]);
  const double contacts = volts(f, "supply.contact_drop", s.contact_drop, contact_drop);
  // Flow, pressure and voltage of the rating are filled before this key.
  const int pumps = f.has("supply.pump_count") ? s.pump_count.value : 1;
  const double amp =
      pumps * (f.has("supply.pump_current") ? s.pump_current.value.si : pump_current(f).values[0]);
  const double wire = amp * copper_resistance(length_m * metre, area_mm2 * mm2, celsius(40)).si;
  return computed(std::min(6.0, wire + contacts), 0.15 * wire + 0.3 * contacts,
                  "from wire and contacts at the pump's current");
}

std::span<const Key> supply_keys() {
  static const std::vector<Key> kKeys = [] {
    std::vector<Key> out = pump_part();
    for (auto part : {line_part(), fuel_part()}) out.insert(out.end(), part.begin(), part.end());
    return out;
  }();
  return kKeys;
}

}  // namespace fuelwright::car
