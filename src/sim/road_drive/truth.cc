#include "sim/road_drive/truth.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <vector>

#include "base/contract.h"
#include "sim/road_drive/internal/random.h"

namespace fuelwright::sim {
namespace {

constexpr double kResidualExponent = 1.35;  // burnt gas, isentropic [-]
constexpr double kLowestVe = 0.35;          // the surface is held between these ...
constexpr double kHighestVe = 1.05;
constexpr double kBoundWidth = 0.01;    // ... by corners this round [-]
constexpr double kMidSpeed_rpm = 3000;  // the interaction is zero along these two lines
constexpr double kMidPressure_pa = 60e3;
constexpr double kRippleFade_rpm = 1400;  // waves are weak below it
constexpr double kSizedDuty = 0.80;       // injectors at the redline
constexpr double kRAir = 287.05;          // J/(kg K), dry air

double smoothly_above(double x, double bound) {
  return bound + kBoundWidth * std::log1p(std::exp((x - bound) / kBoundWidth));
}

double hump(const Breathing& b, double n) {
  const double z = std::log(n / b.hump.rpm) / b.hump_width;
  return 1.0 - b.hump_fall * (1.0 - std::exp(-0.5 * z * z));
}

double ripples(const Breathing& b, double n) {
  double sum = 0;
  for (const Ripple& r : b.ripples) {
    sum += r.height * std::cos(2.0 * std::numbers::pi * std::log(n / r.crest.rpm) / r.period);
  }
  const double fade = n * n / (n * n + kRippleFade_rpm * kRippleFade_rpm);
  return 1.0 + fade * sum;
}

Breathing invent_breathing(Random& random, double speed_scale) {
  Breathing b;
  b.level = random.uniform(0.84, 0.98);
  b.hump = rpm(random.uniform(3200, 4300) * speed_scale);
  b.hump_width = random.uniform(0.55, 0.85);
  b.hump_fall = random.uniform(0.15, 0.30);
  b.residual = random.uniform(0.8, 1.1);
  b.overlap = random.uniform(0.2, 2.6);
  b.overlap_fade = rpm(random.uniform(1000, 1800));
  b.compression_ratio = random.uniform(9.0, 11.0);
  b.exhaust = absolute(random.uniform(101.5, 105.0) * kPa);
  b.ripples[0] = {random.uniform(0.015, 0.040), random.uniform(0.55, 0.85),
                  rpm(random.uniform(2500, 4500) * speed_scale)};
  const double second_height = random.uniform(0.008, 0.020);
  const bool has_second = random.chance(0.6);
  b.ripples[1] = {has_second ? second_height : 0.0, random.uniform(0.28, 0.42),
                  rpm(random.uniform(2500, 4500) * speed_scale)};
  b.interaction = random.uniform(-0.03, 0.05);
  return b;
}

Vehicle invent_vehicle(Random& random, double litres, double overlap) {
  Vehicle v;
  v.mass = random.uniform(0.92, 1.10) * (900 + 120 * litres) * kg;
  v.drag_area = random.uniform(0.62, 0.85) * m2;
  v.rolling = random.uniform(0.010, 0.014);
  v.tyre_radius = random.uniform(0.30, 0.34) * metre;
  // Small engines are geared short: speed of the engine at 60 mph in top gear.
  const double at_sixty = 1950 * std::cbrt(5.0 / litres) * random.uniform(0.93, 1.10);
  const double wheel = (60.0 * mile_per_h).si / v.tyre_radius.si * 30.0 / std::numbers::pi;
  v.axle = at_sixty / (wheel * v.gears.back());
  v.idle = rpm(680 + 90 * overlap + random.uniform(0, 60));
  v.redline = rpm(std::round(random.uniform(5500, 6300) / 50) * 50);
  v.idle_shake = 0.004 + 0.006 * overlap;
  v.overrun = random.uniform(20.0, 22.5) * kPa;
  return v;
}

Injection invent_injection(Random& random, const Truth& t) {
  Injection in;
  in.injectors = t.cylinders;
  const double p = t.surroundings.ambient.from_zero.si;
  const double n = t.vehicle.redline.rpm;
  const double air = p * t.displacement.si / t.cylinders / (kRAir * 305);  // VE 1, a hot day
  const double fuel = air / (0.85 * t.stoichiometric_ratio);
  const double open_s = kSizedDuty * 120.0 / n - in.stated_dead_time.si;
  in.stated_flow = std::ceil(fuel / open_s / (0.02 * g_per_s).si) * (0.02 * g_per_s);
  in.flow_error = random.uniform(-0.04, 0.04);
  in.dead_time_error = random.uniform(-0.08, 0.08) * ms;
  return in;
}

/// A smooth function of two normalised coordinates: a level, a tilt and a few long waves; zero to
/// all others.
class SmoothError {
 public:
  explicit SmoothError(Random& random) {
    level_ = 0.8 * random.normal();
    tilt_x_ = 0.8 * random.normal();
    tilt_y_ = 0.8 * random.normal();
    for (Wave& w : waves_) {
      const double way = random.uniform(0, std::numbers::pi);
      const double turns = 2.0 * std::numbers::pi * random.uniform(0.5, 1.6);
      w = {0.6 * random.normal(), turns * std::cos(way), turns * std::sin(way),
           random.uniform(0, 2.0 * std::numbers::pi)};
    }
  }
  double at(double x, double y) const {
    double sum = level_ + tilt_x_ * (x - 0.5) + tilt_y_ * (y - 0.5);
    for (const Wave& w : waves_) sum += w.height * std::cos(w.kx * x + w.ky * y + w.phase);
    return sum;
  }

