#include "physics/supply/from_sheet.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "base/contract.h"
#include "car/fuel/fuel.h"
#include "physics/ensemble/uncertain.h"
#include "physics/supply/balance.h"

namespace fuelwright::physics::supply {
namespace {

bool given(car::Source s) { return s == car::Source::measured || s == car::Source::stated; }

// 1 + a half-width's share of z, held above a fifth.
double factor(double half_share, double z) { return std::max(0.2, 1 + half_share / k95 * z); }

template <class T>
double share(const car::Known<T>& k) {
  return k.si() == 0 ? 0 : std::abs(k.tolerance_si() / k.si());
}

Liquid liquid_of(const car::Sheet& sheet, const car::Fuel& fuel) {
  Liquid out;
  out.density = sheet.fuel.density.value;
  out.methanol = fuel.name.front() == 'M' || fuel.name == "methanol";
  const double whole = (out.methanol ? car::methanol() : car::ethanol()).composition.oxygen;
  out.alcohol = std::clamp(fuel.composition.oxygen / whole, 0.0, 1.0);
  out.reid = sheet.supply.vapour_pressure.value;
  return out;
}

// The rating with a curve of its own; a curve that was filled in is remade from rating and fall.
constexpr double kFall = 0.35, kFallHalf = 0.15;  // of flow, for each rated pressure (practice)

void set_curve(Pump* pump, VolumeFlow rated, PressureStep at, double fall) {
  pump->pressure = {PressureStep{0}, at};
  pump->flow = {(1 + fall) * rated, rated};
}

Pump pump_of(const car::Sheet& sheet) {
  const car::Injection& i = sheet.injection;
  const car::Supply& s = sheet.supply;
  Pump out;
  out.rated = i.pump_voltage.value;
  out.count = s.pump_count.value;
  out.current = s.pump_current.value;
  out.current_pressure = i.pump_pressure.value;
  if (given(s.pump_curve_flow.source)) {
    out.pressure = s.pump_curve_pressure.values;
    out.flow = s.pump_curve_flow.values;
  } else {
    set_curve(&out, i.pump_flow.value, i.pump_pressure.value, kFall);
  }
  return out;
}

bool wires_given(const car::Supply& s) {
  return given(s.wire_area.source) || given(s.wire_length.source) ||
         given(s.ground_length.source) || given(s.contact_drop.source);
}
bool drop_given(const car::Sheet& sheet) {
  return given(sheet.injection.pump_wiring_drop.source) || given(sheet.supply.pump_volts.source);
}

// Contacts take what copper leaves of the drop; where copper alone would lose more, there must be
// more copper.
void set_drop(System& s, Voltage drop, const Pump& pump) {
  const PressureStep at = s.regulator.setting + s.filter.loss;
  const Resistance all{drop.si / std::max(0.1, pump_current(pump, at).si)};
  const Resistance copper = wire_resistance(s.wiring);
  constexpr double kMostCopper = 0.7;
  if (copper.si > kMostCopper * all.si && all.si > 0)
    s.wiring.area = (copper.si / (kMostCopper * all.si)) * s.wiring.area;
  s.wiring.contacts = all - wire_resistance(s.wiring);
}

Wiring wires_of(const car::Supply& s) {
  return {s.charging_voltage.value, s.wire_area.value, s.wire_length.value + s.ground_length.value,
          Resistance{0}};
}

Injectors injectors_of(const car::Sheet& sheet) {
  const car::Injection& i = sheet.injection;
  Injectors out;
  out.rated = i.injector_flow.value;
  out.rated_pressure = i.injector_pressure.value;
  out.rated_density = i.rated_density.value;
  out.match = sheet.supply.injector_match.values;
  out.dead_time = i.dead_time.value;
  out.dead_time_voltage = i.dead_time_voltage.value;
  out.most_duty = sheet.supply.most_duty.value;
  return out;
}

System system_of(const car::Sheet& sheet, const car::Fuel& fuel) {
  const car::Injection& i = sheet.injection;
  const car::Supply& su = sheet.supply;
  System s;
  s.arrangement = {i.arrangement.value == car::InjectionArrangement::ports,
                   sheet.engine.cylinders.value, i.injector_count.value, i.squirts_per_cycle.value};
  s.injectors = injectors_of(sheet);
  s.regulator.follows_manifold = i.regulator_reference.value == car::RegulatorReference::manifold;
  s.regulator.setting = i.regulator_pressure.value;
  s.regulator.at_tank = su.regulator_place.value == car::RegulatorPlace::tank;
  s.regulator.return_hose = {su.return_length.value, su.return_diameter.value};
  s.pump = pump_of(sheet);
  s.hose = {su.hose_length.value, su.hose_diameter.value};
  s.filter = {su.filter_loss.value, s.pump.count * i.pump_flow.value};
  s.inlet.suction = {su.suction_length.value, su.suction_diameter.value};
  constexpr double kDeep_Pa = 350;  // 5 cm of fuel
  if (su.pump_place.value == car::PumpPlace::tank) s.inlet.height = PressureStep{kDeep_Pa};
  s.lift = {su.lift_flow.value, su.surge_volume.value};
  s.liquid = liquid_of(sheet, fuel);
  s.tank = su.fuel_temperature.value;
  s.ambient = sheet.place.pressure.value;
  s.stoichiometric = sheet.fuel.stoichiometric.value;
  s.lambda = sheet.wishes.full_throttle_mixture.value.value;
  s.wiring = wires_of(su);
  if (drop_given(sheet) || !wires_given(su)) {
    set_drop(s, i.pump_wiring_drop.value, s.pump);
  } else {
    const Current all = s.pump.count * s.pump.current;
    s.wiring.contacts = Resistance{su.contact_drop.value.si / all.si};
  }
  return s;
}

class List {
 public:
  explicit List(std::vector<Unknown>* out) : out_(out) {}
  void add(const char* id, const char* name, std::function<void(System&, double)> move) {
    out_->push_back({id, name, std::move(move)});
  }
  // A field that is multiplied.
  template <class Field>
  void scaled(const char* id, const char* name, double half_share, Field field) {
    if (half_share <= 0) return;
    add(id, name, [half_share, field](System& s, double z) {
      auto& value = field(s);
      value = factor(half_share, z) * value;
    });
  }

