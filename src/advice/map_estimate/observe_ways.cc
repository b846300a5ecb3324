// The formulas of observe.h: one row of a recording to what it says about the table.
#include <algorithm>
#include <cmath>

#include "advice/map_estimate/injector_fuel.h"
#include "advice/map_estimate/observe.h"
#include "car/build/derived.h"

namespace fuelwright::advice {
namespace {

using signals::Channel;
using signals::Pace;

constexpr double kAirGasConstant =
    287.05;  // J/(kg K), dry air (U.S. Standard Atmosphere 1976: 287.053)

// Limits within which a row can teach (common practice, no source).
constexpr double kLowestMap_pa = 16e3;    // below: overrun, fuel cut or closing throttle
constexpr double kLeanestReading = 1.6;   // above: free air, a fuel cut or a sensor in trouble
constexpr double kRichestReading = 0.55;  // below: sensor not warm
constexpr double kAfterFuelCut_s = 2.0;   // film and exhaust need this to settle again
constexpr double kHoldsLambdaOne = 0.02;  // commanded ratio within this of 1: closed loop

// One standard deviation of a steady reading [-], and how moving adds to it (fast logs; rows a
// second or more apart).
struct Noise {
  double steady;
  double moving;
  double map_step_pa;
};
constexpr Noise kMixtureFast{0.015, 0.30, 300};
constexpr Noise kMixtureSlow{0.030, 0.15, 1000};
constexpr Noise kAirFast{0.020, 0.30, 300};
constexpr Noise kAirSlow{0.060, 0.15, 1000};
constexpr double kFastStep_s = 0.5;

std::size_t held_from(const signals::Recording& r, std::size_t row) {
  constexpr std::size_t kHeldRows = 32;
  const std::size_t first = r.segment_of(row).first;
  return row >= first + kHeldRows ? row - kHeldRows : first;
}

// The value in a row; a blank cell between polls holds the last one for a while. NaN if there is
// none.
double held(const signals::Recording& r, const Channel* channel, std::size_t row) {
  if (!channel) return NAN;
  if (!std::isnan(channel->si[row])) return channel->si[row];
  const std::size_t first = held_from(r, row);
  for (std::size_t i = row; i-- > first;) {
    if (!std::isnan(channel->si[i])) return channel->si[i];
  }
  return NAN;
}

}  // namespace

const char* Observer::unusable(std::size_t row, double& free_air_until) const {
  const signals::Recording& r = *recording_;
  const double now = r.time_s.empty() ? NAN : r.time_s[row];
  const double n = held(r, c_.rpm, row);
  const double slowest =
      options_.slowest ? options_.slowest->rpm : 0.8 * sheet_->wishes.idle_speed.si();
  if (std::isnan(n) || n < slowest) return "engine standing or starting";
  if (const double t = held(r, c_.coolant, row); t < options_.warm.from_zero.si) {
    return "engine not warm";
  }
  if (c_.map) {
    const double p = held(r, c_.map, row);
    if (std::isnan(p)) return "a needed value is missing";
    if (p < kLowestMap_pa) return "overrun (MAP below 16 kPa)";
  }
  if (way_ == Way::correction || way_ == Way::pulse_width) {
    const double lambda = c_.lambda->si[row];  // a row counts only where the sensor was read
    if (std::isnan(lambda)) return "the mixture sensor was not read in this row";
    if (lambda > kLeanestReading) {
      if (!std::isnan(now)) free_air_until = now + kAfterFuelCut_s;
      return "fuel cut or free air at the sensor";
    }
    if (now <= free_air_until) return "just after a fuel cut";
    if (lambda < kRichestReading) return "mixture sensor not believable";
  }
  if (way_ == Way::trims && c_.commanded) {
    const double commanded = held(r, c_.commanded, row);
    if (std::abs(commanded - 1.0) > kHoldsLambdaOne) return "unit not holding lambda 1";
  }
  if (way_ != Way::metered_air && flames_go_out(row, n)) {
    return "burnt gas may put out flames, which reads lean (light load of a cam with overlap)";
  }
  return nullptr;
}

bool Observer::flames_go_out(std::size_t row, double rpm) const {
  return c_.map && dilution_.spoils(rpm, held(*recording_, c_.map, row));
}

car::OperatingPoint Observer::point_at(std::size_t row) const {
  const signals::Recording& r = *recording_;
  car::OperatingPoint at;
  at.speed = rpm(held(r, c_.rpm, row));
  const double baro = held(r, c_.baro, row);
  at.ambient = std::isnan(baro) ? sheet_->place.pressure.value : absolute(baro * pascal);
  const double p = held(r, c_.map, row);
  at.map = std::isnan(p) ? at.ambient : absolute(p * pascal);
  const double throttle = held(r, c_.throttle, row);
  at.throttle = std::isnan(throttle) ? 0.0 : throttle;
  return at;
}

// VE = m_air 120 R T / (p V_d n) (observe.5)
double Observer::ve_of_air(double air_kg_s, std::size_t row, const car::OperatingPoint& at) const {
  const double t = held(*recording_, c_.intake_air, row);
  return air_kg_s * 120.0 * kAirGasConstant * t /
         (at.map.from_zero.si * sheet_->engine.displacement.si() * at.speed.rpm);
}

std::optional<double> Observer::ve_from_fuel(std::size_t row, const car::OperatingPoint& at) const {
  const car::Injection& inj = sheet_->injection;
  const double pulse = held(*recording_, c_.pulse_width, row);
  if (std::isnan(pulse)) return std::nullopt;
  const double dead = dead_time(inj, held(*recording_, c_.battery, row) * volt).si;
  if (pulse <= dead) return std::nullopt;  // nothing was injected
  const PressureStep across = pressure_across_injector(inj, at.map, at.ambient);
  if (across.si <= 0) return std::nullopt;
  const double q = injector_flow(*sheet_, across).si;
  const double fuel = inj.injector_count.si() * inj.squirts_per_cycle.si() * q * (pulse - dead) *
                      at.speed.rpm / 120.0;  // (observe.3)
  const double air = c_.lambda->si[row] * sheet_->fuel.stoichiometric.si() * fuel;
  return ve_of_air(air, row, at);  // (observe.2)
}

std::optional<double> Observer::y_at(std::size_t row, const car::OperatingPoint& at) const {
  const signals::Recording& r = *recording_;
  const double table = table_->at(at);
  switch (way_) {
    case Way::correction: {
      const double target = held(r, c_.target, row);
      const double correction = c_.correction ? held(r, c_.correction, row) : 0.0;
      if (!(target > 0) || !(correction > -1)) return std::nullopt;
      return std::log(c_.lambda->si[row] / target) + std::log1p(correction);  // (observe.1)
    }
    case Way::pulse_width: {
      const auto ve = ve_from_fuel(row, at);
      if (!ve) return std::nullopt;
      return std::log(*ve / table);
    }
    case Way::trims: {
      const double quick = c_.short_trim ? held(r, c_.short_trim, row) : 0.0;
      const double slow = c_.long_trim ? held(r, c_.long_trim, row) : 0.0;
      if (!(quick > -1) || !(slow > -1)) return std::nullopt;
      return std::log1p(quick) + std::log1p(slow);  // (observe.4)
    }
    case Way::metered_air: {
      const double air = c_.maf->si[row];
      if (!(air > 0)) return std::nullopt;
      return std::log(ve_of_air(air, row, at) / table);
    }
  }
  broken_contract("a way of the list", __FILE__, __LINE__);
}

double Observer::warmth_at(std::size_t row) const {
  constexpr double kReference_k = 293.15;  // the table holds for intake air of 20 degC
  return std::log(held(*recording_, c_.intake_air, row) / kReference_k);
}

double Observer::noise_at(std::size_t row, const car::OperatingPoint& at) const {
  const bool fast = recording_->row_step && recording_->pace != Pace::unordered &&
                    recording_->row_step->si <= kFastStep_s;
  const Noise noise = way_ == Way::metered_air ? (fast ? kAirFast : kAirSlow)
                                               : (fast ? kMixtureFast : kMixtureSlow);
  const double moving = noise.moving * static_cast<double>(moving_[row]);
  const double step = c_.map ? noise.map_step_pa / at.map.from_zero.si : 0.0;
  return std::sqrt(noise.steady * noise.steady + moving * moving + step * step);
}

}  // namespace fuelwright::advice
