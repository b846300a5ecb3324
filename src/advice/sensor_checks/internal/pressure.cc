// Manifold pressure against the pressure outside: offset, and what the throttle lets in.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "advice/sensor_checks/internal/looking.h"
#include "advice/sensor_checks/internal/numbers.h"

namespace fuelwright::advice {
namespace {

using signals::Quantity;

constexpr double kStanding_pa = 400;  // a sound sensor, engine standing, one standard deviation
constexpr double kFilling_s = 2.0;
constexpr double kSteadyStanding_pa = 2e3;
constexpr double kInjects_s = 1e-4;
constexpr double kPriming = 0.1;  // share of the standing rows in which injectors may open
constexpr double kOpen = 0.9;     // of the throttle's own travel
constexpr double kOpenFor_s = 0.6;
constexpr double kSlowShare = 0.55;    // of the rev limit: little is lost in filter and throttle
constexpr double kLostOpen_pa = 1500;  // there, and its standard deviation
constexpr double kLostOpenSd_pa = 600;
constexpr double kOffsets_pa = 6000;  // of faulty sensors
constexpr double kFarOff_pa = 3500;
constexpr double kTurns_rpm = 200;
constexpr double kMovesMuch = 0.15;     // of the throttle's travel: it takes a sound manifold
constexpr double kMovesWith_pa = 30e3;  // through this much at the least
constexpr double kMovesSd_pa = 6e3;
constexpr double kShutSpeed = 1.8;  // times idle speed: a shut throttle then draws a vacuum
constexpr double kShut_pa = 38e3;   // at sea level, highest of sound cars with mild cams ...
constexpr double kShutSd_pa = 7e3;

// Rows in which the throttle has been wide open for a while.
Column open_throttle(const Looking& l, const Column& throttle, const Column& map,
                     const Column& speed) {
  Column out;
  const double high = quantile(throttle, 0.9995);
  if (!(high > 0.7)) return out;
  const double fast = kSlowShare * l.car.sheet.wishes.rev_limit.si();
  const std::size_t held = l.rows_of(kOpenFor_s);
  std::size_t open = 0;
  for (std::size_t i = 0; i < l.n; ++i) {
    open = throttle[i] > kOpen * std::min(high, 1.0) ? open + 1 : 0;
    if (open > held && l.running[i] && speed[i] < fast && !std::isnan(map[i]))
      out.push_back(map[i]);
  }
  return out;
}

// Rows in which the engine has long stopped and is not about to start: the manifold fills in a
// second, but polled values are older than they look, and a starter draws on it. Where injectors
// open or the pressure has several levels the engine runs, whatever its speed sensor says.
Column standing(const Looking& l, const Column& map, const Column& speed) {
  Column out;
  const Column* pulse = l.col(Quantity::pulse_width);
  const std::size_t wait =
      l.rows_of(kFilling_s) + static_cast<std::size_t>(std::ceil(2 * l.r.round_rows));
  std::vector<std::size_t> since(l.n, 0);
  std::size_t still = 0;
  for (std::size_t i = 0; i < l.n; ++i) {
    // A recording that begins with the engine standing may begin there at once.
    if (i == 0 && speed[i] < 1) still = wait;
    still = speed[i] < 1 ? still + 1 : 0;
    since[i] = still;
  }
  long turned_off = 0, injecting = 0;
  for (std::size_t i = 0; pulse && i < l.n; ++i) {
    turned_off += speed[i] < 1;
    injecting += speed[i] < 1 && (*pulse)[i] > kInjects_s;
  }
  if (static_cast<double>(injecting) > kPriming * static_cast<double>(turned_off)) return out;
  std::size_t until = wait + 1;
  for (std::size_t i = l.n; i-- > 0;) {
    until = speed[i] < 1 ? until + 1 : 0;
    if (since[i] <= wait || until <= wait || std::isnan(map[i])) continue;
    const std::size_t d = l.rows_of(1.0);
    if (spread(map, i > d ? i - d : 0, i + d) < kSteadyStanding_pa) out.push_back(map[i]);
  }
  if (quantile(out, 0.9) - quantile(out, 0.1) > kSteadyStanding_pa) out.clear();
  return out;
}

bool boosted(const Looking& l) {
  return l.car.sheet.sensors.map_high.si() > 1.3 * l.place.pressure.from_zero.si;
}

struct Offset {
  double pa = NAN, sd = 0;
  std::string by;
  long rows = 0;
};

Offset offset_of(const Looking& l, const Column& map, const Column& speed, const Column* throttle) {
  const double ambient = l.place.pressure.from_zero.si;
  const double place = l.place.sd.si;
  const Column still = standing(l, map, speed);
  if (still.size() >= 5) {
    return {median(still) - ambient, std::hypot(place, kStanding_pa), "with the engine standing",
            static_cast<long>(still.size())};
  }
  if (throttle && !boosted(l)) {
    const Column open = open_throttle(l, *throttle, map, speed);
    if (open.size() >= 8 && static_cast<double>(open.size()) * std::max(l.step_s, 0.05) >= 0.6) {
      return {quantile(open, 0.7) - (ambient - kLostOpen_pa), std::hypot(place, kLostOpenSd_pa),
              "with the throttle wide open", static_cast<long>(open.size())};
    }
  }
  return {};
}

void look_at_offset(Looking& l, const Column& map, const Column& speed, const Column* throttle) {
  const double ambient = l.place.pressure.from_zero.si;
  const Offset o = offset_of(l, map, speed, throttle);
  if (!std::isnan(o.pa)) {
    const Evidence e = weigh_level(o.pa, o.sd, kOffsets_pa);
    const Grade grade = grade_of(e, std::abs(o.pa) > kFarOff_pa);
    l.add(Check::map_offset, Quantity::map, grade, e,
          fmt::format(
              "{}, manifold pressure reads {} against what it should ({} by {}), \xC2\xB1{}", o.by,
              l.pressure_off(o.pa), l.pressure(ambient), l.place.from, l.pressure(2 * o.sd, 2)),
          o.rows);
    if (grade == Grade::stop) {
      l.out.masks.refuse(Quantity::map, 1,
                         fmt::format("manifold pressure reads {} off", l.pressure_off(o.pa)));
    }
    return;
  }
  if (boosted(l)) {
    l.skip(Check::map_offset, "no rows with the engine standing, and there is a blower");
    return;
  }
  // Without either, one thing is left: no engine without a blower reads more than the air outside.
  Column all;
  for (std::size_t i = 0; i < l.n; ++i) {
    if (l.running[i]) all.push_back(map[i]);
  }
  const double over = quantile(std::move(all), 0.998) - ambient;
  const Evidence e =
      weigh_level(std::max(over, 0.0), std::hypot(l.place.sd.si, kLostOpenSd_pa), kOffsets_pa);
  const Grade grade = grade_of(e, over > kFarOff_pa);
  if (grade == Grade::fine) {
    l.skip(Check::map_offset, "neither key-on rows nor a wide open throttle at moderate speed");
    return;
  }
  l.add(Check::map_offset, Quantity::map, grade, e,
        fmt::format("manifold pressure reads up to {} above the air outside ({} by {})",
                    l.pressure(over, 2), l.pressure(ambient), l.place.from));
}

// A pressure that stays where it is while the throttle goes from shut to open.
bool look_at_standstill(Looking& l, const Column& map, const Column& speed,
                        const Column& throttle) {
  Column pressures, openings;
  for (std::size_t i = 0; i < l.n; ++i) {
    if (!(speed[i] > kTurns_rpm)) continue;
    pressures.push_back(map[i]);
    openings.push_back(throttle[i]);
  }
  const auto most = [](const Column& c) { return quantile(c, 0.98) - quantile(c, 0.02); };
  if (pressures.size() < 200 || !(most(openings) > kMovesMuch)) return false;
  const double moved = most(pressures);
  const Evidence e = weigh_level(std::max(0.0, kMovesWith_pa - moved), kMovesSd_pa, 20e3);
  if (!sure(e)) return false;
  l.add(Check::throttle_and_map, Quantity::map, Grade::stop, e,
        fmt::format(
            "the throttle moves through {:.0f} % of its travel, manifold pressure through {} only",
            100 * most(openings), l.pressure(moved, 2)),
        static_cast<long>(pressures.size()));
  l.out.masks.refuse(Quantity::map, 1, "manifold pressure does not follow the throttle");
  return true;
}

void look_at_shut(Looking& l, const Column& map, const Column& speed, const Column& throttle) {
  const double low = quantile(throttle, 0.002);
  const double idle = l.car.sheet.wishes.idle_speed.si();
  const std::size_t held = l.rows_of(0.8);
  Column shut;
  std::size_t rows = 0;
  for (std::size_t i = 0; i < l.n; ++i) {
    const bool closed = throttle[i] < low + 0.015 && speed[i] > kShutSpeed * idle;
    rows = closed ? rows + 1 : 0;
    if (rows > held && !std::isnan(map[i])) shut.push_back(map[i]);
  }
  if (static_cast<double>(shut.size()) * l.step_s < 3) {
    l.skip(Check::throttle_and_map, "too little overrun with the throttle shut");
    return;
  }
  const double scale = l.place.pressure.from_zero.si / 101325;
  const double least = quantile(shut, 0.25);
  const double over = std::max(0.0, least - kShut_pa * scale);
  const Evidence e = weigh_level(over, kShutSd_pa, 25e3);
  l.add(Check::throttle_and_map, Quantity::map, grade_of(e, over > 20e3), e,
        fmt::format("with the throttle shut and speed high the manifold comes down to {}",
                    l.pressure(least, 2)),
        static_cast<long>(shut.size()));
}

}  // namespace

void look_at_pressure(Looking& l) {
  const Column* map = l.col(Quantity::map);
  const Column* speed = l.col(Quantity::rpm);
  if (!map || !speed) {
    for (const Check c : {Check::map_offset, Check::throttle_and_map}) {
      l.skip(c, "no manifold pressure or no engine speed");
    }
    return;
  }
  const Column* throttle = l.col(Quantity::throttle);
  look_at_offset(l, *map, *speed, throttle);
  if (!throttle || !l.timed || !l.ordered) {
    l.skip(Check::throttle_and_map, "no throttle, or no time");
  } else if (!look_at_standstill(l, *map, *speed, *throttle)) {
    look_at_shut(l, *map, *speed, *throttle);
  }
}

}  // namespace fuelwright::advice
