#include "advice/dynamic_estimate/driving.h"

#include <algorithm>

#include "advice/dynamic_estimate/internal/driving_maker.h"

namespace fuelwright::advice {

constexpr int kMostSensors = 2;

namespace {

Result<Driving> of_sensor(int sensor, const signals::Recording& recording, const car::Sheet& sheet,
                          const car::Surface& start, const car::Surface& driven,
                          const ObserveOptions& options) {
  FW_CHECK(check_pace(recording));
  FW_TRY(const FuelFrom from, choose_fuel(recording, options, start.grid));
  DrivingMaker maker(recording, sheet, start, driven, options, from, sensor);
  maker.add(recording);
  if (!maker.clock().regular()) return irregular_clock(recording.name);
  if (from == FuelFrom::pulse_width_and_target) {
    FW_TRY(const bool fitted, maker.fit_law());
    static_cast<void>(fitted);  // nothing warm: nothing will be learned from it either
  }
  maker.end();
  return maker.take();
}

}  // namespace

Result<Driving> Driving::make(const signals::Recording& recording, const car::Sheet& sheet,
                              const car::Surface& start, const car::Surface& driven,
                              const ObserveOptions& options) {
  return of_sensor(1, recording, sheet, start, driven, options);
}

Result<std::vector<Driving>> Driving::of_sensors(const signals::Recording& recording,
                                                 const car::Sheet& sheet,
                                                 const car::Surface& start,
                                                 const car::Surface& driven,
                                                 const ObserveOptions& options) {
  const int fitted = std::clamp(static_cast<int>(sheet.sensors.mixture.size()), 1, kMostSensors);
  std::vector<Driving> all;
  for (int k = 1; k <= fitted; ++k) {
    if (k > 1 && !recording.find(signals::Quantity::lambda, k)) continue;
    FW_TRY(Driving one, of_sensor(k, recording, sheet, start, driven, options));
    all.push_back(std::move(one));
  }
  for (Driving& d : all) d.weight = 1.0 / static_cast<double>(all.size());
  return all;
}

}  // namespace fuelwright::advice
