#include "sim/virtual_car/internal/computer.h"

#include <algorithm>
#include <cmath>

#include "base/contract.h"
#include "sim/virtual_car/internal/parameters.h"

namespace fuelwright::sim::virtual_car {
namespace {

using S = car::SettingWhat;
using C = car::CurveWhat;

// Habits of units in general (from memory, no source); a calibration overrides most of them.
constexpr double kRAir = 287.05;          // J/(kg K), what a unit divides by
constexpr double kMixFlow = 2000 * 50e3;  // rpm Pa at which its charge mix has halved
constexpr double kLoopAfter_s = 20, kLoopAfterCut_s = 2, kLoopFrom_k = 333.15;
constexpr double kMovingFrom_pa_s = 25e3, kRise_s = 0.06, kTipInFrom_pa_s = 20e3;
constexpr double kLargestErrorHeeded = 0.12;
constexpr double kAfterStart = 0.10, kAfterStart_s = 20;
constexpr double kWarmUp = 0.20, kNoWarmUp_k = 348.15, kWarmUpSpan_k = 55;
constexpr double kTipIn = 0.15, kTipInAt_pa_s = 200e3, kTipIn_s = 0.25;
constexpr double kIdleSteady_deg_rpm = 0.03, kIdleMost_deg = 8;
constexpr double kIdleGain_per_rpm = 4e-4, kIdleIntegral_per_rpm_s = 3e-4;
constexpr double kFollower_per_rpm = 2.2e-4;  // opens the idle valve at speed, foot off
constexpr double kRollingFrom_rpm = 120, kHeeded_rpm = 250;
constexpr double kShutThrottle = 0.01, kMoving_m_s = 1;
constexpr double kColdIdle_rpm_k = 6;  // faster for each K below 60 degC
constexpr double kLearnFrom_s = 2;
constexpr double kSoftLimitRetard_deg = 45, kSoftLimitBand_rpm = 200, kLatestSpark_deg = -15;
constexpr double kIdleOpening = 0.35;  // of the idle valve, where the calibration says no idle air
constexpr double kChokedFlow = 0.685;  // of air: m sqrt(R T)/(A p), pressure ratio below 0.53

double down_to(double value, double step) {
  return step > 0 ? std::round(value / step) * step : value;
}

double ramp(double x, double from, double to) {
  return std::clamp((x - from) / (to - from), 0.0, 1.0);
}

}  // namespace

Told told(const car::Sheet& sheet, const car::Calibration& calibration, const Truth& truth) {
  const car::Injection& in = sheet.injection;
  const auto setting = [&](S what, double otherwise) {
    const double* value = calibration.find(what);
    return value != nullptr ? *value : otherwise;
  };
  const double flow =
      in.injector_flow.value.si * std::sqrt(sheet.fuel.density.value / in.rated_density.value);
  return {.displacement_m3 = sheet.engine.displacement.value.si,
          .stoichiometric = setting(S::stoichiometric, sheet.fuel.stoichiometric.value),
          .injectors = static_cast<double>(in.injector_count.value),
          .squirts_per_cycle = in.squirts_per_cycle.value,
          .flow_kg_s = setting(S::injector_flow, flow),
          .flow_pressure_pa = setting(S::injector_pressure, in.injector_pressure.value.si),
          .rail_pa = in.regulator_pressure.value.si,
          .dead_time_s = in.dead_time.value.si - 0.11e-3 * (14 - in.dead_time_voltage.value.si),
          .to_manifold = in.regulator_reference.value == car::RegulatorReference::manifold,
          .above_throttle = in.arrangement.value == car::InjectionArrangement::throttle,
          .idle_rpm = sheet.wishes.idle_speed.value.rpm,
          .limit_rpm = sheet.wishes.rev_limit.value.rpm,
          .lambda_idle = sheet.wishes.idle_mixture.value.value,
          .lambda_cruise = sheet.wishes.cruise_mixture.value.value,
          .lambda_full = sheet.wishes.full_throttle_mixture.value.value,
          .baro_pa = truth.weather.ambient.from_zero.si,
          .stop_m2 = kStopPerIdleArea * usual_idle_area_m2(sheet),
          .idle_valve_m2 = kIdleValvePerIdleArea * usual_idle_area_m2(sheet)};
}

ComputerAtWork::ComputerAtWork(const Truth& truth, const Told& told,
                               const car::Calibration& calibration)
    : habits_(truth.computer),
      told_(told),
      calibration_(calibration),
      ve_(*calibration.find(car::TableWhat::ve)),
      by_throttle_(ve_.grid.x.kind() == car::AxisKind::throttle ||
                   ve_.grid.y.kind() == car::AxisKind::throttle),
      learned_(car::Surface::flat(ve_.grid, 1)) {}

double ComputerAtWork::setting(S what, double otherwise) const {
  const double* value = calibration_.find(what);
  return value != nullptr ? *value : otherwise;
}

double ComputerAtWork::curve(C what, double x, double otherwise) const {
  const car::Curve* found = calibration_.find(what);
  return found != nullptr ? found->at(x) : otherwise;
}

double ComputerAtWork::target(const car::OperatingPoint& at) const {
  if (const car::Surface* table = calibration_.find(car::TableWhat::lambda_target)) {
    return table->at(at);
  }
  const double share = at.map.from_zero.si / told_.baro_pa;
  const double idle = 1 - ramp(at.speed.rpm, 1.2 * told_.idle_rpm, 1.7 * told_.idle_rpm);
  const double light = told_.lambda_cruise + idle * (told_.lambda_idle - told_.lambda_cruise);
  return light + ramp(share, 0.75, 0.9) * (told_.lambda_full - light);
}

double ComputerAtWork::spark(const Sensed& s, const car::OperatingPoint& at) const {
  const car::Surface* table = calibration_.find(car::TableWhat::spark);
  double deg = table != nullptr
                   ? table->at(at)
                   : 10 + 18 * ramp(s.rpm, 700, 3200) + 10 * (1 - s.map_pa / told_.baro_pa);
  deg += curve(C::spark_trim_coolant, s.coolant_k, 0) + curve(C::spark_trim_intake, s.intake_k, 0);
  const double idle_rpm = curve(C::idle_speed, s.coolant_k, told_.idle_rpm);
  if (s.throttle < kShutThrottle && s.rpm < 1.4 * idle_rpm) {
    deg = setting(S::idle_spark, deg);
    deg += std::clamp(kIdleSteady_deg_rpm * (idle_rpm - s.rpm), -kIdleMost_deg, kIdleMost_deg);
  }
  const double taken = soft_limit_deg(s);
  return taken > 0 ? std::max(deg - taken, kLatestSpark_deg) : deg;
}

/// Spark taken away above the soft limit, all of it at the hard one: a push that fades
/// (virtual_car.18).
double ComputerAtWork::soft_limit_deg(const Sensed& s) const {
  const double* soft = calibration_.find(S::soft_rev_limit);
  if (soft == nullptr || s.rpm <= *soft) return 0;
  const double hard = setting(S::hard_rev_limit, told_.limit_rpm);
  return kSoftLimitRetard_deg * ramp(s.rpm, *soft, std::max(hard, *soft + kSoftLimitBand_rpm));
}

/// How far it opens its idle valve for the air that the calibration says idle takes, by the sizes
/// it believes in and choked flow; with a throttle stop that leaks more, less (virtual_car.19).
double ComputerAtWork::usual_idle_opening(double coolant_k) const {
  const car::Curve* air = calibration_.find(C::idle_air);
  if (air == nullptr) return kIdleOpening;
  const double intake_k = 298.15;
  const double area =
      air->at(coolant_k) * std::sqrt(kRAir * intake_k) / (kChokedFlow * told_.baro_pa);
  return std::clamp((area - told_.stop_m2) / told_.idle_valve_m2, 0.0, 1.0);
}

double ComputerAtWork::enrichment(const Sensed& s) const {
  const double cold = std::max(kNoWarmUp_k - s.coolant_k, 0.0) / kWarmUpSpan_k;
  const double warm_up = curve(C::warm_up_fuel, s.coolant_k, kWarmUp * cold);
  const double after = curve(C::after_start_fuel, s.coolant_k, kAfterStart * std::min(cold, 1.5));
  const double fades_s = std::max(curve(C::after_start_time, s.coolant_k, kAfterStart_s), 0.01);
  return warm_up + after * std::max(1 - s.seconds / fades_s, 0.0);
}

double ComputerAtWork::tip_in(const Sensed& s, double dt_s) {
  const double rise = rise_pa_s_;
  const double cold = curve(C::tip_in_coolant, s.coolant_k, 1);
  const double wanted =
      rise < kTipInFrom_pa_s
          ? 0.0
          : cold * curve(C::tip_in_fuel, rise, kTipIn * std::min(rise / kTipInAt_pa_s, 2.0));
  const double fades_s = std::max(curve(C::tip_in_time, s.coolant_k, kTipIn_s), 0.01);
  tip_in_ = std::max(wanted, tip_in_ * std::exp(-dt_s / fades_s));
  return tip_in_;
}

double ComputerAtWork::idle_valve(const Sensed& s, double dt_s) {
  if (by_throttle_) return kIdleValveByThrottle;
  const double cold_rpm = kColdIdle_rpm_k * std::clamp(333.15 - s.coolant_k, 0.0, 80.0);
  const double wanted = curve(C::idle_speed, s.coolant_k, told_.idle_rpm + cold_rpm);
  const double error = wanted - s.rpm;
  const double usual = usual_idle_opening(s.coolant_k);
  const bool shut = s.throttle < kShutThrottle;
  const double above = std::max(s.rpm - wanted - kRollingFrom_rpm, 0.0);
  if (!shut || (s.speed_m_s > kMoving_m_s && above > 0)) {
    // Rolling in gear says nothing about idle: what was learned stays, opened a little, and
    // catches.
    return std::clamp(usual + idle_ + kFollower_per_rpm * above, 0.0, 1.0);
  }
  const double heeded = std::clamp(error, -kHeeded_rpm, kHeeded_rpm);
  idle_ = std::clamp(idle_ + kIdleIntegral_per_rpm_s * heeded * dt_s, -usual, 1.0 - usual);
  return std::clamp(usual + idle_ + kIdleGain_per_rpm * error, 0.0, 1.0);
}

bool ComputerAtWork::overrun(const Sensed& s, double dt_s) {
  const double resume = setting(S::overrun_resume, told_.idle_rpm + 450);
  const double entry = setting(S::overrun_entry, told_.idle_rpm + 800);
  const bool shut = s.throttle < setting(S::overrun_throttle, kShutThrottle) &&
                    s.map_pa < setting(S::overrun_pressure, 30e3) && s.coolant_k > kLoopFrom_k;
  shut_s_ = shut ? shut_s_ + dt_s : 0;
  if (cut_) {
    cut_ = shut && s.rpm > resume;
  } else {
    cut_ = s.rpm > entry && shut_s_ > setting(S::overrun_delay, 0.5);
  }
  since_cut_s_ = cut_ ? 0 : since_cut_s_ + dt_s;
  return cut_;
}

bool ComputerAtWork::over_the_limit(const Sensed& s) {
  const double hard = setting(S::hard_rev_limit, told_.limit_rpm);
  limited_ = s.rpm > (limited_ ? hard - 100 : hard);
  return limited_;
}

void ComputerAtWork::closed_loop(const Sensed& s, double lambda_target, double dt_s) {
  const double add = setting(S::closed_loop_add, 0.2), take = setting(S::closed_loop_take, 0.2);
  active_ = s.has_lambda && add + take > 0 && s.seconds > kLoopAfter_s &&
            s.coolant_k > setting(S::closed_loop_coolant, kLoopFrom_k) &&
            s.map_pa < setting(S::closed_loop_pressure, 0.8 * told_.baro_pa) &&
            lambda_target >= setting(S::closed_loop_richest, 0.9) &&
            lambda_target <= setting(S::closed_loop_leanest, 1.1);
  if (!active_) {
    correction_ = 0;
    since_step_s_ = 0;
    return;
  }
  since_step_s_ += dt_s;
  const bool held = since_moving_s_ < habits_.correction_wait.si || since_cut_s_ < kLoopAfterCut_s;
  if (held || since_step_s_ < habits_.correction_step.si) return;
  since_step_s_ = 0;
  const double error =
      std::clamp(s.lambda / lambda_target - 1, -kLargestErrorHeeded, kLargestErrorHeeded);
  correction_ = std::clamp(correction_ + habits_.correction_gain * error, -take, add);
}

void ComputerAtWork::learn(const car::OperatingPoint& at, double dt_s) {
  if (habits_.self_correction <= 0 || !active_ || since_moving_s_ < kLearnFrom_s) return;
  const double share = std::min(habits_.self_correction * dt_s / 60, 1.0);
  const car::NodeShares nodes = ve_.grid.shares(at);
  for (int k = 0; k < nodes.count; ++k) {
    double& factor = learned_.values[static_cast<std::size_t>(nodes.node[k])];
    factor = std::clamp(factor * (1 + share * nodes.share[k] * correction_), 0.7, 1.3);
  }
  correction_ -= share * correction_;
}

double ComputerAtWork::pulse_s(const Sensed& s, double fuel_kg) const {
  const double shift = s.map_pa - told_.baro_pa;
  double across = told_.rail_pa;
  if (told_.to_manifold && told_.above_throttle) across += shift;
  if (!told_.to_manifold && !told_.above_throttle) across -= shift;
  const double flow = told_.flow_kg_s * std::sqrt(std::max(across / told_.flow_pressure_pa, 0.05));
  const double per_squirt = fuel_kg / (told_.injectors * told_.squirts_per_cycle);
  const double dead =
      curve(C::dead_time, s.battery_v, told_.dead_time_s + 0.11e-3 * (14 - s.battery_v));
  const double room = 120 / s.rpm / told_.squirts_per_cycle;
  return std::clamp(down_to(per_squirt / flow + dead, habits_.pulse_step.si), 0.0, room);
}

Command ComputerAtWork::update(const Sensed& raw, double dt_s) {
  Sensed s = raw;
  s.map_pa = std::max(down_to(raw.map_pa, habits_.map_step.si), 5e3);
  s.rpm = std::max(down_to(raw.rpm, habits_.rpm_step.rpm), 100.0);
  const car::OperatingPoint at{.speed = rpm(s.rpm),
                               .map = absolute(s.map_pa * pascal),
                               .ambient = absolute(told_.baro_pa * pascal),
                               .throttle = s.throttle,
                               .coolant = kelvin(s.coolant_k),
                               .intake_air = kelvin(s.intake_k),
                               .battery = s.battery_v * volt};
  if (map_before_pa_ < 0) map_before_pa_ = s.map_pa;
  rise_pa_s_ += ((s.map_pa - map_before_pa_) / dt_s - rise_pa_s_) * (1 - std::exp(-dt_s / kRise_s));
  map_before_pa_ = s.map_pa;
  since_moving_s_ = std::abs(rise_pa_s_) > kMovingFrom_pa_s ? 0 : since_moving_s_ + dt_s;

  Command out;
  out.lambda_target = target(at);
  out.spark_deg = spark(s, at);
  out.idle_valve = idle_valve(s, dt_s);
  closed_loop(s, out.lambda_target, dt_s);
  learn(at, dt_s);
  out.correction = correction_;
  out.enrichment = enrichment(s);
  const double extra = tip_in(s, dt_s);
  out.ve = ve_.at(at) * learned_.at(at);
  const double pressure = by_throttle_ ? told_.baro_pa : s.map_pa;
  const double mix = habits_.charge_mix / (1 + s.rpm * s.map_pa / kMixFlow);
  const double charge_k = s.intake_k + mix * (s.coolant_k - s.intake_k);
  const double air = out.ve * pressure * told_.displacement_m3 / (kRAir * charge_k) *
                     curve(C::charge_temperature, s.intake_k, 1);
  const double fuel = air / (told_.stoichiometric * out.lambda_target) * (1 + out.correction) *
                      (1 + out.enrichment) * (1 + extra);  // (virtual_car.8)
  const bool on_overrun = overrun(s, dt_s), limited = over_the_limit(s);
  out.cut = on_overrun || limited;
  out.pulse_s = out.cut ? 0 : pulse_s(s, fuel);
  return out;
}

}  // namespace fuelwright::sim::virtual_car
