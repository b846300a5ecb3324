#include "advice/drive_plan/on_road.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "base/contract.h"

namespace fuelwright::advice {
namespace {

constexpr double kGravity = 9.80665;  // m/s2, standard
constexpr double kDryAir = 287.05;    // J/(kg K)
constexpr double kIntake_k = 293.15;  // for which the table's VE holds
constexpr double kDriveline = 0.92;   // common practice, no source
constexpr double kTurning = 1.04;     // wheels and shafts, per mass (common practice, no source)
constexpr double kEnergyPerAir = 2.93e6;  // J per kg of air at lambda 1
constexpr double kOfFuelAirCycle = 0.80;
constexpr double kCycleExponent = 0.28;
constexpr double kLowestHeld_pa = 25e3;
constexpr double kUsualVe = 0.88, kFallsWithVacuum = 0.08;  // common practice, no source
constexpr double kUsualIdle_pa = 30e3;  // of a mild cam (common practice, no source)
constexpr double kIdleHigher = 1.5;     // of it, in gear, with cold oil, belts (from memory)
constexpr int kIdles = 4;
constexpr double kLow_pa = 30e3, kHigh_pa = 60e3, kLeast_pa = 5e3;
constexpr int kHalvings = 40;

}  // namespace

double OnRoad::ratio(int gear) const {
  const auto& gears = sheet_->car.gears.values;
  EXPECTS(gear >= 1 && gear <= static_cast<int>(gears.size()));
  return gears[static_cast<std::size_t>(gear - 1)] * sheet_->car.axle.value /
         sheet_->car.tyre_radius.si();
}

Speed OnRoad::road_speed(EngineSpeed n, int gear) const {
  return {n.rpm * std::numbers::pi / 30 / ratio(gear)};
}

EngineSpeed OnRoad::engine_speed(Speed v, int gear) const {
  return {v.si * ratio(gear) * 30 / std::numbers::pi};
}

double OnRoad::ve(EngineSpeed n, AbsolutePressure manifold) const {
  if (ve_) return ve_->at({.speed = n, .map = manifold, .ambient = ambient()});
  const double vacuum = ambient().from_zero.si / manifold.from_zero.si - 1;
  return kUsualVe * std::max(1 - kFallsWithVacuum * vacuum, 0.4);
}

double OnRoad::share_low(AbsolutePressure computed) {
  return std::clamp((kHigh_pa - computed.from_zero.si) / (kHigh_pa - kLow_pa), 0.0, 1.0);
}

// The inverse of (drive_plan.8).
double OnRoad::computed_pa(AbsolutePressure manifold) const {
  const double p = manifold.from_zero.si, low = seen_.low.si, high = seen_.high.si;
  if (p <= kLow_pa + low) return std::max(p - low, kLeast_pa);
  if (p >= kHigh_pa + high) return p - high;
  const double span = kHigh_pa - kLow_pa;
  return kLow_pa + (p - kLow_pa - low) * span / (span + high - low);
}

Torque OnRoad::torque(EngineSpeed n, AbsolutePressure manifold) const {
  const double p = computed_pa(manifold);
  const double k = n.rpm / 1000;
  const double efficiency =
      kOfFuelAirCycle * (1 - std::pow(sheet_->engine.compression.value, -kCycleExponent));
  const double air = ve(n, absolute(p * pascal)) * p / (kDryAir * kIntake_k);
  const double gross = efficiency * air * kEnergyPerAir;
  const double friction = 97e3 + 15e3 * k + 5e3 * k * k;                // (drive_plan.3)
  const double bmep = gross - (ambient().from_zero.si - p) - friction;  // (drive_plan.2)
  return {bmep * sheet_->engine.displacement.si() / (4 * std::numbers::pi)};
}

Torque OnRoad::asked_at(Speed v, double ratio, double acceleration, double grade) const {
  const car::Car& c = sheet_->car;
  const double density =
      ambient().from_zero.si / (kDryAir * sheet_->place.temperature.value.from_zero.si);
  const double weight = c.mass.si() * kGravity;
  const double along = 1 / std::sqrt(1 + grade * grade);
  const double force = 0.5 * density * c.drag.value * c.frontal_area.si() * v.si * v.si +
                       c.rolling_resistance.value * weight * along + weight * grade * along +
                       kTurning * c.mass.si() * acceleration;  // (drive_plan.1)
  return {force > 0 ? force / (ratio * kDriveline) : force * kDriveline / ratio};
}

Torque OnRoad::asked(EngineSpeed n, int gear, double acceleration, double grade) const {
  return asked_at(road_speed(n, gear), ratio(gear), acceleration, grade);
}

std::vector<AbsolutePressure> OnRoad::idle_pressures() const {
  if (seen_.idle) return {*seen_.idle};
  const auto p = pressure_for(sheet_->wishes.idle_speed.value, Torque{0});
  const double least = std::max(p ? p->from_zero.si : 0.0, kUsualIdle_pa);
  std::vector<AbsolutePressure> out;
  for (int i = 0; i < kIdles; ++i) {
    out.push_back(absolute(least * (1 + (kIdleHigher - 1) * i / (kIdles - 1)) * pascal));
  }
  return out;
}

AbsolutePressure OnRoad::lowest_held() { return absolute(kLowestHeld_pa * pascal); }

std::optional<AbsolutePressure> OnRoad::pressure_for(EngineSpeed n, Torque wanted) const {
  double low = kLowestHeld_pa, high = ambient().from_zero.si;
  if (torque(n, absolute(high * pascal)) < wanted) return std::nullopt;
  if (torque(n, absolute(low * pascal)) > wanted) return std::nullopt;
  for (int i = 0; i < kHalvings; ++i) {
    const double p = 0.5 * (low + high);
    (torque(n, absolute(p * pascal)) < wanted ? low : high) = p;
  }
  return absolute(0.5 * (low + high) * pascal);
}

std::optional<AbsolutePressure> OnRoad::pressure_of_hold(EngineSpeed n, int gear,
                                                         double grade) const {
  return pressure_for(n, asked(n, gear, 0, grade));
}

double OnRoad::acceleration(EngineSpeed n, int gear, AbsolutePressure manifold,
                            double grade) const {
  const double over = torque(n, manifold).si - asked(n, gear, 0, grade).si;
  return over * ratio(gear) * kDriveline / (kTurning * sheet_->car.mass.si());
}

}  // namespace fuelwright::advice
