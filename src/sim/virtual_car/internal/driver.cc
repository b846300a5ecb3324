#include "sim/virtual_car/internal/driver.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace fuelwright::sim::virtual_car {
namespace {

constexpr double kLookSoon_s = 0.35, kLookLater_s = 0.85;
constexpr double kIntegral_per_s2 = 0.12, kMostIntegral_m_s2 = 0.6;
constexpr double kMostAccel = 4.0, kMostBraking = 6.0;  // m/s2
constexpr double kBrakeFoot_s = 0.12;
constexpr double kStanding_m_s = 0.15, kStandingBrake_m_s2 = 2.5;
constexpr double kSettle_s = 1.2;    // between two shifts
constexpr double kTakeUp_s = 0.25;   // clutch after a shift
constexpr double kLaunchOver = 1.5;  // of idle speed, pulling away
constexpr double kLaunchGain_nm_rpm = 0.25;
constexpr double kLowShift = 0.33, kHighShift = 0.92;  // of the rev limit, gentle and hard
constexpr double kDownShift = 0.19;                    // labouring below
constexpr double kGivesUp_s = 60;                      // a sweep that does not get on
constexpr double kApproach_m_s2 = 1.3;                 // towards the start of a plan's step
constexpr double kNear_m_s = 0.5;
constexpr double kFeltMass = 1.05;
constexpr double kEarth_m_s2 = 9.80665;
constexpr double kShut_pa = 22e3;  // manifold pressure with the foot off, as felt
constexpr double kFullTorqueOf = 0.97;
// A dyno's brake that keeps the engine speed: force per mass of the car (m/s2 per m/s, and per s of
// it).
constexpr double kDyno_per_s = 4, kDyno_per_s2 = 4, kMostDyno_m_s2 = 12;
constexpr double kTrim_per_s = 0.8;  // of the foot that keeps a pressure

double rpm_per(double ratio) { return ratio * 30 / std::numbers::pi; }

}  // namespace

DriverAtWork::DriverAtWork(const Truth& truth, const Power& power, const Drivetrain& car,
                           const Task& task, double idle_rpm, double limit_rpm, std::uint64_t seed,
                           double dt_s)
    : truth_(truth),
      power_(power),
      car_(car),
      task_(task),
      idle_rpm_(idle_rpm),
      limit_rpm_(limit_rpm),
      dt_s_(dt_s),
      random_(seed, "driver"),
      unsteady_(truth.driver.unsteadiness, 1.2, dt_s),
      most_torque_nm_(152 * truth.engine.displacement.in(litre)) {}

DriverAtWork::Aim DriverAtWork::cycle_aim(const Cycle& cycle) const {
  const double length = std::max(cycle.length().si, 1.0);
  const auto at = [&](double ahead) {
    return cycle.speed_at({std::fmod(time_s_ + ahead, length)}).si;
  };
  return {.now_m_s = at(0), .soon_m_s = at(kLookSoon_s), .later_m_s = at(kLookLater_s)};
}

void DriverAtWork::next_step(bool driven) {
  ++step_;
  if (!driven) cut_short_.push_back(static_cast<int>(step_));
  step_s_ = held_s_ = 0;
  sweeping_ = false;
  trim_pa_ = 0;
}

