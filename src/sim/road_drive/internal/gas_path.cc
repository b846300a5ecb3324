#include "sim/road_drive/internal/gas_path.h"

#include <algorithm>
#include <cmath>

namespace fuelwright::sim {
namespace {

constexpr double kFilmPressure_pa = 50e3;  // where the stated share holds
constexpr double kWarm_k = 363.15;         // where the stated share and time hold
constexpr double kColdStep_k = 40.0;       // over which both grow by e^cold_growth
constexpr double kLargestShare = 0.7;
constexpr double kWhitePart = 0.55;      // of the noise; the rest has a memory of ...
constexpr double kGrainMemory_s = 0.25;  // ... cycle-to-cycle and cylinder-to-cylinder mixing
constexpr double kDriftMemory_s = 150;
constexpr double kMisfireTime_s = 0.12;
constexpr double kLeanestRead = 1.55;  // lambda; beyond it the gauge shows its stop
constexpr double kKeptSteps = 4000;    // of the exhaust's past, before it is forgotten
constexpr double kRichestRead = 0.65;

}  // namespace

double Puddle::step(double injected_kg, double dt_s, double map_pa, double coolant_k) {
  const double cold =
      std::exp(film_.cold_growth * std::max(kWarm_k - coolant_k, 0.0) / kColdStep_k);
  const double share =
      std::min(film_.share * cold * std::pow(map_pa / kFilmPressure_pa, film_.pressure_power),
               kLargestShare);
  if (share <= 0 && mass_kg_ <= 0) return injected_kg;
  const double tau_s = film_.evaporation_time.si * cold;
  const double inflow = share * injected_kg / dt_s;
  if (!started_) {
    mass_kg_ = inflow * tau_s;
    started_ = true;
  }
  const double keep = std::exp(-dt_s / tau_s);
  const double after = mass_kg_ * keep + inflow * tau_s * (1.0 - keep);  // (road_drive.4)
  const double into_cylinders = injected_kg - (after - mass_kg_);
  mass_kg_ = after;
  return into_cylinders;
}

double ExhaustPipe::find(const std::vector<double>& series, double value, double from) {
  std::size_t i = static_cast<std::size_t>(from);
  if (value <= series.front()) return 0;
  while (i + 1 < series.size() && series[i + 1] <= value) ++i;
  if (i + 1 >= series.size()) return static_cast<double>(series.size() - 1);
  const double width = series[i + 1] - series[i];
  const double part = width > 0 ? std::clamp((value - series[i]) / width, 0.0, 1.0) : 0.0;
  return static_cast<double>(i) + part;
}

double ExhaustPipe::at(const std::vector<double>& series, double index) {
  const double held = std::clamp(index, 0.0, static_cast<double>(series.size() - 1));
  const auto i = static_cast<std::size_t>(held);
  if (i + 1 >= series.size()) return series.back();
  const double part = held - static_cast<double>(i);
  return (1.0 - part) * series[i] + part * series[i + 1];
}

double ExhaustPipe::step(double gas_kg, double revolutions, double richness, double dt_s) {
  gas_kg_.push_back((gas_kg_.empty() ? 0.0 : gas_kg_.back()) + gas_kg);
  turns_.push_back((turns_.empty() ? 0.0 : turns_.back()) + revolutions);
  richness_.push_back(richness);
  const double tip_index = static_cast<double>(gas_kg_.size() - 1) - sensor_.tip_delay.si / dt_s;
  const double gas = at(gas_kg_, tip_index) - sensor_.pipe_gas.si;  // (road_drive.5)
  exhaust_index_ = find(gas_kg_, gas, exhaust_index_);
  injection_index_ =
      find(turns_, at(turns_, exhaust_index_) - sensor_.revolutions, injection_index_);
  const double arriving = at(richness_, injection_index_);
  forget();
  return arriving;
}

void ExhaustPipe::forget() {
  if (injection_index_ < kKeptSteps) return;
  const auto gone = static_cast<std::ptrdiff_t>(injection_index_) - 1;
  for (auto* series : {&gas_kg_, &turns_, &richness_}) {
    series->erase(series->begin(), series->begin() + gone);
  }
  injection_index_ -= static_cast<double>(gone);
  exhaust_index_ -= static_cast<double>(gone);
}

SensorTip::SensorTip(const MixtureSensor& sensor, std::uint64_t seed)
    : sensor_(sensor),
      noise_random_(seed, 11),
      misfire_random_(seed, 12),
      grain_(sensor.noise * std::sqrt(1.0 - kWhitePart * kWhitePart), kGrainMemory_s),
      drift_(sensor.drift, kDriftMemory_s) {}

double SensorTip::step(double richness, double lean_bias, double dt_s) {
  if (misfire_random_.chance(sensor_.misfires_per_minute / 60.0 * dt_s)) {
    misfire_left_s_ = kMisfireTime_s;
    misfire_depth_ = misfire_random_.uniform(0.10, 0.40);
  }
  const double burnt = misfire_left_s_ > 0 ? richness * (1.0 - misfire_depth_) : richness;
  misfire_left_s_ -= dt_s;
  const double keep = sensor_.lag.si > 0 ? std::exp(-dt_s / sensor_.lag.si) : 0.0;
  lagged_ = started_ ? keep * lagged_ + (1.0 - keep) * burnt : burnt;  // (road_drive.6)
  started_ = true;
  const double error = drift_.step(dt_s, noise_random_) + grain_.step(dt_s, noise_random_) +
                       kWhitePart * sensor_.noise * noise_random_.normal();
  const double lambda = (1.0 + lean_bias) * (1.0 + error) / std::max(lagged_, 1e-3);
  return std::clamp(lambda, kRichestRead, kLeanestRead);
}

}  // namespace fuelwright::sim