 private:
  struct Wave {
    double height = 0, kx = 0, ky = 0, phase = 0;
  };
  double level_ = 0, tilt_x_ = 0, tilt_y_ = 0;
  std::array<Wave, 5> waves_{};
};

AbsolutePressure pressure_of(const car::Axis& axis, double at, AbsolutePressure ambient) {
  if (axis.kind() == car::AxisKind::vacuum) return ambient - at * pascal;
  return absolute(at * pascal);
}

}  // namespace

double residual_droop(const Truth& truth, EngineSpeed speed, AbsolutePressure map) {
  const Breathing& b = truth.breathing;
  const double strength = b.residual + b.overlap * std::exp(-speed.rpm / b.overlap_fade.rpm);
  const double ratio = b.exhaust.from_zero / map.from_zero;
  const double d = strength * (ratio - 1.0) /
                   (kResidualExponent * (b.compression_ratio - 1.0));  // (road_drive.2)
  return std::clamp(d, 0.0, 0.9);
}

double true_ve(const Truth& truth, EngineSpeed speed, AbsolutePressure map) {
  if (truth.computed_ve) return truth.computed_ve->at(speed.rpm, map.from_zero.si);
  const Breathing& b = truth.breathing;
  const double n = speed.rpm;
  const double p = map.from_zero.si;
  const double interaction =
      1.0 + b.interaction * (n / kMidSpeed_rpm - 1.0) * (p / kMidPressure_pa - 1.0);
  const double ve = b.level * hump(b, n) * ripples(b, n) * interaction *
                    (1.0 - residual_droop(truth, speed, map));  // (road_drive.1)
  return -smoothly_above(-smoothly_above(ve, kLowestVe), -kHighestVe);
}

Truth invent_truth(std::uint64_t seed, Volume displacement, int cylinders,
                   double stoichiometric_ratio) {
  EXPECTS(displacement >= 0.3 * litre && displacement <= 12.0 * litre);
  EXPECTS(cylinders >= 1 && cylinders <= 16);
  EXPECTS(stoichiometric_ratio >= 5 && stoichiometric_ratio <= 16);
  Random random(seed, 1);
  Truth t;
  t.displacement = displacement;
  t.cylinders = cylinders;
  t.stoichiometric_ratio = stoichiometric_ratio;
  const double litres = displacement.in(litre);
  t.breathing = invent_breathing(random, std::pow(5.0 / litres, 0.1));
  t.surroundings.ambient = absolute(random.uniform(99.0, 101.0) * kPa);
  t.surroundings.air = celsius(random.uniform(10, 28));
  t.surroundings.heat_soak = random.uniform(20, 38) * kelvin_step;
  t.surroundings.warm_up_time = random.uniform(90, 140) * second;
  t.surroundings.charge_heating = random.uniform(0.10, 0.24);
  t.surroundings.charge_heating_believed =
      t.surroundings.charge_heating + random.uniform(-0.06, 0.06);
  t.surroundings.meter_gain_error = random.uniform(-0.05, 0.05);
  t.vehicle = invent_vehicle(random, litres, t.breathing.overlap);
  t.injection = invent_injection(random, t);
  t.film.share = random.uniform(0.15, 0.35);
  t.film.evaporation_time = random.uniform(0.3, 0.8) * second;
  t.film.pressure_power = random.uniform(0.2, 0.6);
  t.film.cold_loss = random.uniform(0.12, 0.20);
  t.sensor.pipe_gas = random.uniform(0.3, 0.6) * litres * gram;
  t.sensor.revolutions = random.uniform(1.5, 2.0);
  t.sensor.lag = random.uniform(0.08, 0.14) * second;
  t.sensor.overlap_lean = random.uniform(0.0, 0.01) * t.breathing.overlap;
  return t;
}

Truth idealised(Truth truth) {
  truth.injection.flow_error = 0;
  truth.injection.dead_time_error = {};
  truth.film.share = 0;
  truth.film.cold_loss = 0;
  truth.sensor = {.pipe_gas = {},
                  .revolutions = 0,
                  .tip_delay = {},
                  .lag = {},
                  .noise = 0,
                  .drift = 0,
                  .misfires_per_minute = 0,
                  .overlap_lean = 0};
  truth.surroundings.charge_heating_believed = truth.surroundings.charge_heating;
  truth.surroundings.map_noise = {};
  truth.surroundings.meter_gain_error = 0;
  truth.surroundings.meter_noise = 0;
  return truth;
}

Truth with_flat_ve(Truth truth, double ve) {
  truth.breathing.level = ve;
  truth.breathing.hump_fall = 0;
  truth.breathing.residual = 0;
  truth.breathing.overlap = 0;
  truth.breathing.interaction = 0;
  for (Ripple& r : truth.breathing.ripples) r.height = 0;
  return truth;
}

car::Surface table_as_found(const Truth& truth, const car::Grid& grid, std::uint64_t seed) {
  const bool speed_along_x = grid.x.kind() == car::AxisKind::engine_speed;
  const car::Axis& speeds = speed_along_x ? grid.x : grid.y;
  const car::Axis& loads = speed_along_x ? grid.y : grid.x;
  EXPECTS(speeds.kind() == car::AxisKind::engine_speed);
  EXPECTS(loads.kind() == car::AxisKind::map_absolute || loads.kind() == car::AxisKind::vacuum);

  Random random(seed, 2);
  const double rms_wanted = random.uniform(0.05, 0.15);
  const SmoothError shape(random);
  car::Surface table = car::Surface::flat(grid, 0);
  std::vector<double> error(grid.size());
  double sum = 0;
  for (std::size_t iy = 0; iy < grid.y.size(); ++iy) {
    for (std::size_t ix = 0; ix < grid.x.size(); ++ix) {
      const EngineSpeed n = rpm(std::max(speeds[speed_along_x ? ix : iy], 300.0));
      const double load = loads[speed_along_x ? iy : ix];
      const AbsolutePressure p =
          std::max(pressure_of(loads, load, truth.surroundings.ambient), absolute(12.0 * kPa));
      const double e = shape.at(std::log(n.rpm / 700) / std::log(8.0), p.from_zero.si / 100e3);
      table.node(ix, iy) = true_ve(truth, n, p);
      error[grid.index(ix, iy)] = e;
      sum += e * e;
    }
  }
  const double scale = rms_wanted / std::sqrt(sum / static_cast<double>(grid.size()));
  for (std::size_t i = 0; i < error.size(); ++i) {
    const double wrong = table.values[i] * std::exp(scale * error[i]);
    table.values[i] = std::round(std::clamp(wrong, 0.15, 1.50) * 1000) / 1000;
  }
  return table;
}

}  // namespace fuelwright::sim