DriverAtWork::Aim DriverAtWork::plan_aim(const car::Plan& plan) {
  if (step_ >= plan.steps.size()) {
    finished_ = true;
    return {};
  }
  const car::PlanStep& s = plan.steps[step_];
  step_s_ += dt_s_;
  Aim aim;
  if (s.kind == car::PlanStepKind::idle) {
    if (car_.speed_m_s() < kStanding_m_s) held_s_ += dt_s_;
    const double v = car_.speed_m_s() < kStanding_m_s ? 0.0 : car_.speed_m_s();
    aim.now_m_s = v;
    aim.soon_m_s = std::max(v - kApproach_m_s2 * kLookSoon_s, 0.0);
    aim.later_m_s = std::max(v - kApproach_m_s2 * kLookLater_s, 0.0);
    if (held_s_ >= s.time.si) next_step();
  } else {
    const int gear = std::min(s.gear, static_cast<int>(truth_.vehicle.gears.size())) - 1;
    const double per_speed = rpm_per(car_.ratio(gear));
    const double start = s.from.rpm / per_speed;
    aim.gear = gear;
    const bool dyno = s.kind == car::PlanStepKind::hold && s.map && in_gear(gear);
    // On a dyno the engine speed counts, whatever a converter slips.
    const double off = start - (dyno ? car_.rpm() / per_speed : car_.speed_m_s());
    const double change = std::clamp(off, -kApproach_m_s2, kApproach_m_s2);
    aim.now_m_s = std::max(car_.speed_m_s() + 0.3 * change, 0.0);
    aim.soon_m_s = aim.now_m_s + 0.3 * change;
    aim.later_m_s = aim.soon_m_s + (kLookLater_s - kLookSoon_s) * change;
    const bool there = std::abs(off) < kNear_m_s && gear_ == gear && shifting_s_ <= 0;
    if (s.kind == car::PlanStepKind::hold) {
      if (std::abs(off) < 2 * kNear_m_s) aim.now_m_s = aim.soon_m_s = aim.later_m_s = start;
      if (there) held_s_ += dt_s_;
      if (dyno && std::abs(off) < 2 * kNear_m_s) {
        aim.by_foot = true;
        aim.map_pa = s.map->from_zero.si;
        aim.dyno_over_m_s = -off;
      }
      if (held_s_ >= s.time.si) {
        next_step();
      } else if (step_s_ > s.time.si + kGivesUp_s) {
        next_step(false);
      }
      return aim;
    }
    if (!sweeping_ && there) {
      sweeping_ = true;
      held_s_ = 0;
    }
    if (sweeping_) {
      held_s_ += dt_s_;
      const double n = car_.rpm();
      aim.by_foot = s.kind == car::PlanStepKind::sweep;
      aim.foot_off = s.kind == car::PlanStepKind::coast;
      aim.map_pa = s.map ? s.map->from_zero.si : 0;
      const bool reached = s.until < s.from ? n <= s.until.rpm : n >= s.until.rpm;
      if (reached || held_s_ > kGivesUp_s || n > 0.995 * limit_rpm_) next_step(reached);
    } else if (step_s_ > 2 * kGivesUp_s) {
      next_step(false);
    }
  }
  return aim;
}

DriverAtWork::Aim DriverAtWork::aim() {
  if (const auto* cycle = std::get_if<Cycle>(&task_)) return cycle_aim(*cycle);
  return plan_aim(std::get<car::Plan>(task_));
}

void DriverAtWork::shift_to(int gear) {
  if (gear == gear_) return;
  gear_ = gear;
  shifting_s_ = truth_.vehicle.shift.si;
  since_shift_s_ = 0;
}

void DriverAtWork::choose_gear(const Aim& aim, double wanted_pa) {
  const int top = static_cast<int>(truth_.vehicle.gears.size()) - 1;
  const double v = car_.speed_m_s();
  const auto speed_in = [&](int gear) { return v * rpm_per(car_.ratio(gear)); };
  if (v < kStanding_m_s && aim.later_m_s < 0.5) {
    gear_ = 0;
    return;
  }
  if (shifting_s_ > 0 || since_shift_s_ < kSettle_s || aim.by_foot || aim.foot_off) return;
  if (aim.gear >= 0 && aim.gear != gear_) {
    // Towards the gear of the plan, as soon as it can be had.
    const int next = gear_ + (aim.gear > gear_ ? 1 : -1);
    if (next > gear_ ? speed_in(next) > 1.15 * idle_rpm_ && speed_in(gear_) > kLowShift * limit_rpm_
                     : speed_in(next) < 0.85 * limit_rpm_) {
      return shift_to(next);
    }
    const bool near = std::abs(aim.later_m_s - v) < 0.3;
    if (near && speed_in(aim.gear) > 1.1 * idle_rpm_ && speed_in(aim.gear) < 0.95 * limit_rpm_) {
      return shift_to(aim.gear);
    }
    return;
  }
  if (aim.gear >= 0) return;
  const double load = wanted_pa / truth_.weather.ambient.from_zero.si;
  const double demand = std::clamp((load - 0.55) / 0.45, 0.0, 1.0);
  const double up = limit_rpm_ * (kLowShift + (kHighShift - kLowShift) * demand * demand);
  if (gear_ < top && speed_in(gear_) > up && speed_in(gear_ + 1) > 1.35 * idle_rpm_) {
    return shift_to(gear_ + 1);
  }
  if (gear_ == 0) return;
  labouring_s_ = load > 0.97 && aim.soon_m_s > v + 0.4 ? labouring_s_ + dt_s_ : 0;
  const bool more = labouring_s_ > 0.6 && speed_in(gear_ - 1) < 0.8 * limit_rpm_;
  if (speed_in(gear_) < std::max(kDownShift * limit_rpm_, 1.2 * idle_rpm_) || more) {
    labouring_s_ = 0;
    shift_to(gear_ - 1);
  }
}

