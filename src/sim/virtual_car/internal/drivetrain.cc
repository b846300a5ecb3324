#include "sim/virtual_car/internal/drivetrain.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace fuelwright::sim::virtual_car {
namespace {

constexpr double kGravity = 9.80665;
constexpr double kTurningMass = 1.03;      // wheels, per mass of the car
constexpr double kTorquePerLitre_nm = 95;  // about the most an engine gives, for sizing
constexpr double kClutchReserve = 1.6;
constexpr double kLockBelow_rad_s = 4, kSlipWidth_rad_s = 8;
constexpr double kFullClutch = 0.95;
constexpr double kStallTorque = 2.0, kCouplingRatio = 0.88;  // of a converter (from memory)
constexpr double kFloor = 0.45;  // of idle speed: the driver's clutch saves the engine
constexpr double kRestBelow_m_s = 0.05;

double per_rpm() { return std::numbers::pi / 30; }

}  // namespace

double air_density(const Weather& w) {
  return w.ambient.from_zero.si / (287.05 * w.air.from_zero.si);
}

double road_load_n(const Vehicle& car, double density, double speed_m_s, double grade) {
  const double weight = car.mass.si * kGravity;
  const double along = 1 / std::sqrt(1 + grade * grade);
  const double rolling = speed_m_s > 0 ? car.rolling * weight * along : 0.0;
  return 0.5 * density * car.drag_area.si * speed_m_s * speed_m_s + rolling +
         weight * grade * along;  // (virtual_car.15)
}

Drivetrain::Drivetrain(const Truth& truth, double idle_rpm)
    : truth_(truth),
      density_(air_density(truth.weather)),
      full_clutch_nm_(kClutchReserve * kTorquePerLitre_nm * truth.engine.displacement.in(litre)),
      slowest_rad_s_(kFloor * idle_rpm * per_rpm()),
      engine_rad_s_(idle_rpm * per_rpm()) {
  const double stall = truth.vehicle.stall.rpm * per_rpm();
  converter_ = 0.8 * kTorquePerLitre_nm * truth.engine.displacement.in(litre) / (stall * stall);
}

double Drivetrain::rpm() const { return engine_rad_s_ / per_rpm(); }

double Drivetrain::ratio(int gear) const {
  const Vehicle& v = truth_.vehicle;
  return v.gears[static_cast<std::size_t>(gear)] * v.axle / v.tyre_radius.si;
}

double Drivetrain::multiplication(double speed_ratio) {
  const double s = std::clamp(speed_ratio, 0.0, 1.0);
  return std::max(kStallTorque - (kStallTorque - 1) * s / kCouplingRatio, 1.0);
}

double Drivetrain::converter_nm(double engine, double turbine) const {
  if (engine >= turbine) {
    const double s = turbine / std::max(engine, 1.0);
    return converter_ * engine * engine * (1 - std::pow(s, 6));  // (virtual_car.17)
  }
  const double s = engine / turbine;
  return -0.5 * converter_ * turbine * turbine * (1 - s * s * s);
}

double Drivetrain::holding(double brake_n) const {
  return brake_n + truth_.vehicle.rolling * truth_.vehicle.mass.si * kGravity;
}

double Drivetrain::resistance(double grade, double brake_n, double driving_n) const {
  if (speed_ > kRestBelow_m_s) {
    return road_load_n(truth_.vehicle, density_, speed_, grade) + brake_n;
  }
  // At rest brakes and rolling hold against whatever pushes, up to what they can.
  const double pushing = driving_n - road_load_n(truth_.vehicle, density_, 0, grade);
  return driving_n - pushing + std::clamp(pushing, -holding(brake_n), holding(brake_n));
}

void Drivetrain::roll(double force_n, double extra_mass_kg, double grade, double brake_n,
                      double dt_s) {
  const double mass = kTurningMass * truth_.vehicle.mass.si + extra_mass_kg;
  const double before = speed_;
  speed_ += (force_n - resistance(grade, brake_n, force_n)) / mass * dt_s;  // (virtual_car.16)
  // Brakes and rolling that hold what pushes bring it to rest.
  const double pushing = force_n - road_load_n(truth_.vehicle, density_, 0, grade);
  const bool held = std::abs(pushing) <= holding(brake_n);
  if (speed_ < kRestBelow_m_s && held) speed_ = 0;
  speed_ = std::max(speed_, 0.0);
  distance_ += 0.5 * (before + speed_) * dt_s;
}

void Drivetrain::manual(double torque_nm, const Feet& feet, double grade, double dt_s) {
  const double r = ratio(feet.gear);
  const double inertia = truth_.engine.inertia.si;
  const double efficiency = truth_.vehicle.driveline;
  const double slip = engine_rad_s_ - speed_ * r;
  locked_ = feet.clutch >= kFullClutch && (locked_ || std::abs(slip) < kLockBelow_rad_s);
  if (locked_) {
    const double gain = torque_nm > 0 ? efficiency : 1 / efficiency;
    roll(torque_nm * r * gain, inertia * r * r, grade, feet.brake_n, dt_s);
    engine_rad_s_ = speed_ * r;
    if (engine_rad_s_ < slowest_rad_s_) locked_ = false;
  } else {
    const double most = feet.clutch * full_clutch_nm_;
    const double through = most * std::tanh(slip / kSlipWidth_rad_s);
    // The clutch is stiff: implicit in the slip.
    const double stiff = most / kSlipWidth_rad_s * dt_s / inertia;
    engine_rad_s_ += (torque_nm - through) / inertia * dt_s / (1 + stiff);
    const double gain = through > 0 ? efficiency : 1 / efficiency;
    roll(through * r * gain, 0, grade, feet.brake_n, dt_s);
  }
  engine_rad_s_ = std::max(engine_rad_s_, slowest_rad_s_);
}

void Drivetrain::automatic(double torque_nm, const Feet& feet, double grade, double dt_s) {
  const double r = ratio(feet.gear);
  const double turbine = speed_ * r;
  double through = 0, out = 0;
  if (feet.drive) {
    through = converter_nm(engine_rad_s_, turbine);
    out = through > 0 ? through * multiplication(turbine / engine_rad_s_) : through;
  }
  const double stiff =
      2 * converter_ * std::max(engine_rad_s_, turbine) * dt_s / truth_.engine.inertia.si * 3;
  engine_rad_s_ += (torque_nm - through) / truth_.engine.inertia.si * dt_s / (1 + stiff);
  engine_rad_s_ = std::max(engine_rad_s_, slowest_rad_s_);
  const double gain = out > 0 ? truth_.vehicle.driveline : 1 / truth_.vehicle.driveline;
  roll(out * r * gain, 0, grade, feet.brake_n, dt_s);
  locked_ = feet.drive && turbine > 0.97 * engine_rad_s_;
}

void Drivetrain::step(double torque_nm, const Feet& feet, double grade, double dt_s) {
  if (truth_.vehicle.automatic) {
    automatic(torque_nm, feet, grade, dt_s);
  } else {
    manual(torque_nm, feet, grade, dt_s);
  }
}

}  // namespace fuelwright::sim::virtual_car
