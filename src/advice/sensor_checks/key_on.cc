// Key on, engine off.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "advice/sensor_checks/internal/looking.h"
#include "advice/sensor_checks/internal/numbers.h"
#include "advice/sensor_checks/internal/rail.h"

namespace fuelwright::advice {
namespace {

using signals::Quantity;

constexpr double kMapSd_pa = 350, kMapFaulty_pa = 6000, kMapGrave_pa = 3500;
constexpr double kSoak_s = 6 * 3600;      // after that an engine is as warm as its place
constexpr double kThermistorsSd_k = 1.5;  // two sound ones
constexpr double kThermistorFaulty_k = 15, kThermistorGrave_k = 15;
constexpr double kCooling_s = 3600;  // of a block, first order; differs twofold
constexpr double kClosedMost = 0.02, kClosedGrave = 0.12, kOpenLeast = 0.96;
constexpr double kTrackLeap = 0.12;
constexpr double kRest_v = 12.55, kRestSd_v = 0.15, kFlat_v = 11.9;
constexpr double kFreeLean = 1.5, kFreeSd = 0.025;
constexpr double kWarmUp_s = 8;
constexpr double kRegulatorSd = 0.018, kRailSensor_pa = 4e3, kRailGrave = 0.08;
constexpr double kDecayShare = 0.15;  // of the pressure lost in 10 s: sound systems hold
constexpr double kDecayGrave = 0.6;

// Rows with the engine standing, first stretch.
struct Still {
  std::size_t first = 0, last = 0;
};
Still still_rows(const Looking& l) {
  const Column* speed = l.col(Quantity::rpm);
  Still s;
  if (!speed) return {0, l.n};
  while (s.first < l.n && !((*speed)[s.first] < 50)) ++s.first;
  s.last = s.first;
  while (s.last < l.n && !((*speed)[s.last] >= 50)) ++s.last;
  return s;
}

Column part(const Column* c, Still s) {
  if (!c) return {};
  return {c->begin() + static_cast<std::ptrdiff_t>(s.first),
          c->begin() + static_cast<std::ptrdiff_t>(s.last)};
}

void look_at_ambient(Looking& l, Still s) {
  const Column map = part(l.col(Quantity::map), s);
  if (map.empty()) return l.skip(Check::ambient_pressure, "manifold pressure not recorded");
  const double off = median(map) - l.place.pressure.from_zero.si;
  const double sd = std::hypot(kMapSd_pa, l.place.sd.si);
  const Evidence e = weigh_level(off, sd, kMapFaulty_pa);
  const Grade grade = grade_of(e, std::abs(off) > kMapGrave_pa);
  std::string seen = fmt::format(
      "reads {}; by {} it is {} outside, \xC2\xB1{}: {}", l.pressure(median(map)), l.place.from,
      l.pressure(l.place.pressure.from_zero.si), l.pressure(2 * sd, 2), l.pressure_off(off));
  // Was a weather report's figure taken for the station's?
  const double h =
      l.car.weather.altitude ? l.car.weather.altitude->si : l.car.sheet.place.altitude.si();
  if (grade != Grade::fine && h > 200) {
    const WeatherReport swap{.sea_level = l.place.pressure, .altitude = h * metre};
    const double as_report = place_pressure(swap, l.car.sheet).pressure.from_zero.si;
    if (std::abs(median(map) - as_report) < 2.5e3) {
      seen += fmt::format("; at {} that fits if the figure given was a sea-level one",
                          format(h, Kind::length, l.car.units, 3));
    }
  }
  l.add(Check::ambient_pressure, Quantity::map, grade, e, std::move(seen),
        static_cast<long>(map.size()), s.first, s.last);
  if (grade == Grade::stop) {
    l.out.masks.refuse(Quantity::map, 1,
                       fmt::format("manifold pressure reads {} off", l.pressure_off(off)));
  }
}

void look_at_soaked(Looking& l, Still s) {
  const Column coolant = part(l.col(Quantity::coolant), s);
  const Column intake = part(l.col(Quantity::intake_air), s);
  if (coolant.empty() || intake.empty()) {
    return l.skip(Check::temperatures_agree, "coolant or intake air not recorded");
  }
  const double a = median(coolant);
  const double b = median(intake);
  const double stood = l.car.weather.stood ? l.car.weather.stood->si : NAN;
  // An engine that has not stood long is warmer than the air; how much is left is not known well.
  double left_sd = 0;
  if (std::isnan(stood)) {
    if (a - b > 12) {
      return l.skip(Check::temperatures_agree,
                    fmt::format("coolant is {} warmer than intake air: say how long the car has "
                                "stood",
                                format(a - b, Kind::temperature_step, l.car.units, 2)));
    }
    left_sd = 3;
  } else if (stood < kSoak_s) {
    left_sd = 60 * std::exp(-stood / (2 * kCooling_s));
  }
  const double sd = std::hypot(kThermistorsSd_k, left_sd);
  const double off = a - b;
  const Evidence e = weigh_level(off, sd, kThermistorFaulty_k);
  std::string which;
  if (l.car.weather.air && sure(e)) {
    const double t = l.car.weather.air->from_zero.si;
    which = std::abs(a - t) > std::abs(b - t) + 3   ? "; the air says it is the coolant sensor"
            : std::abs(b - t) > std::abs(a - t) + 3 ? "; the air says it is the intake sensor"
                                                    : "";
  }
  const bool intake_wrong = which.find("intake") != std::string::npos;
  l.add(Check::temperatures_agree, intake_wrong ? Quantity::intake_air : Quantity::coolant,
        grade_of(e, std::abs(off) > kThermistorGrave_k), e,
        fmt::format("coolant {}, intake air {}: {} (\xC2\xB1{}){}", l.temperature(a),
                    l.temperature(b), l.warmth_off(off),
                    format(2 * sd, Kind::temperature_step, l.car.units, 2), which),
        static_cast<long>(coolant.size()), s.first, s.last);
}

void look_at_throttle(Looking& l, Still s) {
  const Column t = part(l.col(Quantity::throttle), s);
  if (t.empty()) return l.skip(Check::throttle_ends, "throttle not recorded");
  const double low = quantile(t, 0.05);
  const double high = quantile(t, 0.995);
  const bool pressed = high - low > 0.3;
  double leap = 0;
  if (pressed && l.fast) {
    for (std::size_t i = 2; i + 1 < t.size(); ++i) {
      const double usual = std::max(std::abs(t[i - 1] - t[i - 2]), std::abs(t[i + 1] - t[i]));
      leap = std::max(leap, std::abs(t[i] - t[i - 1]) - 3 * usual);
    }
  }
  const bool closed_off = low > kClosedMost || low < -0.01;
  const bool open_off = pressed && high < kOpenLeast;
  const bool jumps = leap > kTrackLeap;
  Grade grade = closed_off || open_off || jumps ? Grade::doubt : Grade::fine;
  if (low > kClosedGrave || (pressed && high < 0.7)) grade = Grade::stop;
  l.add(Check::throttle_ends, Quantity::throttle, grade,
        certain(std::max(low, pressed ? 1 - high : 0)),
        fmt::format("closed {:.1f} %, {}{}", 100 * low,
                    pressed ? fmt::format("open {:.1f} %", 100 * high)
                            : "not pressed: the open end was not seen",
                    jumps ? fmt::format(", with a jump of {:.0f} % on the way", 100 * leap) : ""),
        static_cast<long>(t.size()), s.first, s.last);
}

void look_at_battery(Looking& l, Still s) {
  const Column v = part(l.col(Quantity::battery), s);
  if (v.empty()) return l.skip(Check::battery_at_rest, "not recorded");
  const double reads = median(v);
  const Evidence e = weigh_level(std::max(0.0, kRest_v - reads), kRestSd_v, 0.8);
  l.add(Check::battery_at_rest, Quantity::battery, grade_of(e, reads < kFlat_v), e,
        fmt::format("{:.2f} V at rest, key on (sound and charged {:.1f} \xC2\xB1{:.1f} V)", reads,
                    kRest_v, 2 * kRestSd_v),
        static_cast<long>(v.size()), s.first, s.last);
}

void look_at_free_air(Looking& l, Still s) {
  for (const int bank : {1, 2}) {
    const Column* c = l.col(Quantity::lambda, bank);
    if (!c) {
      if (bank == 1) l.skip(Check::mixture_in_free_air, "no mixture sensor");
      continue;
    }
    Still late = s;
    late.first = std::min(s.last, s.first + l.rows_of(kWarmUp_s));
    const Column v = part(c, late);
    if (v.size() < 3 || !l.timed) {
      l.skip(Check::mixture_in_free_air, "key on for less than 8 s: the sensor is not warm");
      continue;
    }
    const double reads = median(v);
    const double top = quantile(*c, 1.0);
    const bool range_end = reads > top - 0.003 && spread(v, 0, v.size() - 1) < 1e-6 && reads > 1.12;
    const Evidence e =
        weigh_level(reads < kFreeLean ? std::log(kFreeLean / reads) : 0, kFreeSd, 0.3);
    l.add(Check::mixture_in_free_air, Quantity::lambda, range_end ? Grade::fine : grade_of(e, true),
          e,
          fmt::format(
              "lambda {:.2f} in free air{}; exhaust left in the pipe reads richer for minutes",
              reads, range_end && reads < kFreeLean ? ", the end of its gauge" : ""),
          static_cast<long>(v.size()), late.first, late.last, bank);
  }
}

void look_at_rail(Looking& l, Still s) {
  const Column rail = part(l.col(Quantity::fuel_pressure), s);
  if (rail.size() < 10 || !l.timed) {
    l.skip(Check::fuel_pressure_static, rail.empty() ? "not recorded" : "too few rows");
    l.skip(Check::fuel_pressure_decay, rail.empty() ? "not recorded" : "too few rows");
    return;
  }
  // The pump primes for some seconds, then stops: highest level, and what follows it.
  const car::Injection& in = l.car.sheet.injection;
  const double set = in.regulator_pressure.si();
  const double high = quantile(rail, 0.9);
  const double stated =
      std::clamp(in.regulator_pressure.tolerance_si() / 1.96 / set, 0.012, kRegulatorSd);
  // While it pumps: the median of the rows within 4 % of the highest.
  Column pumping;
  for (const double p : rail) {
    if (p > 0.96 * high) pumping.push_back(p);
  }
  const double level = median(pumping);
  const double off = level / set - 1;
  const Evidence e = weigh_level(off, std::hypot(stated, kRailSensor_pa / set), 0.12);
  l.add(Check::fuel_pressure_static, Quantity::fuel_pressure,
        grade_of(e, std::abs(off) > kRailGrave), e,
        fmt::format("{} with the pump running, the regulator's is {}: {:+.1f} %", l.pressure(level),
                    l.pressure(set), 100 * off),
        static_cast<long>(pumping.size()), s.first, s.last);
  // Fall over the last ten seconds; while a pump runs it is nothing.
  const std::size_t ten = l.rows_of(10);
  if (rail.size() < ten + 3) {
    l.skip(Check::fuel_pressure_decay, "key on for less than 10 s");
    return;
  }
  double worst = 0;
  const std::size_t one = std::max<std::size_t>(l.rows_of(0.5), 3);
  for (std::size_t i = 0; i + ten + one <= rail.size(); i += one) {
    const auto mean_at = [&](std::size_t k) {
      return mean(Column(rail.begin() + static_cast<std::ptrdiff_t>(k),
                         rail.begin() + static_cast<std::ptrdiff_t>(k + one)));
    };
    worst = std::max(worst, mean_at(i) - mean_at(i + ten));
  }
  const double share = worst / set;
  const Evidence d = weigh_level(share, kDecayShare / 4, 0.3);
  l.add(Check::fuel_pressure_decay, Quantity::fuel_pressure,
        share > kDecayShare ? grade_of(d, share > kDecayGrave) : Grade::fine, d,
        fmt::format("falls by {} in 10 s at the most ({:.0f} %)", rail_text(l, worst), 100 * share),
        static_cast<long>(rail.size()), s.first, s.last);
}

}  // namespace

SensorReport check_key_on(const signals::Recording& recording, const CheckedCar& car) {
  Looking l(recording, car);
  const Still s = still_rows(l);
  if (s.last < s.first + 3) {
    for (const Check c : {Check::ambient_pressure, Check::temperatures_agree, Check::throttle_ends,
                          Check::battery_at_rest, Check::mixture_in_free_air,
                          Check::fuel_pressure_static, Check::fuel_pressure_decay}) {
      l.skip(c, "no rows with the engine standing");
    }
    return std::move(l.out);
  }
  look_at_ambient(l, s);
  look_at_soaked(l, s);
  look_at_throttle(l, s);
  look_at_battery(l, s);
  look_at_free_air(l, s);
  look_at_rail(l, s);
  std::ranges::stable_sort(l.out.findings, std::greater<>{}, &Finding::grade);
  return std::move(l.out);
}

}  // namespace fuelwright::advice