// Its brake only takes up: a pressure too low for the speed lets the car slow down. On its rollers
// neither air nor a hill holds the car back; rolling does.
double DriverAtWork::dyno_n(double over_m_s, double grade) {
  dyno_integral_m_s2_ =
      std::clamp(dyno_integral_m_s2_ + kDyno_per_s2 * over_m_s * dt_s_, 0.0, kMostDyno_m_s2);
  const double a = std::clamp(kDyno_per_s * over_m_s + dyno_integral_m_s2_, 0.0, kMostDyno_m_s2);
  const double v = car_.speed_m_s();
  const double density = air_density(truth_.weather);
  const double of_a_road = road_load_n(truth_.vehicle, density, v, grade) -
                           truth_.vehicle.rolling * truth_.vehicle.mass.si * kEarth_m_s2;
  return a * truth_.vehicle.mass.si - of_a_road;
}

// `unsteady`: what the foot gives over what it means to, whatever it follows.
double DriverAtWork::foot(const Aim& aim, double torque_nm, double coolant_k, double map_pa,
                          double unsteady) {
  const double n = car_.rpm();
  double wanted_pa = 0;
  if (aim.by_foot && shifting_s_ <= 0) {
    if (aim.map_pa <= 0) return 1;
    // Watches the gauge: pushes for what is missing, and learns what that takes.
    trim_pa_ = std::clamp(trim_pa_ + kTrim_per_s * (aim.map_pa - map_pa) * dt_s_, -15e3, 15e3);
    wanted_pa = unsteady * aim.map_pa + 0.5 * (aim.map_pa - map_pa) + trim_pa_;
  } else {
    if (torque_nm <= 0) return 0;
    wanted_pa = power_.map_for_torque_pa(n, unsteady * torque_nm, coolant_k);
  }
  const double ambient = truth_.weather.ambient.from_zero.si;
  if (wanted_pa > kFullTorqueOf * ambient) return 1;
  const double air =
      power_.intake(n, wanted_pa, truth_.air.reference_intake.from_zero.si, coolant_k).moist_kg_s;
  return power_.pedal_for_area(air / std::max(power_.flow_kg_s(1, wanted_pa), 1e-9));
}

void DriverAtWork::clutch(const Aim& aim, double force_n, double& torque_nm) {
  const double r = car_.ratio(gear_);
  const double locked_rpm = car_.speed_m_s() * rpm_per(r);
  const double launch = kLaunchOver * idle_rpm_;
  if (shifting_s_ > 0) {
    clutch_ = 0;
    torque_nm = 0;
  } else if (locked_rpm > launch || (locked_rpm > 1.08 * idle_rpm_ && car_.locked())) {
    clutch_ = std::min(clutch_ + dt_s_ / kTakeUp_s, 1.0);
  } else if (force_n > 0 && aim.later_m_s > kStanding_m_s) {
    const double through = force_n / (r * truth_.vehicle.driveline);
    // Gives the clutch back to an engine that bogs down.
    const double bogs = std::clamp((car_.rpm() / idle_rpm_ - 0.8) / 0.3, 0.0, 1.0);
    clutch_ = std::clamp(bogs * through / most_torque_nm_, 0.0, 0.9);
    torque_nm = std::max(through + kLaunchGain_nm_rpm * (launch - car_.rpm()), 0.0);
  } else {
    clutch_ = 0;
    torque_nm = 0;
  }
}

