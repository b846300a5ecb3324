#include "sim/road_drive/internal/driver.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "sim/road_drive/internal/torque.h"

namespace fuelwright::sim {
namespace {

constexpr double kAirDensity = 1.19;   // kg/m3
constexpr double kGravity = 9.80665;   // m/s2
constexpr double kDriveline = 0.92;    // efficiency from flywheel to tyre
constexpr double kTurningMass = 1.05;  // wheels and engine, per mass of the car
constexpr double kManifold_s = 0.11;   // foot and filling of the manifold
constexpr double kShift_s = 0.45;
constexpr double kSettle_s = 1.3;          // between two shifts
constexpr double kHardBraking = 2.2;       // m/s2
constexpr double kAccessories_nm_l = 1.3;  // alternator and pumps at idle, per litre
constexpr double kWarm_k = 333.15;         // before that nobody drives hard
constexpr double kMph = 0.44704;

}  // namespace

DriverAtWork::DriverAtWork(const Truth& truth, const Driver& habits, std::uint64_t seed,
                           double total_s)
    : truth_(truth),
      habits_(habits),
      random_(seed, 21),
      shake_random_(seed, 22),
      foot_(0.05, 1.5),
      grade_(habits.hills ? 0.018 : 0.0, 25.0),
      shake_(truth.vehicle.idle_shake, 0.4) {
  const int top = static_cast<int>(truth.vehicle.gears.size()) - 1;
  pace_ = std::pow(engine_per_speed(top) * 60 * kMph / 1950, 0.6);
  if (habits.pulls > 0) {
    pull_every_s_ = 0.6 * total_s / habits.pulls;
    next_pull_s_ = 0.35 * total_s;
  }
  now_ = {.speed_m_s = 0, .seconds = 12};
  motion_.rpm = truth.vehicle.idle.rpm;
  motion_.map_pa = 0.5 * (shut_pressure_pa(truth, motion_.rpm) + 50e3);
}

double DriverAtWork::engine_per_speed(int gear) const {
  const Vehicle& v = truth_.vehicle;
  return v.gears[static_cast<std::size_t>(gear)] * v.axle / v.tyre_radius.si * 30.0 /
         std::numbers::pi;
}

void DriverAtWork::plan_full_throttle(double from_rpm, double until_rpm, int gear) {
  const double start = from_rpm / engine_per_speed(gear);
  const double seconds = 4.0 + std::abs(start - motion_.speed_m_s) / 1.2;
  ahead_.push_back({.speed_m_s = start, .seconds = seconds, .accel = 1.4});
  ahead_.push_back({.full = true, .seconds = 14, .gear = gear, .until_rpm = until_rpm});
}

void DriverAtWork::plan_hold() {
  if (zone_left_s_ <= 0) {
    zone_left_s_ = random_.uniform(70, 160);
    const double pick = random_.uniform();
    zone_ = habits_.highway && pick > 0.72 ? Zone::highway
            : habits_.road && pick > 0.42  ? Zone::road
                                           : Zone::town;
    if (random_.chance(0.6)) {  // a crossing before the next road
      ahead_.push_back({.seconds = 14 + random_.uniform(4, 14)});
    }
  }
  Stretch s{.accel = random_.uniform(0.6, 1.8)};
  if (zone_ == Zone::highway) {
    s.speed_m_s = random_.uniform(55, 75) * kMph;
    s.seconds = random_.uniform(25, 70);
  } else if (zone_ == Zone::road) {
    s.speed_m_s = random_.uniform(32, 57) * kMph;
    s.seconds = random_.uniform(15, 45);
  } else {
    const bool stop = motion_.speed_m_s > 1 && random_.chance(0.5);
    s.speed_m_s = stop ? 0 : random_.uniform(14, 40) * kMph;
    s.seconds = stop ? 9 + random_.uniform(6, 22) : random_.uniform(10, 30);
  }
  ahead_.push_back(s);
}

void DriverAtWork::plan_next(double coolant_k) {
  const bool warm = coolant_k > kWarm_k;
  const double redline = truth_.vehicle.redline.rpm;
  if (warm && time_s_ > next_pull_s_) {
    next_pull_s_ += pull_every_s_;
    plan_full_throttle(random_.uniform(1900, 2500) * pace_, 0.97 * redline,
                       random_.chance(0.5) ? 1 : 2);
  } else if (warm && random_.chance(habits_.firm_accelerations)) {
    const double from = random_.uniform(1500, 2600) * pace_;
    const double until = std::min(random_.uniform(3000, 4400) * pace_, 0.85 * redline);
    plan_full_throttle(from, until, 1 + static_cast<int>(3 * random_.uniform()));
  } else {
    plan_hold();
  }
}

void DriverAtWork::shift_to(int gear) {
  if (gear == motion_.gear) return;
  motion_.gear = gear;
  shift_left_s_ = kShift_s;
  since_shift_s_ = 0;
}

void DriverAtWork::choose_gear(double wanted_accel) {
  if (shift_left_s_ > 0 || since_shift_s_ < kSettle_s) return;
  const int top = static_cast<int>(truth_.vehicle.gears.size()) - 1;
  const int gear = motion_.gear;
  const double n = motion_.speed_m_s * engine_per_speed(gear);
  if (now_.full) return;
  const bool steady = std::abs(now_.speed_m_s - motion_.speed_m_s) < 1.5;
  const double up = pace_ * (steady ? 1850 : 1900 + 900 * (now_.accel - 0.6));
  const bool labouring = motion_.map_pa > 86e3 && n < 3000 * pace_;
  if (gear < top && n > up && !labouring && wanted_accel > -0.4) {
    const double after = motion_.speed_m_s * engine_per_speed(gear + 1);
    if (after > 1200 * pace_) return shift_to(gear + 1);
  }
  if (gear == 0) return;
  const double after = motion_.speed_m_s * engine_per_speed(gear - 1);
  const bool more = motion_.map_pa > 93e3 && wanted_accel > 0.3 && after < 3600 * pace_;
  if (n < 1100 * pace_ || more) shift_to(gear - 1);
}

double DriverAtWork::wanted_accel() {
  if (now_.full) return 9;
  return std::clamp(0.45 * (now_.speed_m_s - motion_.speed_m_s), -kHardBraking, now_.accel);
}

double DriverAtWork::resistance_n(double dt_s) {
  const Vehicle& v = truth_.vehicle;
  const double grade = std::clamp(grade_.step(dt_s, random_), -0.05, 0.05);
  const double drag = 0.5 * kAirDensity * v.drag_area.si * motion_.speed_m_s * motion_.speed_m_s;
  return drag + v.mass.si * kGravity * (v.rolling + grade);  // (road_drive.11)
}

void DriverAtWork::turn_engine(double dt_s, double coolant_k, double wanted_accel) {
  const double locked = motion_.speed_m_s * engine_per_speed(motion_.gear);
  const double cold = std::clamp((333.15 - coolant_k) / 40.0, 0.0, 1.2);
  const double idle =
      truth_.vehicle.idle.rpm * (1.0 + shake_.step(dt_s, shake_random_)) + 300 * cold;
  const double launch = std::max(1350 * pace_, 1.2 * idle);
  double wanted = locked;
  double time_s = 0.15;
  motion_.clutch_shut = false;
  if (shift_left_s_ > 0) {
    wanted = std::max(locked, idle);
  } else if (locked >= launch || (locked > 1.1 * idle && motion_.gear > 0)) {
    motion_.clutch_shut = true;
  } else if (wanted_accel > 0.05 && now_.speed_m_s > 0) {
    wanted = launch;  // slipping while the car pulls away
    time_s = 0.25;
  } else {
    wanted = idle;
    time_s = 0.35;
  }
  if (motion_.clutch_shut && std::abs(motion_.rpm - locked) < 60) {
    motion_.rpm = locked;
  } else {
    motion_.clutch_shut = false;
    motion_.rpm += (wanted - motion_.rpm) * (1.0 - std::exp(-dt_s / time_s));
  }
}

void DriverAtWork::breathe(double dt_s, double coolant_k, double torque_nm) {
  const double low = shut_pressure_pa(truth_, motion_.rpm);
  const double high = open_pressure_pa(truth_, motion_.rpm);
  const double wanted = now_.full && shift_left_s_ <= 0
                            ? high
                            : pressure_for_torque_pa(truth_, motion_.rpm, torque_nm, coolant_k);
  motion_.map_pa += (wanted - motion_.map_pa) * (1.0 - std::exp(-dt_s / kManifold_s));
  motion_.map_pa = std::clamp(motion_.map_pa, low, high);
  motion_.throttle = throttle_for(truth_, motion_.rpm, motion_.map_pa);
}

void DriverAtWork::roll(double dt_s, double coolant_k, double wanted_accel, double resistance) {
  const Vehicle& v = truth_.vehicle;
  const double wheel_per_torque =
      engine_per_speed(motion_.gear) * std::numbers::pi / 30.0 * kDriveline;
  const double needed_n = v.mass.si * kTurningMass * wanted_accel + resistance;
  const bool driving = shift_left_s_ <= 0 && (motion_.clutch_shut || wanted_accel > 0.05) &&
                       (now_.speed_m_s > 0 || motion_.clutch_shut);
  double torque =
      driving ? needed_n / wheel_per_torque : kAccessories_nm_l * truth_.displacement.in(litre);
  const double foot = foot_.step(dt_s, random_);
  if (driving && torque > 0) torque *= 1.0 + foot;
  if (shift_left_s_ > 0) torque = 0;
  breathe(dt_s, coolant_k, torque);

  double force =
      driving ? brake_torque_nm(truth_, motion_.rpm, motion_.map_pa, coolant_k) * wheel_per_torque
              : 0.0;
  if (wanted_accel < 0 && force > needed_n) force = needed_n;  // brakes
  motion_.speed_m_s += (force - resistance) / (v.mass.si * kTurningMass) * dt_s;
  const bool stopped = now_.speed_m_s <= 0 && motion_.speed_m_s < 0.3;
  motion_.speed_m_s = stopped ? 0.0 : std::max(motion_.speed_m_s, 0.0);
}

Motion DriverAtWork::step(double dt_s, double coolant_k) {
  time_s_ += dt_s;
  stretch_s_ += dt_s;
  zone_left_s_ -= dt_s;
  since_shift_s_ += dt_s;
  shift_left_s_ -= dt_s;
  const bool reached = now_.full && motion_.rpm >= now_.until_rpm;
  if (reached || stretch_s_ > now_.seconds) {
    if (ahead_.empty()) plan_next(coolant_k);
    now_ = ahead_.front();
    ahead_.pop_front();
    stretch_s_ = 0;
    if (now_.full && motion_.speed_m_s * engine_per_speed(now_.gear) < 0.8 * now_.until_rpm) {
      shift_to(now_.gear);
    }
  }
  if (motion_.speed_m_s < 1.0 && motion_.gear != 0) motion_.gear = 0;
  const double wanted = wanted_accel();
  smooth_accel_ += (wanted - smooth_accel_) * (1.0 - std::exp(-dt_s / 0.35));
  const double accel = now_.full ? wanted : std::min(smooth_accel_, 3.0);
  if (now_.full) smooth_accel_ = 1.5;
  choose_gear(accel);
  const double resistance = resistance_n(dt_s);
  turn_engine(dt_s, coolant_k, accel);
  roll(dt_s, coolant_k, accel, resistance);
  return motion_;
}

}  // namespace fuelwright::sim
