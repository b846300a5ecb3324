// Charging voltage and fuel pressure.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "advice/sensor_checks/internal/looking.h"
#include "advice/sensor_checks/internal/numbers.h"
#include "advice/sensor_checks/internal/rail.h"

namespace fuelwright::advice {
namespace {

using signals::Quantity;

// A sound charging system at more than idle speed (common practice, no source: 13.6 to 14.6 V, some
// units save it down to 13.2).
constexpr double kCharging_v = 13.9;
constexpr double kChargingSd_v = 0.22;
constexpr double kLow_v = 12.4;  // no charge at all
constexpr double kHigh_v = 15.2;

constexpr double kRegulator = 0.018;  // of a sound regulator and sensor together, 1 sd, share
constexpr double kSensor_pa = 4e3;
constexpr double kSags = 0.12;
constexpr double kGraveOff = 0.08;
constexpr double kSagSd = 0.012;
constexpr double kGraveSag = 0.05;

}  // namespace

void look_at_voltage(Looking& l) {
  const Column* battery = l.col(Quantity::battery);
  const Column* speed = l.col(Quantity::rpm);
  if (!battery || !speed) {
    l.skip(Check::voltage, "not recorded");
    return;
  }
  const double quick = 1.4 * l.car.sheet.wishes.idle_speed.si();
  Column volts;
  Column minutes;  // means of half a minute
  double sum = 0;
  std::size_t rows = 0;
  for (std::size_t i = 0; i < l.n; ++i) {
    if (!l.running[i] || !((*speed)[i] > quick) || std::isnan((*battery)[i])) continue;
    volts.push_back((*battery)[i]);
    sum += (*battery)[i];
    if (++rows == std::max<std::size_t>(l.rows_of(15), 20)) {
      minutes.push_back(sum / static_cast<double>(rows));
      sum = 0;
      rows = 0;
    }
  }
  if (volts.size() < 50) {
    l.skip(Check::voltage, "too little driving above idle speed");
    return;
  }
  const double middle = median(volts);
  const double least = minutes.empty() ? middle : quantile(minutes, 0.0);
  const double most = minutes.empty() ? middle : quantile(minutes, 1.0);
  // What sags counts as much as what is low all along.
  const double off =
      most - kCharging_v > kCharging_v - least ? most - kCharging_v : least - kCharging_v;
  const double looks = std::max(1.0, std::log2(1.0 + static_cast<double>(minutes.size())));
  const Evidence e = weigh_level(off, kChargingSd_v, 1.2, looks);
  const bool grave = least < kLow_v || most > kHigh_v;
  l.add(Check::voltage, Quantity::battery, grade_of(e, grave), e,
        fmt::format("{:.2f} V while driving, between {:.2f} and {:.2f} V over half minutes", middle,
                    least, most),
        static_cast<long>(volts.size()));
}

void look_at_fuel_pressure(Looking& l) {
  const Column* rail = l.col(Quantity::fuel_pressure);
  const Column* speed = l.col(Quantity::rpm);
  const Column* map = l.col(Quantity::map);
  const Column* pulse = l.col(Quantity::pulse_width);
  const car::Injection& in = l.car.sheet.injection;
  const bool referred = in.regulator_reference.value == car::RegulatorReference::manifold;
  if (!rail || !speed || (referred && !map)) {
    for (const Check c : {Check::fuel_demand, Check::regulator}) {
      l.skip(c, rail ? "no manifold pressure for its regulator" : "not recorded");
    }
    return;
  }
  const double set = in.regulator_pressure.si();
  const double ambient = l.place.pressure.from_zero.si;
  // Demand by pulse width and speed, else by pressure and speed; steady rows, as rails need time.
  Column off(l.n, NAN), demand(l.n, NAN);
  for (std::size_t i = 1; i < l.n; ++i) {
    if (!l.running[i]) continue;
    const double asked = set + (referred ? (*map)[i] - ambient : 0);
    if (map && std::abs((*map)[i] - (*map)[i - 1]) > 4e3) continue;
    off[i] = ((*rail)[i] - asked) / set;  // (sensor_checks.9)
    demand[i] = (pulse ? (*pulse)[i] : (map ? (*map)[i] : 1)) * (*speed)[i];
  }
  const double low = quantile(demand, 0.6);
  const double high = std::max(quantile(demand, 0.985), 1.25 * low);
  Column at_low, at_high;
  std::size_t first = l.n, last = 0;
  for (std::size_t i = 0; i < l.n; ++i) {
    if (demand[i] < low) at_low.push_back(off[i]);
    if (!(demand[i] >= high)) continue;
    at_high.push_back(off[i]);
    first = std::min(first, i);
    last = i + 1;
  }
  if (at_low.size() < 50) {
    l.skip(Check::regulator, "too few rows");
    l.skip(Check::fuel_demand, "too few rows");
    return;
  }
  const double level = median(at_low);
  const double stated = in.regulator_pressure.tolerance_si() / 1.96 / set;
  const double sd = std::hypot(std::clamp(stated, 0.012, kRegulator), kSensor_pa / set);
  const Evidence e = weigh_level(level, sd, kSags);
  l.add(Check::regulator, Quantity::fuel_pressure, grade_of(e, std::abs(level) > kGraveOff), e,
        fmt::format("at light demand the rail is {:+.1f} % ({}) off the sheet's regulator",
                    100 * level, rail_off_text(l, level * set)),
        static_cast<long>(at_low.size()));
  if (static_cast<double>(at_high.size()) * std::max(l.step_s, 0.02) < 0.5) {
    l.skip(Check::fuel_demand, "no high demand for long enough");
    return;
  }
  const double sag = level - quantile(at_high, 0.25);
  const Evidence s = weigh_level(std::max(0.0, sag), kSagSd, 0.15);
  l.add(Check::fuel_demand, Quantity::fuel_pressure, grade_of(s, sag > kGraveSag), s,
        fmt::format("at the highest demand of this drive the rail falls by {:.1f} % ({})",
                    100 * sag, rail_text(l, sag * set)),
        static_cast<long>(at_high.size()), first, last);
}

}  // namespace fuelwright::advice
