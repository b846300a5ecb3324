#include "advice/first_start/numbers.h"

#include <algorithm>
#include <cmath>

#include "advice/first_calibration/orifice.h"
#include "base/contract.h"
#include "car/build/derived.h"
#include "car/fuel/fuel.h"
#include "physics/combustion/combustion.h"

namespace fuelwright::advice {
namespace {

using physics::Interval;

constexpr double kAirGas = 287.05;                 // J/(kg K), dry air
constexpr double kLeast_n = 1.20, kMost_n = 1.30;  // of compression by the starter (from memory)
constexpr double kCrankingVe = 0.75;  // as the first calibration takes it (common practice)
constexpr double kLow_V = 9.0, kUsual_V = 10.0, kHigh_V = 11.0;  // while cranking (common practice)
// Metal and coolant that warm with the engine, a litre of displacement; share of the fuel's heat
// that goes there before the thermostat opens (both from memory).
constexpr double kLeastHeat = 18e3 / 1e-3, kMostHeat = 28e3 / 1e-3;  // J/(K m3)
constexpr double kLeastShare = 0.35, kMostShare = 0.50;

double flow_function(double r) {
  // A flow of 1 kg/s through Cd A at p0 = T0 R = 1 is its inverse; (first.16) has the formula.
  const Area area = effective_area(1.0 * kg_per_s, absolute(1e5 * pascal),
                                   absolute(r * 1e5 * pascal), kelvin(300));
  return std::sqrt(kAirGas * 300) / (1e5 * area.si);
}

}  // namespace

double stroke_left_at_intake_closing(const car::Sheet& sheet) {
  const car::Cam& cam = sheet.cam;
  const double closes = std::clamp(
      cam.intake_centreline.value.degrees() + cam.intake_advertised.value.degrees() / 2, 185.0,
      300.0);  // after the intake top dead centre
  const car::Engine& e = sheet.engine;
  const physics::CylinderShape shape{e.bore.value, e.stroke.value, e.rod_length.value,
                                     e.compression.value};
  const double swept = physics::swept_volume(shape).si;
  const double clearance = swept / (e.compression.si() - 1);
  // Before firing top dead centre by 360 - closes: volume is the same on both sides of it.
  return (physics::cylinder_volume(shape, crank_degrees(360 - closes)).si - clearance) / swept;
}

Interval cranking_compression_pa(const car::Sheet& sheet, AbsolutePressure station) {
  const double p = station.from_zero.si;
  const double ratio =
      1 + (sheet.engine.compression.si() - 1) * stroke_left_at_intake_closing(sheet);
  const auto gauge = [&](double n) { return p * std::pow(ratio, n) - p; };  // (first_start.1)
  return {gauge(kLeast_n), gauge(0.5 * (kLeast_n + kMost_n)), gauge(kMost_n)};
}

Interval cranking_speed_rpm(Temperature air) {
  return in_celsius(air) < 0 ? Interval{100, 150, 200} : Interval{150, 200, 250};
}

AbsolutePressure drawn_down_to(Area area, Volume displacement, EngineSpeed speed,
                               AbsolutePressure station, Temperature air) {
  EXPECTS(area.si > 0 && displacement.si > 0 && speed.rpm > 0);
  const double root = std::sqrt(kAirGas * air.from_zero.si);
  // Both sides over p_s: area psi(r) sqrt(R T) = eta V_d N/120 r                 (first_start.2)
  const double passes = area.si * root;
  const double draws = kCrankingVe * displacement.si * speed.rpm / 120;
  double low = 1e-3, high = 1 - 1e-6;  // passes more at the low end, draws more at the high one
  for (int i = 0; i < 60; ++i) {
    const double r = 0.5 * (low + high);
    (passes * flow_function(r) > draws * r ? low : high) = r;
  }
  return absolute(0.5 * (low + high) * station.from_zero);
}

std::optional<Interval> cranking_map_pa(const car::Sheet& sheet,
                                        const car::Calibration& calibration,
                                        AbsolutePressure station, Temperature air) {
  const car::Curve* idle_air = calibration.find(car::CurveWhat::idle_air);
  const double* idle_map = calibration.find(car::SettingWhat::idle_pressure);
  if (!idle_air || !idle_map) return std::nullopt;
  const double reference = sheet.place.pressure.si();
  const double downstream = std::min(*idle_map, 0.97 * reference);
  const Area area =
      effective_area(idle_air->at(air.from_zero.si) * kg_per_s, absolute(reference * pascal),
                     absolute(downstream * pascal), air);
  const Interval n = cranking_speed_rpm(air);
  const auto at = [&](double speed, double open) {
    return drawn_down_to(open * area, sheet.engine.displacement.value, rpm(speed), station, air)
        .from_zero.si;
  };
  // The passage is known to a third: a stop that is set by hand, a worn throttle (practice).
  constexpr double kOpen = 1.33;
  return Interval{at(n.high, 1 / kOpen), at(n.middle, 1), at(n.low, kOpen)};
}

RailPressure rail_at(const car::Sheet& sheet, AbsolutePressure map, AbsolutePressure station) {
  const car::Injection& in = sheet.injection;
  const bool follows = in.regulator_reference.value == car::RegulatorReference::manifold;
  const AbsolutePressure tip =
      in.arrangement.value == car::InjectionArrangement::throttle ? station : map;
  const PressureStep gauge =
      in.regulator_pressure.value + (follows ? map - station : PressureStep{});
  return {gauge + (station - tip), gauge};
}

std::optional<CrankingPulse> cranking_pulse(const car::Sheet& sheet,
                                            const car::Calibration& calibration,
                                            Temperature coolant, AbsolutePressure map,
                                            AbsolutePressure station) {
  const car::Curve* fuel = calibration.find(car::CurveWhat::cranking_fuel);
  const double* flow = calibration.find(car::SettingWhat::injector_flow);
  const double* rated = calibration.find(car::SettingWhat::injector_pressure);
  if (!fuel || !flow || !rated) return std::nullopt;
  const car::Injection& in = sheet.injection;
  CrankingPulse out;
  out.fuel_kg = fuel->at(coolant.from_zero.si);
  out.across = rail_at(sheet, map, station).across;
  if (!(out.across.si > 0)) return std::nullopt;
  out.flow = *flow * std::sqrt(out.across.si / *rated) * kg_per_s;
  const double air = kCrankingVe * station.from_zero.si * car::cylinder_volume(sheet).si /
                     (kAirGas * coolant.from_zero.si);
  out.times_stoichiometric = out.fuel_kg * sheet.fuel.stoichiometric.si() / air;
  const double squirt = out.fuel_kg * sheet.engine.cylinders.value /
                        (in.injector_count.value * in.squirts_per_cycle.si());
  const car::Curve* dead = calibration.find(car::CurveWhat::dead_time);
  const auto dead_s = [&](double v) { return dead ? dead->at(v) : in.dead_time.si(); };
  const double doubt = in.injector_flow.tolerance_si() / in.injector_flow.si();
  const auto pulse = [&](double v, double share) {
    return squirt / (out.flow.si * (1 + share)) + dead_s(v);  // (first_start.3)
  };
  out.pulse_s = {pulse(kHigh_V, doubt), pulse(kUsual_V, 0), pulse(kLow_V, -doubt)};
  return out;
}

Interval warm_up_s(const car::Sheet& sheet, MassFlow air, car::Lambda mixture, Temperature from,
                   Temperature to) {
  const auto fuel = car::fuel_named(sheet.fuel.name.value);
  const double heating =
      physics::typical_heating_value((fuel ? *fuel : car::petrol()).composition).si;
  const double heat = air.si / (mixture.value * sheet.fuel.stoichiometric.si()) * heating;
  const double rise = std::max(0.0, (to - from).si) * sheet.engine.displacement.si();
  const auto time = [&](double stored, double share) { return stored * rise / (share * heat); };
  return {time(kLeastHeat, kMostShare),
          time(std::sqrt(kLeastHeat * kMostHeat), std::sqrt(kLeastShare * kMostShare)),
          time(kMostHeat, kLeastShare)};  // (first_start.4)
}

}  // namespace fuelwright::advice
