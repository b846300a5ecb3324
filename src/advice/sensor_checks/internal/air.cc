#include "advice/sensor_checks/internal/air.h"

#include <algorithm>
#include <cmath>

#include "car/build/derived.h"

namespace fuelwright::advice {

using signals::Quantity;

namespace {

constexpr double kR = 287.05;           // J/(kg K), dry air
constexpr double kDeadTimePower = 1.6;  // 0.9 ms at 14 V, 1.15 ms at 12 V (common practice)
constexpr double kUsual_k = 303.15;
constexpr double kSettled_s = 1.0;
constexpr double kAfterCut_s = 2.5;
constexpr double kWarm_k = 343.15;

}  // namespace

AirWitness::AirWitness(const Looking& l)
    : l_(&l),
      table_(l.car.table),
      speed_(l.col(Quantity::rpm)),
      map_(l.col(Quantity::map)),
      lambda_(l.col(Quantity::lambda)),
      pulse_(l.col(Quantity::pulse_width)),
      meter_(l.col(Quantity::maf)),
      intake_(l.col(Quantity::intake_air)),
      battery_(l.col(Quantity::battery)),
      throttle_(l.col(Quantity::throttle)) {}

double AirWitness::dead_s(std::size_t i) const {
  const car::Injection& in = l_->car.sheet.injection;
  const double rated = in.dead_time_voltage.si();
  const double v = battery_ && (*battery_)[i] > 6 ? (*battery_)[i] : rated;
  return in.dead_time.si() * std::pow(rated / v, kDeadTimePower);
}

double AirWitness::by_fuel(std::size_t i) const {
  if (!has_fuel()) return NAN;
  const car::Injection& in = l_->car.sheet.injection;
  const double open = (*pulse_)[i] - dead_s(i);
  if (!(open > 0)) return NAN;
  const double ambient = l_->place.pressure.from_zero.si;
  const double map = map_ ? (*map_)[i] : ambient;
  const bool referred = in.regulator_reference.value == car::RegulatorReference::manifold;
  const bool port = in.arrangement.value == car::InjectionArrangement::ports;
  const double across =
      in.regulator_pressure.si() + (referred ? map : ambient) - (port ? map : ambient);
  if (!(across > 0)) return NAN;
  const double flow =
      in.injector_flow.si() * std::sqrt(across / in.injector_pressure.si() *
                                        l_->car.sheet.fuel.density.si() / in.rated_density.si());
  const double fuel =
      in.injector_count.si() * in.squirts_per_cycle.si() * flow * open * (*speed_)[i] / 120;
  return std::log((*lambda_)[i] * l_->car.sheet.fuel.stoichiometric.si() *
                  fuel);  // (sensor_checks.7)
}

double AirWitness::by_meter(std::size_t i) const {
  return meter_ && (*meter_)[i] > 0 ? std::log((*meter_)[i]) : NAN;
}

double AirWitness::by_table(std::size_t i) const {
  if (!map_ || !speed_) return NAN;
  const double p = (*map_)[i];
  const double n = (*speed_)[i];
  if (!(p > 0 && n > 0)) return NAN;
  const double t = intake_ && (*intake_)[i] > 0 ? (*intake_)[i] : kUsual_k;
  const double ve = table_ ? table_->at({.speed = rpm(n),
                                         .map = absolute(p * pascal),
                                         .ambient = l_->place.pressure,
                                         .throttle = throttle_ ? (*throttle_)[i] : 0.0})
                           : 0.8;
  return std::log(ve * p * l_->car.sheet.engine.displacement.si() * n / (120 * kR * t));
}

double AirWitness::per_open_time(std::size_t i) const {
  return has_fuel() ? 1 / std::max((*pulse_)[i] - dead_s(i), 1e-5) : NAN;
}

std::vector<char> settled_rows(const Looking& l, double load_ln, double speed_ln) {
  std::vector<char> out(l.n, 0);
  const Column* speed = l.col(Quantity::rpm);
  const Column* map = l.col(Quantity::map);
  const Column* coolant = l.col(Quantity::coolant);
  if (!speed) return out;
  const std::size_t back =
      std::max(l.rows_of(kSettled_s), static_cast<std::size_t>(std::ceil(l.r.round_rows)));
  for (const signals::Segment& s : l.r.segments) {
    for (std::size_t i = s.first; i < s.last; ++i) {
      if (!l.running[i] || l.since_cut_s[i] < kAfterCut_s) continue;
      if (coolant && (*coolant)[i] < kWarm_k) continue;
      if (i < s.first + back) continue;
      if (log_spread(*speed, i - back, i) > speed_ln) continue;
      if (map && log_spread(*map, i - back, i) > load_ln) continue;
      out[i] = 1;
    }
  }
  return out;
}

}  // namespace fuelwright::advice
