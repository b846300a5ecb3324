#include "advice/sensor_checks/sensor_checks.h"

#include <fmt/format.h>

#include <algorithm>

#include "advice/sensor_checks/internal/looking.h"

namespace fuelwright::advice {
namespace {

constexpr double kUseful = 0.02;  // share of rows below which a recording is refused as a whole

}  // namespace

Grade SensorReport::worst() const {
  Grade g = Grade::fine;
  for (const Finding& f : findings) g = std::max(g, f.grade);
  return g;
}

const Finding* SensorReport::find(Check check) const {
  const Finding* best = nullptr;
  for (const Finding& f : findings) {
    if (f.check == check && (!best || f.grade > best->grade)) best = &f;
  }
  return best;
}

std::optional<std::string> SensorReport::refused() const {
  using signals::Quantity;
  for (const Quantity q : {Quantity::time, Quantity::rpm, Quantity::map}) {
    if (auto why = masks.refused(q)) return why;
  }
  if (const auto one = masks.refused(Quantity::lambda, 1)) {
    if (mixture_sensors < 2 || masks.refused(Quantity::lambda, 2)) return one;
  }
  if (masks.rows() == 0) return "no rows";
  std::size_t left = 0;
  for (std::size_t i = 0; i < masks.rows(); ++i)
    left += masks.usable(i, {Quantity::rpm, Quantity::map});
  if (static_cast<double>(left) >= kUseful * static_cast<double>(masks.rows())) return std::nullopt;
  const auto shares = masks.shares(Duration{});
  const auto most = std::ranges::max_element(shares, {}, &MaskedShare::rows);
  return fmt::format("fewer than {:.0f} % of its rows can be used; most of the rest: {}",
                     100 * kUseful, most->why);
}

SensorReport check_running(const signals::Recording& recording, const CheckedCar& car) {
  Looking l(recording, car);
  look_at_clock(l);
  look_at_polling(l);
  look_at_dropouts(l);
  look_at_spikes(l);
  look_at_stuck(l);
  look_at_resolution(l);
  look_at_range_ends(l);
  look_at_noise(l);
  look_at_trigger(l);
  look_at_pressure(l);
  look_at_following(l);
  look_at_temperatures(l);
  look_at_voltage(l);
  look_at_fuel_pressure(l);
  look_at_mixture_sensor(l);
  look_at_cuts(l);
  look_at_misfire(l);
  look_at_level(l);
  look_at_banks(l);
  look_at_leak(l);
  l.out.masks_of_sensors = l.out.masks;
  mask_driving(l);
  for (const int bank : {1, 2}) {
    l.out.mixture_sensors += l.col(signals::Quantity::lambda, bank) != nullptr;
  }
  std::ranges::stable_sort(l.out.findings, std::greater<>{}, &Finding::grade);
  return std::move(l.out);
}

}  // namespace fuelwright::advice