 private:
  std::vector<Unknown>* out_;
};

void injector_unknowns(List& out, const car::Sheet& sheet) {
  const car::Injection& i = sheet.injection;
  out.scaled(
      "injector.flow", "injector flow", share(i.injector_flow),
      [](System & s) -> auto& { return s.injectors.rated; });
  out.scaled(
      "injector.pressure", "pressure of that flow", share(i.injector_pressure),
      [](System & s) -> auto& { return s.injectors.rated_pressure; });
  out.scaled(
      "injector.density", "density of the rated fluid", share(i.rated_density),
      [](System & s) -> auto& { return s.injectors.rated_density; });
  out.scaled(
      "injector.dead_time", "dead time", share(i.dead_time),
      [](System & s) -> auto& { return s.injectors.dead_time; });
  out.scaled(
      "injector.opens", "voltage at which injectors open", 0.18,
      [](System & s) -> auto& { return s.injectors.opens; });
  out.scaled(
      "injector.least_pulse", "shortest steady pulse", 0.35,
      [](System & s) -> auto& { return s.injectors.least_pulse; });
  out.add("injector.pressure_effect", "dead time against pressure", [](System& s, double z) {
    s.injectors.pressure_effect = std::max(0.0, s.injectors.pressure_effect + 0.1 / k95 * z);
  });
  const double each = sheet.supply.injector_match.tolerance;
  for (std::size_t k = 0; k < sheet.supply.injector_match.values.size(); ++k) {
    out.add(fmt::format("injector.match.{}", k + 1).c_str(), "one injector against another",
            [k, each](System& s, double z) { s.injectors.match[k] *= factor(each, z); });
  }
  out.scaled(
      "regulator.setting", "regulator pressure", share(i.regulator_pressure),
      [](System & s) -> auto& { return s.regulator.setting; });
}

void pump_unknowns(List& out, const car::Sheet& sheet, bool delivered) {
  const car::Injection& i = sheet.injection;
  const car::Supply& su = sheet.supply;
  const bool curve = given(su.pump_curve_flow.source);
  if (!delivered) {
    out.scaled(
        "pump.flow", "pump flow as rated",
        curve ? su.pump_curve_flow.tolerance : share(i.pump_flow),
        [](System & s) -> auto& { return s.pump.strength; });
    out.scaled(
        "pump.voltage", "voltage of that rating", share(i.pump_voltage),
        [](System & s) -> auto& { return s.pump.rated; });
  }
  if (!curve) {
    const double at = share(i.pump_pressure);
    if (!delivered) {
      out.add("pump.pressure", "pressure of that rating", [at](System& s, double z) {
        for (PressureStep& p : s.pump.pressure) p = factor(at, z) * p;
      });
    }
    out.add("pump.fall", "how the pump's flow falls with pressure", [](System& s, double z) {
      const VolumeFlow rated = s.pump.flow.back();
      s.pump.flow.front() = std::max(1.02, 1 + kFall + kFallHalf / k95 * z) * rated;
    });
  }
  out.scaled(
      "pump.current", "pump current", share(su.pump_current),
      [](System & s) -> auto& { return s.pump.current; });
}

void wiring_unknowns(List& out, const car::Sheet& sheet) {
  const car::Supply& su = sheet.supply;
  out.scaled(
      "wiring.charging", "charging voltage", share(su.charging_voltage),
      [](System & s) -> auto& { return s.wiring.source; });
  if (drop_given(sheet) || !wires_given(su)) {
    const double half = share(sheet.injection.pump_wiring_drop);
    out.add("wiring.drop", "volts lost on the way to the pump", [half](System& s, double z) {
      const Resistance copper = wire_resistance(s.wiring);
      s.wiring.contacts = factor(half, z) * (copper + s.wiring.contacts) - copper;
    });
    return;
  }
  out.scaled(
      "wiring.area", "wire area", share(su.wire_area),
      [](System & s) -> auto& { return s.wiring.area; });
  out.scaled(
      "wiring.length", "wire length", share(su.wire_length),
      [](System & s) -> auto& { return s.wiring.length; });
  out.scaled(
      "wiring.contacts", "volts lost in relay, fuse and plugs", share(su.contact_drop),
      [](System & s) -> auto& { return s.wiring.contacts; });
}

void line_unknowns(List& out, const car::Sheet& sheet) {
  const car::Supply& su = sheet.supply;
  out.scaled(
      "hose.length", "hose length", share(su.hose_length),
      [](System & s) -> auto& { return s.hose.length; });
  out.scaled(
      "hose.diameter", "hose bore", share(su.hose_diameter),
      [](System & s) -> auto& { return s.hose.diameter; });
  out.scaled(
      "hose.fittings", "bends and fittings", 0.7,
      [](System & s) -> auto& { return s.hose.fittings; });
  out.scaled(
      "filter.loss", "filter", std::min(1.2, share(su.filter_loss)),
      [](System & s) -> auto& { return s.filter.loss; });
  out.scaled(
      "return.diameter", "return hose bore", share(su.return_diameter),
      [](System & s) -> auto& { return s.regulator.return_hose.diameter; });
  out.scaled(
      "inlet.diameter", "suction hose bore", share(su.suction_diameter),
      [](System & s) -> auto& { return s.inlet.suction.diameter; });
  out.scaled(
      "inlet.length", "suction hose length", share(su.suction_length),
      [](System & s) -> auto& { return s.inlet.suction.length; });
  out.scaled(
      "inlet.needed", "pressure a pump needs to fill", 0.7,
      [](System & s) -> auto& { return s.inlet.needed; });
  out.scaled(
      "lift.flow", "lift pump", share(su.lift_flow),
      [](System & s) -> auto& { return s.lift.flow; });
}

void fuel_unknowns(List& out, const car::Sheet& sheet) {
  const car::Supply& su = sheet.supply;
  out.scaled(
      "fuel.density", "fuel density", share(sheet.fuel.density),
      [](System & s) -> auto& { return s.liquid.density; });
  out.scaled(
      "fuel.stoichiometric", "fuel chemistry", share(sheet.fuel.stoichiometric),
      [](System & s) -> auto& { return s.stoichiometric; });
  out.scaled(
      "fuel.lambda", "mixture at full throttle", share(sheet.wishes.full_throttle_mixture),
      [](System & s) -> auto& { return s.lambda; });
  const double hot = su.fuel_temperature.tolerance.si;
  out.add("fuel.temperature", "fuel temperature",
          [hot](System& s, double z) { s.tank = s.tank + TemperatureStep{hot / k95 * z}; });
  const double reid = share(su.vapour_pressure);
  out.add("fuel.vapour_pressure", "vapour pressure", [reid](System& s, double z) {
    s.liquid.reid = absolute(factor(reid, z) * s.liquid.reid.from_zero);
  });
}

}  // namespace

void set_strength(System& s, const Delivery& measured) {
  s.pump.strength = 1;
  const PressureStep p = pump_works_against(s, gauge(measured.rail), measured.flow);
  const VolumeFlow would = pump_flow(s.pump, p, measured.volts);
  constexpr double kLeast = 0.02, kMost = 50;
  s.pump.strength = would.si > 0 ? std::clamp(measured.flow / would, kLeast, kMost) : kMost;
}

Result<Supplied> supply_of(const car::Sheet& sheet) {
  FW_TRY(const car::Fuel fuel, car::fuel_named(sheet.fuel.name.value));
  Supplied out;
  out.system = system_of(sheet, fuel);
  const car::Supply& su = sheet.supply;
  if (given(su.delivery_flow.source)) {
    out.delivery = {su.delivery_flow.value, su.delivery_pressure.value, su.delivery_volts.value};
    // 0.1 V of 13 and the pressure's own error are part of what the can says.
    out.delivery_share = std::hypot(share(su.delivery_flow), 1.2 * share(su.delivery_volts),
                                    0.35 * share(su.delivery_pressure));
    set_strength(out.system, *out.delivery);
  }
  const double rated = given(su.pump_curve_flow.source) ? su.pump_curve_flow.tolerance
                                                        : share(sheet.injection.pump_flow);
  constexpr double kLeast = 0.005;
  out.strength_sd = std::max(kLeast, (out.delivery ? out.delivery_share : rated) / k95);
  List list(&out.unknowns);
  injector_unknowns(list, sheet);
  pump_unknowns(list, sheet, out.delivery.has_value());
  wiring_unknowns(list, sheet);
  line_unknowns(list, sheet);
  fuel_unknowns(list, sheet);
  return out;
}

System drawn(const Supplied& from, const std::vector<double>& z) {
  EXPECTS(z.size() == from.unknowns.size() + 1);
  System s = from.system;
  for (std::size_t k = 0; k < from.unknowns.size(); ++k)
    from.unknowns[k].move(s, std::clamp(z[k], -kMost_z, kMost_z));
  if (from.delivery) {
    Delivery d = *from.delivery;
    d.flow = factor(from.delivery_share, z.back()) * d.flow;
    set_strength(s, d);
  }
  return s;
}

}  // namespace fuelwright::physics::supply
