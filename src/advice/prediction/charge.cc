#include "advice/prediction/charge.h"

#include <algorithm>
#include <cmath>

#include "base/contract.h"
#include "car/build/derived.h"
#include "car/fuel/fuel.h"

namespace fuelwright::advice {

namespace {

using namespace physics;

constexpr double kChargeGas = 288;  // J/(kg K), air with a little burnt gas

ValveTrain train_of(car::Tappet tappet) {
  return tappet == car::Tappet::direct ? ValveTrain::direct_overhead : ValveTrain::pushrod;
}

// Half the exhaust lobe before its centre, at 0.050 in: where the cylinder really begins to empty.
CrankAngle exhaust_opening(const car::Cam& cam) {
  const double centre =
      360 - (2 * cam.lobe_separation.value.degrees() - cam.intake_centreline.value.degrees());
  const double seat =
      0.5 * (cam.exhaust_duration_050.value.degrees() + cam.exhaust_advertised.value.degrees());
  return crank_degrees(std::clamp(centre - seat / 2, 70.0, 175.0));
}

struct Between {
  std::size_t low;
  double share;
};
template <class Values, class Number>
Between place(const Values& values, Number number, double x) {
  if (values.size() == 1 || x <= number(values.front())) return {0, 0};
  std::size_t i = 0;
  while (i + 2 < values.size() && x > number(values[i + 1])) ++i;
  const double a = number(values[i]), b = number(values[i + 1]);
  return {i, std::clamp((x - a) / (b - a), 0.0, 1.0)};
}

void add(AirNode* to, const AirNode& from, double w) {
  to->ve += w * from.ve;
  to->residual += w * from.residual;
  to->short_circuit += w * from.short_circuit;
  to->trapped_air = to->trapped_air + w * from.trapped_air;
  to->trapped = to->trapped + w * from.trapped;
  to->charge_pressure = to->charge_pressure + w * from.charge_pressure.from_zero;
  to->charge_temperature = to->charge_temperature + w * from.charge_temperature.from_zero;
  to->pumping = to->pumping + w * from.pumping;
  to->indicated = to->indicated + w * from.indicated;
  to->exhaust = to->exhaust + w * from.exhaust.from_zero;
  if (w > 1e-9) {
    to->reachable = to->reachable && from.reachable;
    to->converged = to->converged && from.converged;
  }
}

}  // namespace

Result<Burner> burner_of(const car::Sheet& sheet) {
  Burner b;
  FW_TRY(const car::Fuel fuel, car::fuel_named(sheet.fuel.name.value));
  FW_TRY(const BurningFuel burning, burning_fuel(fuel.composition));
  b.fuel = burning;
  const car::Engine& e = sheet.engine;
  b.engine.shape = {e.bore.value, e.stroke.value, e.rod_length.value, e.compression.value};
  // The swept volume is the stated one: it keeps the tie of a bore and stroke that were both filled
  // in.
  const double ratio = car::cylinder_volume(sheet) / swept_volume(b.engine.shape);
  b.engine.shape.stroke = ratio * b.engine.shape.stroke;
  b.engine.cylinders = e.cylinders.value;
  b.engine.valves = std::clamp(sheet.heads.valves_per_cylinder.value, 2, 5);
  b.engine.vee = e.banks.value > 1;
  b.engine.valve_lift = sheet.cam.intake_lift.value;
  b.engine.train = train_of(sheet.cam.tappet.value);
  b.chamber = b.engine.valves > 2 ? Chamber::pent_roof : Chamber::two_valve;
  b.spark.ron = sheet.fuel.octane.value;
  b.spark.ron_half_width = std::max(0.5, sheet.fuel.octane.tolerance);
  b.exhaust_opening = exhaust_opening(sheet.cam);
  b.ambient = sheet.place.pressure.value;
  b.stoichiometric = sheet.fuel.stoichiometric.value;
  return b;
}

ClosedCharge charge_at(const Burner& burner, const AirNode& node) {
  ClosedCharge c;
  c.shape = burner.engine.shape;
  c.chamber = burner.chamber;
  c.speed = node.speed;
  c.air = node.trapped_air;
  c.residual = std::clamp(node.residual, 0.0, 0.9);
  const double hot = std::clamp(node.charge_temperature.from_zero.si, 300.0, 890.0);
  c.closing = crank_degrees(std::clamp(node.closing.degrees() - 720, -179.0, -61.0));
  const Volume v = cylinder_volume(c.shape, c.closing);
  // The gas that air and residual make together: between nodes the trapped mass may say otherwise.
  const double gas_kg = c.air.si / (1 - c.residual);
  c.pressure = absolute(std::clamp(gas_kg * kChargeGas * hot / v.si, 5.1e3, 590e3) * pascal);
  // The fuel's vapour takes its share of the heat; with alcohol it is much of the charge.
  const double fuel = (1 - c.residual) / (1 + burner.stoichiometric);
  c.temperature = kelvin((1 - fuel) * hot);
  c.exhaust_opening = burner.exhaust_opening;
  c.exhaust_pressure = burner.ambient;
  return c;
}

AirNode node_between(const AirMap& map, EngineSpeed speed, AbsolutePressure pressure) {
  const Between x = place(map.speeds, [](EngineSpeed s) { return s.rpm; }, speed.rpm);
  const Between y = place(
      map.pressures, [](AbsolutePressure p) { return p.from_zero.si; }, pressure.from_zero.si);
  AirNode out;
  out.speed = speed;
  out.map = pressure;
  out.charge_pressure = absolute(0 * pascal);
  out.charge_temperature = out.exhaust = kelvin(0);
  const std::size_t x1 = std::min(x.low + 1, map.speeds.size() - 1),
                    y1 = std::min(y.low + 1, map.pressures.size() - 1);
  add(&out, map.node(x.low, y.low), (1 - x.share) * (1 - y.share));
  add(&out, map.node(x1, y.low), x.share * (1 - y.share));
  add(&out, map.node(x.low, y1), (1 - x.share) * y.share);
  add(&out, map.node(x1, y1), x.share * y.share);
  out.closing = map.node(x.low, y.low).closing;
  return out;
}

}  // namespace fuelwright::advice
