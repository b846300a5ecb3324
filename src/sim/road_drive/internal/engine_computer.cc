#include "sim/road_drive/internal/engine_computer.h"

#include <algorithm>
#include <cmath>

#include "base/contract.h"

namespace fuelwright::sim {
namespace {

constexpr double kRAir = 287.05;              // J/(kg K), dry air
constexpr double kHeatingFlow = 2000 * 50e3;  // rpm Pa, the flow at which the heating has halved
constexpr double kNoWarmUpFrom_k = 348.15;    // 75 degC
constexpr double kWarmUpSpan_k = 55;          // down to 20 degC
constexpr double kClosedLoopFrom_k = 333.15;  // 60 degC
constexpr double kClosedLoopAfter_s = 15;
constexpr double kClosedLoopAfterCut_s = 1.5;
constexpr double kCutAbove_rpm = 1500;
constexpr double kCutUntil_rpm = 1200;
constexpr double kCutBelow_pa = 30e3;
constexpr double kCutAfter_s = 0.5;
constexpr double kRiseMemory_s = 0.08;
constexpr double kMovingFrom_pa_s = 25e3;   // the loop is held while pressure moves faster ...
constexpr double kHeldAfterMoving_s = 0.8;  // ... and this long after
constexpr double kHeldBelow_pa = 27e3;      // and on the overrun
constexpr double kLargestErrorHeeded = 0.12;
constexpr double kBatteryNominal_v = 14.0;

double ramp(double x, double from, double to) {
  const double s = std::clamp((x - from) / (to - from), 0.0, 1.0);
  return s * s * (3.0 - 2.0 * s);
}

double dead_time_s(const Injection& in, double battery_v, double error_s) {
  return in.stated_dead_time.si + error_s +
         in.dead_time_per_volt.si * (kBatteryNominal_v - battery_v);
}

}  // namespace

double charge_temperature_k(double intake_k, double coolant_k, double heating, double rpm,
                            double map_pa) {
  const double share = heating / (1.0 + rpm * map_pa / kHeatingFlow);
  return intake_k + share * (coolant_k - intake_k);  // (road_drive.3)
}

double true_fuel_of_pulse_kg(const Injection& in, double pulse_width_s, double battery_v) {
  const double open_s = pulse_width_s - dead_time_s(in, battery_v, in.dead_time_error.si);
  return in.stated_flow.si * (1.0 + in.flow_error) * std::max(open_s, 0.0);
}

ComputerAtWork::ComputerAtWork(const Truth& truth, const car::Surface& ve,
                               const EngineComputer& settings)
    : truth_(truth), ve_(ve), settings_(settings) {}

double ComputerAtWork::target(const car::OperatingPoint& at) const {
  if (settings_.lambda_target) return settings_.lambda_target->at(at);
  const double kpa = at.map.from_zero.in(kPa);
  const double idle = (1.0 - ramp(at.speed.rpm, 900, 1300)) * (1.0 - ramp(kpa, 65, 80));
  const double full = ramp(kpa, 70, 90);
  const double light =
      settings_.lambda_cruise + idle * (settings_.lambda_idle - settings_.lambda_cruise);
  return light + full * (settings_.lambda_full - light);
}

bool ComputerAtWork::cutting(const Sensed& now, double dt_s) {
  const bool shut = now.throttle <= 0.005 && now.map_pa < kCutBelow_pa;
  shut_for_s_ = shut ? shut_for_s_ + dt_s : 0.0;
  const bool warm = now.coolant_k > kClosedLoopFrom_k;
  if (cut_) {
    cut_ = shut && now.rpm > kCutUntil_rpm;
  } else {
    cut_ = settings_.fuel_cut && warm && shut_for_s_ > kCutAfter_s && now.rpm > kCutAbove_rpm;
  }
  since_cut_s_ = cut_ ? 0.0 : since_cut_s_ + dt_s;
  return cut_;
}

double ComputerAtWork::closed_loop(const Sensed& now, double target, double dt_s) {
  const bool active = settings_.closed_loop && now.coolant_k > kClosedLoopFrom_k &&
                      now.seconds > kClosedLoopAfter_s &&
                      now.map_pa < settings_.closed_loop_below.from_zero.si;
  if (!active) {
    correction_ = 0;
  } else if (since_cut_s_ > kClosedLoopAfterCut_s && since_moving_s_ > kHeldAfterMoving_s &&
             now.map_pa > kHeldBelow_pa) {
    const double error =
        std::clamp(now.lambda / target - 1.0, -kLargestErrorHeeded, kLargestErrorHeeded);
    correction_ += settings_.correction_gain * error * dt_s;
    correction_ = std::clamp(correction_, -settings_.correction_limit, settings_.correction_limit);
  }
  return correction_;
}

double ComputerAtWork::fuel_per_cycle_kg(const Sensed& now, const car::OperatingPoint& at,
                                         double target) const {
  const double charge_k =
      charge_temperature_k(now.intake_k, now.coolant_k, truth_.surroundings.charge_heating_believed,
                           now.rpm, now.map_pa);
  const double air = ve_.at(at) * now.map_pa * truth_.displacement.si / (kRAir * charge_k);
  return air / (truth_.stoichiometric_ratio * target);  // (road_drive.7)
}

Command ComputerAtWork::step(const Sensed& now, double dt_s) {
  const car::OperatingPoint at{.speed = rpm(now.rpm),
                               .map = absolute(now.map_pa * pascal),
                               .ambient = truth_.surroundings.ambient,
                               .throttle = now.throttle};
  if (map_before_pa_ < 0) map_before_pa_ = now.map_pa;
  const double rise = (now.map_pa - map_before_pa_) / dt_s;
  map_rise_pa_s_ += (rise - map_rise_pa_s_) * (1.0 - std::exp(-dt_s / kRiseMemory_s));
  map_before_pa_ = now.map_pa;
  since_moving_s_ = std::abs(map_rise_pa_s_) > kMovingFrom_pa_s ? 0.0 : since_moving_s_ + dt_s;

  Command out;
  out.lambda_target = target(at);
  out.cut = cutting(now, dt_s);
  out.correction = closed_loop(now, out.lambda_target, dt_s);
  const double cold = std::max((kNoWarmUpFrom_k - now.coolant_k) / kWarmUpSpan_k, 0.0);
  out.warm_up = settings_.warm_up * cold;
  if (out.cut) return out;

  const double tip_in = settings_.tip_in * std::max(map_rise_pa_s_ - 15e3, 0.0) / 100e3;
  const double fuel = fuel_per_cycle_kg(now, at, out.lambda_target) * (1.0 + out.correction) *
                      (1.0 + out.warm_up) * (1.0 + tip_in);
  const Injection& in = truth_.injection;
  const double per_squirt = fuel / (in.injectors * in.squirts_per_cycle);
  out.pulse_width_s =
      per_squirt / in.stated_flow.si + dead_time_s(in, now.battery_v, 0);  // (road_drive.8)
  const double room_s = 120.0 / now.rpm / in.squirts_per_cycle;
  out.pulse_width_s = std::min(out.pulse_width_s, room_s);
  return out;
}

}  // namespace fuelwright::sim
