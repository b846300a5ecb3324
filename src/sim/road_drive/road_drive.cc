#include "sim/road_drive/road_drive.h"

#include <algorithm>
#include <cmath>

#include "base/contract.h"
#include "sim/road_drive/internal/moments.h"

namespace fuelwright::sim {
namespace {

constexpr double kRAir = 287.05;             // J/(kg K), dry air
constexpr double kInnerRate = 100;           // steps per second, at least
constexpr double kIntakeFlow_kg_s_l = 4e-3;  // air per litre that cools the intake by e
constexpr double kIntakeTime_s = 25;
constexpr double kColdSpan_k = 55;  // fuel is lost from 75 degC down; the stated share at 20 degC
constexpr double kNothingLostFrom_k = 348.15;
constexpr double kOverlapFade_pa = 25e3;  // lean reading fades with pressure above 40 kPa
constexpr double kBattery_v = 14.1;
constexpr double kBatteryIdleDrop_v = 0.45;

}  // namespace

DriveAtWork::DriveAtWork(const Truth& truth, const car::Surface& ve, const DriveOptions& options)
    : truth_(truth),
      driver_(truth, options.driver, options.seed, 60.0 * options.minutes),
      computer_(truth, ve, options.computer),
      puddle_(truth.film),
      pipe_(truth.sensor),
      tip_(truth.sensor, options.seed),
      random_(options.seed, 31),
      coolant_k_(options.coolant_at_start.from_zero.si),
      intake_k_((truth.surroundings.air + 0.3 * truth.surroundings.heat_soak).from_zero.si) {}

void DriveAtWork::warm_engine(double dt_s) {
  const Surroundings& s = truth_.surroundings;
  const double litres = truth_.displacement.in(litre);
  const double air_flow = masses_.air_kg / dt_s;
  const double load = std::clamp(air_flow / (kIntakeFlow_kg_s_l * litres), 0.5, 2.0);
  coolant_k_ += (s.thermostat.from_zero.si - coolant_k_) * load * dt_s / s.warm_up_time.si;
  const double soak = s.heat_soak.si * std::exp(-air_flow / (kIntakeFlow_kg_s_l * litres));
  const double settled = s.air.from_zero.si + 4 + soak;
  intake_k_ += (settled - intake_k_) * dt_s / kIntakeTime_s;  // (road_drive.12)
  const double idle = std::exp(-std::max(motion_.rpm - 700, 0.0) / 500);
  battery_v_ = kBattery_v - kBatteryIdleDrop_v * idle + 0.03 * random_.normal();
}

Sensed DriveAtWork::sense() {
  const double map = motion_.map_pa + truth_.surroundings.map_noise.si * random_.normal();
  return {.seconds = time_s_,
          .rpm = motion_.rpm,
          .map_pa = std::max(map, 5e3),
          .throttle = motion_.throttle,
          .coolant_k = coolant_k_,
          .intake_k = intake_k_,
          .battery_v = battery_v_,
          .lambda = lambda_read_};
}

void DriveAtWork::burn(const Command& command, const Sensed& sensed, double dt_s) {
  const Injection& in = truth_.injection;
  const double cycles = motion_.rpm / 120.0 * dt_s;
  const double charge_k = charge_temperature_k(
      intake_k_, coolant_k_, truth_.surroundings.charge_heating, motion_.rpm, motion_.map_pa);
  const double ve = true_ve(truth_, EngineSpeed{motion_.rpm}, absolute(motion_.map_pa * pascal));
  masses_.air_kg = ve * motion_.map_pa * truth_.displacement.si / (kRAir * charge_k) * cycles;
  const double pulse_kg =
      command.cut ? 0.0 : true_fuel_of_pulse_kg(in, command.pulse_width_s, sensed.battery_v);
  masses_.injected_kg = in.injectors * in.squirts_per_cycle * pulse_kg * cycles;
  masses_.into_cylinders_kg = puddle_.step(masses_.injected_kg, dt_s, motion_.map_pa, coolant_k_);
  const double cold = std::max((kNothingLostFrom_k - coolant_k_) / kColdSpan_k, 0.0);
  masses_.lost_kg = masses_.into_cylinders_kg * std::min(truth_.film.cold_loss * cold, 0.5);

  const double burnt_kg = masses_.into_cylinders_kg - masses_.lost_kg;
  const double richness = truth_.stoichiometric_ratio * burnt_kg / masses_.air_kg;
  const double arriving = pipe_.step(masses_.air_kg + burnt_kg, 2.0 * cycles, richness, dt_s);
  const double light = std::exp(-std::max(motion_.map_pa - 40e3, 0.0) / kOverlapFade_pa);
  const double slow = std::exp(-std::max(motion_.rpm - 700, 0.0) / 600);
  lambda_read_ = tip_.step(arriving, truth_.sensor.overlap_lean * light * slow, dt_s);
}

Row DriveAtWork::step(double dt_s) {
  motion_ = driver_.step(dt_s, coolant_k_);
  const Sensed sensed = sense();
  const Command command = computer_.step(sensed, dt_s);
  burn(command, sensed, dt_s);
  const double meter = 1.0 + truth_.surroundings.meter_gain_error +
                       truth_.surroundings.meter_noise * random_.normal();
  const Row row{.seconds = time_s_,
                .rpm = sensed.rpm,
                .map_pa = sensed.map_pa,
                .throttle = sensed.throttle,
                .coolant_k = sensed.coolant_k,
                .intake_k = sensed.intake_k,
                .lambda = lambda_read_,
                .lambda_target = command.lambda_target,
                .correction = command.correction,
                .warm_up = command.warm_up,
                .pulse_width_s = command.pulse_width_s,
                .metered_air_kg_s = masses_.air_kg / dt_s * meter,
                .battery_v = sensed.battery_v,
                .speed_m_s = motion_.speed_m_s};
  warm_engine(dt_s);
  time_s_ += dt_s;
  return row;
}

std::string drive(const Truth& truth, const car::Surface& ve_in_force, const DriveOptions& o) {
  EXPECTS(o.minutes >= 0.1 && o.minutes <= 600);
  EXPECTS(o.rows_per_second >= 1 && o.rows_per_second <= 100);
  EXPECTS(o.gauge_constant > 0);
  EXPECTS(o.coolant_at_start >= celsius(-40) && o.coolant_at_start <= celsius(110));
  EXPECTS(ve_in_force.grid.x.kind() == car::AxisKind::engine_speed ||
          ve_in_force.grid.y.kind() == car::AxisKind::engine_speed);
  const int inner = static_cast<int>(std::ceil(kInnerRate / o.rows_per_second - 1e-9));
  const double dt_s = 1.0 / (o.rows_per_second * inner);
  const auto rows = static_cast<long>(std::floor(60.0 * o.minutes * o.rows_per_second + 1e-9));

  DriveAtWork work(truth, ve_in_force, o);
  std::string text = header_line(o.columns);
  for (long i = 0; i < rows; ++i) {
    Row row = work.step(dt_s);
    row.seconds = static_cast<double>(i) / o.rows_per_second;
    append_row(text, row, o.columns, o.gauge_constant);
    for (int k = 1; k < inner; ++k) work.step(dt_s);
  }
  return text;
}

}  // namespace fuelwright::sim
