// Compress, burn, expand: one closed cycle of one cylinder (docs/theory/combustion.md, section 3).
#include <fmt/format.h>

#include <array>
#include <cmath>
#include <numbers>

#include "physics/combustion/internal/closed.h"

namespace fuelwright::physics {
namespace {

constexpr double kPi = std::numbers::pi;
constexpr double kDegree = kPi / 180;
constexpr double kHeadOverPiston = 1.2;     // area of the chamber's roof (from memory)
constexpr double kTemperatureSlack = 0.15;  // between the temperature given and the gas law
constexpr double kKernel = 0.002;           // burnt at once, so that the burnt zone has a mass
constexpr double kIntakeEnd = 0.65;  // between open (0) and shut (1.3) from BDC to intake closing

Error wrong(const char* what, double came, const char* expected) {
  return Error{ErrorCode::out_of_range, what,
               fmt::format("came {:.6g}, expected {}", came, expected)};
}
bool within(double x, double low, double high) { return x >= low && x <= high; }  // false for NaN

Status check_shape(const CylinderShape& s) {
  if (!within(s.bore.si, 0.03, 0.25)) return wrong("shape.bore", s.bore.in(mm), "30 to 250 mm");
  if (!within(s.stroke.si, 0.03, 0.30))
    return wrong("shape.stroke", s.stroke.in(mm), "30 to 300 mm");
  if (!within(s.rod.si / s.stroke.si, 1.1, 4)) {
    return wrong("shape.rod", s.rod.in(mm), "1.1 to 4 strokes");
  }
  if (!within(s.compression, 4, 20)) return wrong("shape.compression", s.compression, "4 to 20");
  return Done{};
}

double folded(CrankAngle a) { return a.rad > kPi ? a.rad - 4 * kPi : a.rad; }

Status check_charge(const ClosedCharge& c) {
  FW_CHECK(check_shape(c.shape));
  if (!within(c.speed.rpm, 200, 14000)) return wrong("speed", c.speed.rpm, "200 to 14,000 rpm");
  if (!within(c.air.si, 1e-6, 0.05)) return wrong("air", c.air.in(gram), "0.001 to 50 g");
  if (!within(c.residual, 0, 0.9)) return wrong("residual", c.residual, "0 to 0.9");
  if (!within(c.pressure.from_zero.si, 5e3, 600e3)) {
    return wrong("pressure", c.pressure.from_zero.in(kPa), "5 to 600 kPa");
  }
  if (!within(c.temperature.from_zero.si, 230, 900)) {
    return wrong("temperature", c.temperature.from_zero.si, "230 to 900 K");
  }
  if (!within(folded(c.closing), -kPi, -60 * kDegree)) {
    return wrong("closing", c.closing.degrees(), "-180 to -60 deg after firing TDC, or 720 more");
  }
  if (!within(c.exhaust_opening.rad, 60 * kDegree, kPi)) {
    return wrong("exhaust_opening", c.exhaust_opening.degrees(), "60 to 180 deg after firing TDC");
  }
  if (!within(c.exhaust_pressure.from_zero.si, 20e3, 600e3)) {
    return wrong("exhaust_pressure", c.exhaust_pressure.from_zero.in(kPa), "20 to 600 kPa");
  }
  if (!within(c.wall.from_zero.si, 230, 700)) {
    return wrong("wall", c.wall.from_zero.si, "230 to 700 K");
  }
  return Done{};
}

/// Work from bottom dead centre to intake closing and from exhaust opening to bottom dead centre.
///                                                                                (combustion.12)
struct Ends {
  double intake, exhaust;
};
Ends ends(const Start& s, double opening_pa, double exhaust_pa) {
  const double bottom = s.slider.clearance + s.swept;
  const double n = kIntakeEnd;
  const double intake =
      s.p * std::pow(s.v, n) * (std::pow(s.v, 1 - n) - std::pow(bottom, 1 - n)) / (1 - n);
  constexpr int kParts = 8;  // Simpson over the crank angle; far below the rule's own error
  const double step = (kPi - s.theta_open) / kParts;
  double exhaust = 0;
  double v = s.slider.volume(s.theta_open);
  for (int i = 1; i <= kParts; ++i) {
    const double next = s.slider.volume(s.theta_open + i * step);
    const double left = 1 - (i - 0.5) / kParts;
    exhaust += (exhaust_pa + (opening_pa - exhaust_pa) * left * left) * (next - v);
    v = next;
  }
  return {intake, exhaust};
}

/// Mean temperature by enthalpy of what leaves the cylinder: energy balance from exhaust opening to
/// the top, with Woschni's exhaust coefficient on the way.                         (combustion.13)
double exhaust_temperature(const WorkingGas& gas, const gas::ChargeGas& mixed, const Start& s,
                           const ClosedSolution& c, const ClosedCharge& charge, double end_work,
                           double heat_factor) {
  const double pe = charge.exhaust_pressure.from_zero.si, lnp = std::log(pe);
  const double time = (2 * kPi - s.theta_open) / s.speed_rad_s;
  const double area = s.slider.area(s.slider.clearance + s.swept / 2);
  const double wall = charge.wall.from_zero.si;
  const double available = c.end - end_work + pe * s.swept;
  double t = 0.8 * c.t_mean;
  for (int i = 0; i < 20; ++i) {
    const auto b = gas.tables->burnt.at(t, lnp);
    const auto u = mixed.unburnt(t);
    const double r = (c.burnt_mass * b.r + c.fresh_mass * mixed.unburnt_r()) / s.mass;
    const double stays = pe * s.slider.clearance / (r * t);
    const double h = 3.26 * heat_factor * std::pow(s.slider.bore, -0.2) * std::pow(pe / 1000, 0.8) *
                     std::pow(t, -0.55) * std::pow(6.18 * s.piston_speed, 0.8);
    const double lost = h * area * (t - wall) * time;
    const double have = c.burnt_mass * b.u + c.fresh_mass * u.u + (s.mass - stays) * r * t + lost;
    const double slope = c.burnt_mass * b.u_t + c.fresh_mass * u.cv + s.mass * r + h * area * time;
    const double d = std::clamp((available - have) / slope, -300.0, 300.0);
    t = std::clamp(t + d, 250.0, 3000.0);
    if (std::abs(d) < 1e-6) break;
  }
  return t;
}

}  // namespace

Slider::Slider(const CylinderShape& shape)
    : piston_area(kPi / 4 * shape.bore.si * shape.bore.si),
      crank(shape.stroke.si / 2),
      rod(shape.rod.si),
      clearance(piston_area * shape.stroke.si / (shape.compression - 1)),
      fixed_area(piston_area * (1 + kHeadOverPiston)),
      bore(shape.bore.si) {}

Volume swept_volume(const CylinderShape& s) { return kPi / 4 * (s.bore * s.bore * s.stroke); }
Volume cylinder_volume(const CylinderShape& s, CrankAngle after_tdc) {
  return Slider(s).volume(after_tdc.rad) * m3;
}

Status check_advance(CrankAngle advance) {
  if (!within(advance.degrees(), -60, 90)) {
    return wrong("advance", advance.degrees(), "-60 to 90 deg before TDC");
  }
  return Done{};
}

Result<Start> start_of(const WorkingGas& gas, const ClosedCharge& charge) {
  EXPECTS(gas.tables != nullptr);
  FW_CHECK(check_charge(charge));
  Start s{.slider = Slider(charge.shape)};
  const auto& tables = *gas.tables;
  s.swept = s.slider.piston_area * charge.shape.stroke.si;
  s.speed_rad_s = charge.speed.rpm * 2 * kPi / 60;
  s.piston_speed = 2 * charge.shape.stroke.si * charge.speed.rpm / 60;
  s.theta = folded(charge.closing);
  s.theta_open = charge.exhaust_opening.rad;
  const double fresh = charge.air.si / (1 - tables.fuel_per_fresh);
  s.fuel = fresh * tables.fuel_per_fresh;
  s.mass = fresh / (1 - charge.residual);
  s.p = charge.pressure.from_zero.si;
  s.v = s.slider.volume(s.theta);
  const double r = (1 - charge.residual) * tables.fresh.r + charge.residual * tables.frozen.r;
  s.t = s.p * s.v / (s.mass * r);
  if (!(std::abs(s.t / charge.temperature.from_zero.si - 1) <= kTemperatureSlack)) {
    return Error{
        ErrorCode::out_of_range, "temperature",
        fmt::format("came {:.4g} K, but {:.4g} mg of gas at {:.4g} kPa in {:.4g} cm3 is at "
                    "{:.4g} K; expected within 15 %",
                    charge.temperature.from_zero.si, s.mass * 1e6, s.p / 1000, s.v * 1e6, s.t)};
  }
  return s;
}

ClosedCycle cycle_of(const WorkingGas& gas, const gas::ChargeGas& mixed, const ClosedCharge& charge,
                     const Start& s, double advance_rad, const CombustionUnstated& unstated,
                     const CycleSettings& settings) {
  ClosedCycle out;
  out.burn = burn_of(gas, charge, s, advance_rad, unstated);
  const ClosedProblem problem{
      .slider = s.slider,
      .theta0 = s.theta,
      .theta_open = s.theta_open,
      .burn_start = std::max(out.burn.start.rad, s.theta),
      .burn_duration = out.burn.duration.rad,
      .completeness = out.burn.completeness,
      .kernel = kKernel,
      .mass = s.mass,
      .p0 = s.p,
      .t0 = s.t,
      .speed_rad_s = s.speed_rad_s,
      .piston_speed = s.piston_speed,
      .swept = s.swept,
      .wall_k = charge.wall.from_zero.si,
      .heat_factor = unstated.heat,
      .octane = settings.octane > 0 ? settings.octane + unstated.octane_shift : 0,
      .end_gas_shift_k = unstated.end_gas_shift_k,
      .grid = settings.grid};
  const ClosedSolution c = ClosedIntegrator<gas::ChargeGas>(mixed, problem).run();
  const Ends e = ends(s, c.p, charge.exhaust_pressure.from_zero.si);
  out.gross_imep = (c.work + e.intake + e.exhaust) / s.swept * pascal;  // (combustion.12)
  out.peak = absolute(c.peak * pascal);
  out.peak_at = {c.peak_at};
  out.opening_pressure = absolute(c.p * pascal);
  out.opening_temperature = kelvin(c.t_mean);
  out.exhaust = kelvin(exhaust_temperature(gas, mixed, s, c, charge, e.exhaust, unstated.heat));
  out.knock_integral = c.knock;
  const auto& tables = *gas.tables;
  out.combustion_efficiency =
      c.burnt_mass / s.mass * (1 - tables.left / (tables.fuel_per_fresh * tables.heating_value));
  out.ledger = {s.fuel * tables.heating_value * joule, c.start * joule, c.end * joule,
                c.work * joule, c.walls * joule};
  out.trapped = s.mass * kg;
  out.fuel = s.fuel * kg;
  return out;
}

Result<ClosedCycle> closed_cycle(const WorkingGas& gas, const ClosedCharge& charge,
                                 CrankAngle advance, const CombustionUnstated& unstated,
                                 const CycleSettings& settings) {
  FW_CHECK(check_advance(advance));
  EXPECTS(settings.grid > 0 && settings.grid <= 4);
  FW_TRY(const Start start, start_of(gas, charge));
  return cycle_of(gas, gas::ChargeGas(*gas.tables, charge.residual), charge, start, advance.rad,
                  unstated, settings);
}

HeatTransfer woschni(Length bore, AbsolutePressure p, Temperature mean, Speed gas_speed) {
  EXPECTS(bore.si > 0 && p.from_zero.si > 0 && mean.from_zero.si > 0 && gas_speed.si > 0);
  return {3.26 * std::pow(bore.si, -0.2) * std::pow(p.from_zero.in(kPa), 0.8) *
          std::pow(mean.from_zero.si, -0.55) * std::pow(gas_speed.si, 0.8)};  // (combustion.9)
}

}  // namespace fuelwright::physics