DriverAtWork::Doing DriverAtWork::step(double map_pa, double coolant_k, double grade) {
  time_s_ += dt_s_;
  since_shift_s_ += dt_s_;
  shifting_s_ -= dt_s_;
  const Aim a = aim();
  const double v = car_.speed_m_s();
  const bool standing = a.now_m_s < kStanding_m_s && a.later_m_s < kStanding_m_s;
  const double error = a.soon_m_s - v;
  integral_ = std::clamp(integral_ + kIntegral_per_s2 * error * dt_s_, -kMostIntegral_m_s2,
                         kMostIntegral_m_s2);
  if (standing || shifting_s_ > 0) integral_ *= 0.98;
  const double ahead = (a.later_m_s - a.now_m_s) / kLookLater_s;
  const double accel =
      std::clamp(ahead + truth_.driver.eagerness * error + integral_, -kMostBraking, kMostAccel);
  const double mass = kFeltMass * truth_.vehicle.mass.si;
  const double load = road_load_n(truth_.vehicle, air_density(truth_.weather), v, grade);
  const double force = mass * accel + load;

  const double r = car_.ratio(gear_);
  const double n = std::max(car_.rpm(), 400.0);
  double torque =
      force > 0 ? force / (r * truth_.vehicle.driveline) : force * truth_.vehicle.driveline / r;
  const double dragging = std::min(power_.torque_nm(n, kShut_pa, 0, 20, 0, coolant_k), 0.0);
  double brake = torque < dragging ? (dragging - torque) * r : 0.0;
  const double wanted_pa = torque > 0 ? power_.map_for_torque_pa(n, torque, coolant_k) : 0;
  choose_gear(a, wanted_pa);
  if (truth_.vehicle.automatic) {
    const double turbine = v * r, engine = n * std::numbers::pi / 30;
    // What the converter gives anyway is held by the brake.
    const double creeping =
        car_.converter_nm(engine, turbine) * Drivetrain::multiplication(turbine / engine) * r;
    if (torque <= 0) brake = std::max(creeping - force, 0.0);
    torque /= torque > 0 ? Drivetrain::multiplication(turbine / engine) : 1;
    if (shifting_s_ > 0) torque *= 0.6;
  } else {
    clutch(a, force, torque);
  }
  if (a.by_foot || a.foot_off) brake = a.dyno_over_m_s ? dyno_n(*a.dyno_over_m_s, grade) : 0;
  if (!a.dyno_over_m_s) dyno_integral_m_s2_ = 0;
  if (standing) brake = std::max(brake, kStandingBrake_m_s2 * truth_.vehicle.mass.si);
  if (a.foot_off) torque = 0;
  const double unsteady = 1 + unsteady_.step(random_);
  const double wanted = standing ? 0 : foot(a, torque, coolant_k, map_pa, unsteady);
  // On the limiter he lifts.
  const double lifted = car_.rpm() > 0.99 * limit_rpm_ && !a.by_foot ? 0.0 : wanted;
  pedal_ += (lifted - pedal_) * (1 - std::exp(-dt_s_ / (0.5 * truth_.driver.reaction.si)));
  if (shifting_s_ > 0 && !truth_.vehicle.automatic) pedal_ *= 0.9;
  if (lifted <= 0 && pedal_ < 0.004) pedal_ = 0;
  brake_n_ += (brake - brake_n_) * (1 - std::exp(-dt_s_ / kBrakeFoot_s));
  Doing out;
  out.pedal = pedal_;
  out.feet = {.gear = gear_, .clutch = clutch_, .brake_n = brake_n_, .drive = true};
  out.wanted_m_s = a.by_foot || a.foot_off ? -1 : a.now_m_s;
  out.finished = finished_;
  return out;
}

}  // namespace fuelwright::sim::virtual_car
