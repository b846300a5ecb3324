// Sections engine and heads: keys, limits and the typical values of such engines.
// Every typical value here is common practice, no source, unless a line says otherwise.
#include <fmt/format.h>

#include <cmath>
#include <numbers>

#include "car/build/derived.h"
#include "car/build/internal/bind.h"

namespace fuelwright::car {
namespace {

constexpr double kBigCylinder_l =
    0.55;  // above it two valves and pushrods are usual, below it four valves

double cylinder_litres(const Sheet& s) { return cylinder_volume(s).in(litre); }
bool big_cylinders(const Sheet& s) { return cylinder_litres(s) > kBigCylinder_l; }

Guess no_name(const Filling&) { return guess_text("unnamed engine", "no name was given"); }

Guess banks(const Filling& f) {
  const int n = f.sheet.engine.cylinders.value;
  if (n >= 6) return guess(2, 0, "engines with six cylinders or more mostly have two banks");
  return guess(1, 0, "engines with up to five cylinders mostly stand in line");
}

Guess displacement(const Filling& f) {
  const Engine& e = f.sheet.engine;
  const double litres = swept_volume(e.bore.value, e.stroke.value, e.cylinders.value).in(litre);
  const double share =
      std::hypot(2 * e.bore.tolerance / e.bore.value, e.stroke.tolerance / e.stroke.value);
  return computed(litres, share * litres, "from bore, stroke and cylinders");
}

// Bore from the volume of a cylinder and bore/stroke = r: bore = (4 V r / pi)^(1/3).
Guess bore(const Filling& f) {
  const Engine& e = f.sheet.engine;
  const double v = cylinder_volume(f.sheet).si;
  if (f.has("engine.stroke")) {
    const double b = std::sqrt(4 * v / (std::numbers::pi * e.stroke.value.si)) * 1e3;
    const double share = std::hypot(e.displacement.tolerance / e.displacement.value,
                                    e.stroke.tolerance / e.stroke.value) /
                         2;
    return computed(b, share * b, "from displacement, stroke and cylinders");
  }
  const double ratio = big_cylinders(f.sheet) ? 1.15 : 0.98;
  const double b = std::cbrt(4 * v * ratio / std::numbers::pi) * 1e3;
  constexpr double kRatioSpread = 0.13;  // of bore/stroke; a third of it reaches the bore
  return guess(b, kRatioSpread / ratio / 3 * b,
               fmt::format("such cylinders have bore/stroke near {}", ratio));
}

Guess stroke(const Filling& f) {
  const Engine& e = f.sheet.engine;
  const double b = e.bore.value.si;
  const double s = 4 * cylinder_volume(f.sheet).si / (std::numbers::pi * b * b) * 1e3;
  const double share = std::hypot(e.displacement.tolerance / e.displacement.value,
                                  2 * e.bore.tolerance / e.bore.value);
  if (f.has("engine.bore")) return computed(s, share * s, "from displacement, bore and cylinders");
  return guess(s, share * s, "what displacement and a typical bore leave; tied to the bore");
}

Guess compression(const Filling& f) {
  if (big_cylinders(f.sheet))
    return guess(9.5, 1.0, "large two-valve street engines run 8.5 to 10.5");
  return guess(9.8, 1.0, "small petrol engines run 9 to 11");
}

Guess rod_length(const Filling& f) {
  const double s = f.sheet.engine.stroke.value.in(mm);
  return guess(1.66 * s, 0.13 * s, "rods are 1.5 to 1.8 strokes long");
}

std::vector<double> order_of(int cylinders, int bank_count) {
  switch (cylinders) {
    case 1:
      return {1};
    case 2:
      return {1, 2};
    case 3:
      return {1, 3, 2};
    case 4:
      return {1, 3, 4, 2};
    case 5:
      return {1, 2, 4, 5, 3};
    case 6:
      return bank_count == 1 ? std::vector<double>{1, 5, 3, 6, 2, 4}
                             : std::vector<double>{1, 2, 3, 4, 5, 6};
    case 8:
      return {1, 8, 4, 3, 6, 5, 7, 2};
    case 10:
      return {1, 10, 9, 4, 3, 6, 5, 8, 7, 2};
    case 12:
      return {1, 7, 5, 11, 3, 9, 6, 12, 2, 8, 4, 10};
    default:
      break;
  }
  std::vector<double> out;
  for (int i = 1; i <= cylinders; ++i) out.push_back(i);
  return out;
}

Guess firing_order(const Filling& f) {
  const Engine& e = f.sheet.engine;
  return guess_list(order_of(e.cylinders.value, e.banks.value), 0,
                    "the commonest order for this many cylinders; read it off the engine");
}

Guess valves(const Filling& f) {
  if (big_cylinders(f.sheet))
    return guess(2, 0, "large cylinders of street engines mostly have two valves");
  return guess(4, 2, "small cylinders mostly have four valves, older ones two");
}

int intake_valves(const Sheet& s) { return (s.heads.valves_per_cylinder.value + 1) / 2; }
int exhaust_valves(const Sheet& s) { return s.heads.valves_per_cylinder.value - intake_valves(s); }

Guess intake_valve(const Filling& f) {
  const double b = f.sheet.engine.bore.value.in(mm);
  if (two_valves(f.sheet))
    return guess(0.49 * b, 0.04 * b, "one intake valve is 0.45 to 0.53 of the bore");
  return guess(0.37 * b, 0.03 * b, "paired intake valves are 0.34 to 0.40 of the bore each");
}

Guess exhaust_valve(const Filling& f) {
  const double b = f.sheet.engine.bore.value.in(mm);
  if (exhaust_valves(f.sheet) == 1)
    return guess(0.40 * b, 0.04 * b, "one exhaust valve is 0.36 to 0.44 of the bore");
  return guess(0.32 * b, 0.03 * b, "paired exhaust valves are 0.29 to 0.35 of the bore each");
}

Guess flow_depression(const Filling&) {
  return guess(28, 0.3, "most flow benches are reported at 28 inches of water");
}

// Lift steps of 0.05 to 0.30 of the intake valve's diameter.
constexpr double kLiftSteps[] = {0.05, 0.10, 0.15, 0.20, 0.25, 0.30};
constexpr double kBenchAir = 1.2;  // kg/m3, 20 degC at sea level

Guess flow_lift(const Filling& f) {
  std::vector<double> out;
  for (const double step : kLiftSteps)
    out.push_back(step * f.sheet.heads.intake_valve.value.in(mm));
  return guess_list(out, 0, "lifts of 0.05 to 0.30 of the intake valve's diameter");
}

// Flow coefficient referred to the valve head's area against lift / diameter, street ports.
// It grows as the curtain area 4 L/D does, with a curtain coefficient of 0.75, and settles where
// the port chokes it: the two limits joined so that `settled` is reached at 0.30.
double port_coefficient(double lift_over_diameter, double settled) {
  constexpr double kCurtain = 0.75, kSharpness = 4;
  const double low = 4 * kCurtain * lift_over_diameter;
  const double port = std::pow(settled, -kSharpness) - std::pow(4 * kCurtain * 0.30, -kSharpness);
  return std::pow(std::pow(low, -kSharpness) + port, -1 / kSharpness);
}

// Q = n C A sqrt(2 dp / rho), per cylinder [cc/min of the key's unit: cfm].
std::vector<double> port_flow(const Sheet& s, Length valve, int count, double settled) {
  const double speed = std::sqrt(2 * s.heads.flow_depression.value.si / kBenchAir);
  const double area = std::numbers::pi / 4 * valve.si * valve.si * count;
  const double one_cfm = to_si(1, Kind::volume_flow, "cfm");
  std::vector<double> out;
  for (const Length lift : s.heads.flow_lift.values) {
    out.push_back(port_coefficient(lift / valve, settled) * area * speed / one_cfm);
  }
  return out;
}

Guess flow_intake(const Filling& f) {
  const Sheet& s = f.sheet;
  return guess_list(port_flow(s, s.heads.intake_valve.value, intake_valves(s), 0.53), 0.13,
                    "street ports flow 0.46 to 0.60 of the valve head's area at full lift");
}

Guess flow_exhaust(const Filling& f) {
  const Sheet& s = f.sheet;
  return guess_list(port_flow(s, s.heads.exhaust_valve.value, exhaust_valves(s), 0.51), 0.16,
                    "street exhaust ports flow 0.43 to 0.59 of the valve head's area at full lift");
}

}  // namespace

std::span<const Key> engine_keys() {
  using namespace bind;
  static const Key kKeys[] = {
      {.section = "engine",
       .key = "name",
       .about = "what you call it",
       .at = text<&Sheet::engine, &Engine::name>(),
       .typical = no_name},
      {.section = "engine",
       .key = "cylinders",
       .about = "how many",
       .at = number<&Sheet::engine, &Engine::cylinders>(),
       .kind = Kind::count,
       .low = 1,
       .high = 16},
      {.section = "engine",
       .key = "banks",
       .about = "rows of cylinders",
       .at = number<&Sheet::engine, &Engine::banks>(),
       .kind = Kind::count,
       .low = 1,
       .high = 4,
       .typical = banks},
      {.section = "engine",
       .key = "displacement",
       .about = "all cylinders together",
       .at = number<&Sheet::engine, &Engine::displacement>(),
       .kind = Kind::volume,
       .unit = "l",
       .low = 0.05,
       .high = 15,
       .tolerance = {.share = 0.01},
       .typical = displacement},
      {.section = "engine",
       .key = "bore",
       .about = "cylinder bore",
       .at = number<&Sheet::engine, &Engine::bore>(),
       .kind = Kind::length,
       .unit = "mm",
       .low = 40,
       .high = 200,
       .tolerance = {.step = 0.05},
       .typical = bore},
      {.section = "engine",
       .key = "stroke",
       .about = "piston stroke",
       .at = number<&Sheet::engine, &Engine::stroke>(),
       .kind = Kind::length,
       .unit = "mm",
       .low = 30,
       .high = 200,
       .tolerance = {.step = 0.1},
       .typical = stroke},
      {.section = "engine",
       .key = "compression",
       .about = "compression ratio",
       .at = number<&Sheet::engine, &Engine::compression>(),
       .kind = Kind::ratio,
       .low = 5,
       .high = 20,
       .tolerance = {.step = 0.3},
       .typical = compression},
      {.section = "engine",
       .key = "rod_length",
       .about = "connecting rod, centre to centre",
       .at = number<&Sheet::engine, &Engine::rod_length>(),
       .kind = Kind::length,
       .unit = "mm",
       .low = 50,
       .high = 400,
       .tolerance = {.step = 0.1},
       .typical = rod_length},
      {.section = "engine",
       .key = "firing_order",
       .about = "cylinder numbers in firing order",
       .at = numbers<&Sheet::engine, &Engine::firing_order>(),
       .kind = Kind::count,
       .low = 1,
       .high = 16,
       .typical = firing_order},
      {.section = "heads",
       .key = "valves_per_cylinder",
       .about = "intake and exhaust valves of one cylinder",
       .at = number<&Sheet::heads, &Heads::valves_per_cylinder>(),
       .kind = Kind::count,
       .low = 2,
       .high = 5,
       .typical = valves},
      {.section = "heads",
       .key = "intake_valve",
       .about = "head diameter of one intake valve",
       .at = number<&Sheet::heads, &Heads::intake_valve>(),
       .kind = Kind::length,
       .unit = "mm",
       .low = 10,
       .high = 90,
       .tolerance = {.step = 0.2},
       .typical = intake_valve},
      {.section = "heads",
       .key = "exhaust_valve",
       .about = "head diameter of one exhaust valve",
       .at = number<&Sheet::heads, &Heads::exhaust_valve>(),
       .kind = Kind::length,
       .unit = "mm",
       .low = 10,
       .high = 80,
       .tolerance = {.step = 0.2},
       .typical = exhaust_valve},
      {.section = "heads",
       .key = "flow_depression",
       .about = "pressure difference of the flow bench",
       .at = number<&Sheet::heads, &Heads::flow_depression>(),
       .kind = Kind::pressure_step,
       .unit = "inH2O",
       .low = 1,
       .high = 60,
       .tolerance = {.share = 0.01},
       .typical = flow_depression,
       .us = "inH2O"},
      {.section = "heads",
       .key = "flow_lift",
       .about = "valve lifts of the flow-bench table",
       .at = numbers<&Sheet::heads, &Heads::flow_lift>(),
       .kind = Kind::length,
       .unit = "mm",
       .low = 0.1,
       .high = 30,
       .typical = flow_lift},
      {.section = "heads",
       .key = "flow_intake",
       .about = "intake flow of one cylinder at those lifts",
       .at = numbers<&Sheet::heads, &Heads::flow_intake>(),
       .kind = Kind::volume_flow,
       .unit = "cfm",
       .low = 0.5,
       .high = 1000,
       .tolerance = {.share = 0.03},
       .typical = flow_intake},
      {.section = "heads",
       .key = "flow_exhaust",
       .about = "exhaust flow of one cylinder at those lifts",
       .at = numbers<&Sheet::heads, &Heads::flow_exhaust>(),
       .kind = Kind::volume_flow,
       .unit = "cfm",
       .low = 0.5,
       .high = 1000,
       .tolerance = {.share = 0.03},
       .typical = flow_exhaust},
  };
  return kKeys;
}

}  // namespace fuelwright::car
