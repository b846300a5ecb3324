#include "sim/virtual_car/internal/exhaust.h"

#include <algorithm>
#include <cmath>

namespace fuelwright::sim::virtual_car {
namespace {

constexpr double kWhite = 0.5;    // of the noise; the rest remembers itself ...
constexpr double kGrain_s = 0.3;  // ... so long
constexpr double kStandard_pa = 101325;
constexpr std::size_t kForgetAfter = 4096;
constexpr double kLeastRichness = 1e-3;

}  // namespace

void Carried::put(double position, double value) { entries_.push_back({position, value}); }

double Carried::at(double position) {
  while (from_ + 1 < entries_.size() && entries_[from_ + 1].position <= position) ++from_;
  if (from_ > kForgetAfter) {
    entries_.erase(entries_.begin(), entries_.begin() + static_cast<std::ptrdiff_t>(from_));
    from_ = 0;
  }
  const Entry& a = entries_[from_];
  if (from_ + 1 == entries_.size() || position <= a.position) return a.value;
  const Entry& b = entries_[from_ + 1];
  return a.value + (position - a.position) / (b.position - a.position) * (b.value - a.value);
}

double ExhaustPath::step(double gas_kg, double turns, double richness, double leak, double dt_s) {
  turns_ += turns;
  gas_kg_ += gas_kg;
  seconds_ += dt_s;
  in_cylinder_.put(turns_, richness);
  in_pipe_.put(gas_kg_, in_cylinder_.at(turns_ - exhaust_.revolutions));
  const double arriving = in_pipe_.at(gas_kg_ - exhaust_.pipe.si);  // (virtual_car.6)
  const double share = exhaust_.mixing.si > 0 ? 1 - std::exp(-gas_kg / exhaust_.mixing.si) : 1.0;
  mixed_ = started_ ? mixed_ + share * (arriving - mixed_) : arriving;
  started_ = true;
  in_tip_.put(seconds_, mixed_ * (1 - leak));
  return in_tip_.at(seconds_ - tip_delay_s_);
}

SensorTip::SensorTip(const Sensor& sensor, std::uint64_t seed, std::string_view name, double dt_s)
    : sensor_(sensor),
      random_(seed, name),
      drift_(sensor.drift, sensor.drift_time.si, dt_s),
      grain_(sensor.noise * std::sqrt(1 - kWhite * kWhite), kGrain_s, dt_s),
      dt_s_(dt_s) {}

double SensorTip::step(double richness, double exhaust_pa, double slower, double leaner) {
  const double lag_s = sensor_.lag.si * slower;
  const double keep = lag_s > 0 ? std::exp(-dt_s_ / lag_s) : 0.0;
  lagged_ = started_ ? keep * lagged_ + (1 - keep) * richness : richness;
  started_ = true;
  const double off = 1 / std::max(lagged_, kLeastRichness) - 1;
  const double gain =
      sensor_.gain * (1 + sensor_.pressure_error * (exhaust_pa - kStandard_pa) / 1e5);
  const double error =
      drift_.step(random_) + grain_.step(random_) + kWhite * sensor_.noise * random_.normal();
  const double lambda = (1 + gain * off) * (1 + error) * (1 + leaner);  // (virtual_car.7)
  return std::clamp(lambda, sensor_.richest, sensor_.leanest);
}

double dilution_misfire(const Sensor& sensor, double residual) {
  const double z = (residual - sensor.dilution_limit) / sensor.dilution_width;
  return 1 / (1 + std::exp(-std::clamp(z, -40.0, 40.0)));  // (virtual_car.11)
}

}  // namespace fuelwright::sim::virtual_car
