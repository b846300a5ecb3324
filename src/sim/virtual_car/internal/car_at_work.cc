#include "sim/virtual_car/internal/car_at_work.h"

#include <algorithm>
#include <cmath>

namespace fuelwright::sim::virtual_car {
namespace {

using F = car::FaultKind;

constexpr double kIntakeTime_s = 25;         // of the intake air sensor and its surroundings
constexpr double kIntakeFlow_kg_s_l = 4e-3;  // air per litre that cools the intake by e
constexpr double kIntakeOver_k = 4;
constexpr double kBattery_v = 14.1, kIdleDrop_v = 0.4, kBatteryNoise_v = 0.03;
constexpr double kAccessories_nm = 2, kAccessories_nm_l = 1.2;
constexpr double kHillMemory_s = 25, kMapGrain_s = 0.05;
constexpr double kIdleAir_kg_s_l = 1e-3;  // air of a litre at idle, for the size of leaks

std::vector<double> bank_shares(const std::vector<double>& cylinders, int banks) {
  std::vector<double> shares(static_cast<std::size_t>(banks), 0);
  double sum = 0;
  for (const double v : cylinders) sum += v;
  for (std::size_t i = 0; i < cylinders.size(); ++i) {
    shares[i % static_cast<std::size_t>(banks)] += cylinders[i] / std::max(sum, 1e-9);
  }
  return shares;
}

}  // namespace

CarAtWork::CarAtWork(const Truth& truth, const car::Sheet& sheet,
                     const car::Calibration& calibration, const DriveRequest& request)
    : truth_(truth),
      told_(told(sheet, calibration, truth)),
      faults_(request.faults),
      power_(truth),
      drivetrain_(truth, told_.idle_rpm),
      driver_(truth, power_, drivetrain_, request.task, told_.idle_rpm, told_.limit_rpm,
              request.seed, kStep_s),
      computer_(truth, told_, calibration),
      supply_(truth.fuel, truth.film.above_throttle),
      film_(truth.film),
      random_(request.seed, "sensors"),
      fire_random_(request.seed, "misfire"),
      road_random_(request.seed, "road"),
      hills_(truth.vehicle.hills, kHillMemory_s, kStep_s),
      map_noise_(truth.recorder.map_noise.si, kMapGrain_s, kStep_s),
      coolant_k_(truth.vehicle.coolant_at_start.from_zero.si),
      intake_k_((truth.weather.air + 0.3 * truth.weather.heat_soak).from_zero.si) {
  const int banks = std::clamp(truth.engine.banks, 1, 2);
  for (int b = 0; b < banks; ++b) {
    paths_.emplace_back(truth.exhaust, truth.sensor.tip_delay.si);
    tips_.emplace_back(truth.sensor, request.seed, b == 0 ? "first sensor" : "second sensor",
                       kStep_s);
  }
  air_share_ = bank_shares(truth.air.cylinders, banks);
  fuel_share_ = bank_shares(truth.fuel.cylinders, banks);
  map_pa_ = map_filtered_pa_ = stuck_pa_ = 0.45 * truth.weather.ambient.from_zero.si;
  warm();
}

bool CarAtWork::has_sensor(int bank) const { return bank < truth_.sensor.fitted; }

Sensed CarAtWork::sense() {
  const double stuck = faults_.severity(F::stuck_map);
  if (stuck <= 0) stuck_pa_ = map_filtered_pa_;
  const double map = map_filtered_pa_ + stuck * (stuck_pa_ - map_filtered_pa_) +
                     15e3 * faults_.severity(F::map_offset) + map_noise_.step(random_);
  return {.seconds = time_s_,
          .rpm = drivetrain_.rpm(),
          .map_pa = std::max(map, 5e3),
          .throttle = doing_.pedal,
          .coolant_k = coolant_k_ - 60 * faults_.severity(F::coolant_sensor),
          .intake_k = intake_k_ + 50 * faults_.severity(F::intake_sensor),
          .battery_v = battery_v_,
          .lambda = lambda_[0],
          .speed_m_s = drivetrain_.speed_m_s(),
          .has_lambda = has_sensor(0)};
}

void CarAtWork::breathe() {
  const double rpm = drivetrain_.rpm();
  const Power::Intake in = power_.intake(rpm, map_pa_, intake_k_, coolant_k_);
  air_kg_s_ = in.air_kg_s;
  moist_kg_s_ = in.moist_kg_s;
  residual_ = true_residual(truth_, EngineSpeed{rpm}, absolute(map_pa_ * pascal));
  const double cylinder_area = truth_.engine.displacement.si / truth_.engine.cylinders / 0.085;
  const double leak = 0.08 * 0.1 * faults_.severity(F::vacuum_leak) * cylinder_area;
  const double area =
      power_.throttle_area(doing_.pedal) + leak + command_.idle_valve * truth_.engine.idle_valve.si;
  map_pa_ = power_.next_map_pa(map_pa_, area, moist_kg_s_, intake_k_, kStep_s);
  const double filter_s = truth_.computer.map_filter.si;
  const double share = filter_s > 0 ? 1 - std::exp(-kStep_s / filter_s) : 1.0;
  map_filtered_pa_ += share * (map_pa_ - map_filtered_pa_);
}

void CarAtWork::fuel() {
  const double injected = supply_.step({.map_pa = map_pa_,
                                        .ambient_pa = truth_.weather.ambient.from_zero.si,
                                        .battery_v = battery_v_,
                                        .rpm = drivetrain_.rpm(),
                                        .pulse_s = command_.pulse_s},
                                       faults_, kStep_s);
  // Of the injectors, the first may be dead; all of them wet the same walls.
  const double first = truth_.fuel.cylinders.empty() ? 0 : truth_.fuel.cylinders[0];
  const double lost =
      truth_.film.above_throttle ? 1.0 / truth_.fuel.injectors : first / truth_.engine.cylinders;
  const double alive = 1 - lost * faults_.severity(F::dead_injector);
  const double real = injected * alive;
  const double into = film_.step(real, kStep_s, map_pa_, coolant_k_);
  injected_kg_s_ = real / kStep_s;
  burnt_kg_s_ = into * (1 - lost_when_cold(truth_.film, coolant_k_)) / kStep_s;
  injected_kg_ += real;
  into_cylinders_kg_ += into;
  richness_ = truth_.fuel.stoichiometric * burnt_kg_s_ / std::max(air_kg_s_, 1e-7);
}

void CarAtWork::smell() {
  const double rpm = drivetrain_.rpm();
  const double turns = rpm / 60 * kStep_s;
  const double chance =
      std::clamp(dilution_misfire(truth_.sensor, residual_) +
                     truth_.sensor.misfires_per_minute / (rpm / 2 * truth_.engine.cylinders) +
                     0.125 * faults_.severity(F::misfire),
                 0.0, 1.0);
  const double banks = static_cast<double>(paths_.size());
  const double first = truth_.fuel.cylinders.empty() ? 0 : truth_.fuel.cylinders[0];
  const double dead = truth_.film.above_throttle ? 0 : faults_.severity(F::dead_injector);
  misfiring_ = 0;
  for (std::size_t b = 0; b < paths_.size(); ++b) {
    // Whole cycles of this bank's cylinders, each burning or not.
    cycles_due_[b] += turns / 2 * truth_.engine.cylinders / banks;
    double fired = 0, failed = 0;
    while (cycles_due_[b] >= 1) {
      cycles_due_[b] -= 1;
      fired += 1;
      if (fire_random_.chance(chance)) failed += 1;
    }
    if (fired > 0) seen_misfire_[b] = failed / fired;
    misfiring_ += seen_misfire_[b] / banks;
    const double all = 1 - dead * first / truth_.engine.cylinders;
    const double lacks = b == 0 ? dead * first / truth_.engine.cylinders : 0;
    const double share = (fuel_share_[b] - lacks) / all / air_share_[b];
    const double richness = richness_ * share * (1 - truth_.sensor.misfire_seen * seen_misfire_[b]);
    const double gas = (air_kg_s_ + burnt_kg_s_) * air_share_[b] * kStep_s;
    const double leak_kg_s = 0.08 * kIdleAir_kg_s_l * truth_.engine.displacement.in(litre) / banks *
                             faults_.severity(F::exhaust_leak);
    const double leak = leak_kg_s / (leak_kg_s + gas / kStep_s);
    const double tip = paths_[b].step(gas, turns, richness, leak, kStep_s);
    lambda_[b] =
        tips_[b].step(tip, power_.exhaust_pa(air_kg_s_), 1 + 11 * faults_.severity(F::lazy_sensor),
                      0.01 * faults_.grown_min(F::drifting_sensor));
  }
}

void CarAtWork::push() {
  const double rpm = drivetrain_.rpm();
  const double dead = faults_.severity(F::dead_injector) / truth_.engine.cylinders;
  const double misfiring = std::clamp(misfiring_ + dead, 0.0, 1.0);
  const double richness = command_.cut && richness_ < 0.3 ? 0.0 : richness_;
  torque_nm_ = power_.torque_nm(rpm, map_pa_, richness, command_.spark_deg, misfiring, coolant_k_) -
               kAccessories_nm - kAccessories_nm_l * truth_.engine.displacement.in(litre);
  drivetrain_.step(torque_nm_, doing_.feet, grade_, kStep_s);
}

void CarAtWork::warm() {
  const double litres = truth_.engine.displacement.in(litre);
  const double flow = air_kg_s_ / (kIntakeFlow_kg_s_l * litres);
  coolant_k_ += (truth_.vehicle.thermostat.from_zero.si - coolant_k_) * std::clamp(flow, 0.5, 2.0) *
                kStep_s / truth_.vehicle.warm_up.si;
  const double soak = truth_.weather.heat_soak.si * std::exp(-flow);
  const double settled = truth_.weather.air.from_zero.si + kIntakeOver_k + soak;
  intake_k_ += (settled - intake_k_) * kStep_s / kIntakeTime_s;
  const double idle = std::exp(-std::max(drivetrain_.rpm() - 700, 0.0) / 500);
  battery_v_ = kBattery_v - kIdleDrop_v * idle + kBatteryNoise_v * random_.normal() -
               4 * faults_.severity(F::low_battery);
}

void CarAtWork::step() {
  faults_.at(time_s_);
  grade_ = truth_.vehicle.grade + std::clamp(hills_.step(road_random_), -0.08, 0.08);
  doing_ = driver_.step(map_pa_, coolant_k_, grade_);
  since_update_s_ += kStep_s;
  const Sensed sensed = sense();
  if (since_update_s_ > truth_.computer.update.si - 1e-9) {
    command_ = computer_.update(sensed, std::min(since_update_s_, 0.2));
    since_update_s_ = 0;
  }
  breathe();
  fuel();
  smell();
  push();
  warm();
  time_s_ += kStep_s;
}

Row CarAtWork::row() {
  const Sensed s = sense();
  return {.seconds = time_s_,
          .rpm = s.rpm,
          .map_pa = s.map_pa,
          .throttle = s.throttle,
          .coolant_k = s.coolant_k,
          .intake_k = s.intake_k,
          .lambda = lambda_,
          .lambda_target = command_.lambda_target,
          .correction = command_.correction,
          .warm_up = command_.enrichment,
          .pulse_width_s = command_.pulse_s,
          .metered_air_kg_s = moist_kg_s_,
          .battery_v = s.battery_v,
          .rail_pa = supply_.rail_gauge_pa(),
          .speed_m_s = drivetrain_.speed_m_s()};
}

TrueMoment CarAtWork::moment() const {
  return {.time = time_s_ * second,
          .speed = EngineSpeed{drivetrain_.rpm()},
          .map = absolute(map_pa_ * pascal),
          .air = air_kg_s_ * kg_per_s,
          .injected = injected_kg_s_ * kg_per_s,
          .burnt = burnt_kg_s_ * kg_per_s,
          .film = film_.mass_kg() * kg,
          .residual = residual_,
          .ve = true_ve(truth_, EngineSpeed{drivetrain_.rpm()}, absolute(map_pa_ * pascal)),
          .looked_up = command_.ve,
          .lambda = 1 / std::max(richness_, 1e-3),
          .correction = command_.correction,
          .enrichment = command_.enrichment,
          .lambda_target = command_.lambda_target,
          .coolant = kelvin(coolant_k_),
          .road = drivetrain_.speed_m_s() * m_per_s,
          .wanted = doing_.wanted_m_s * m_per_s,
          .cut = command_.cut};
}

}  // namespace fuelwright::sim::virtual_car
