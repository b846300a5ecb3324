// Spark: the table, idle, cranking, and its trims with temperature.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "advice/first_calibration/internal/making.h"
#include "car/build/derived.h"

namespace fuelwright::advice::internal {
namespace {

constexpr double kBelowBest = 2;   // deg below the spark of best torque: costs some 0.3 % of torque
constexpr double kBelowKnock = 3;  // deg below the computed knock limit
constexpr double kMost = 45;       // a burn model is trusted no further (common practice: 40-50)
constexpr double kLeast = 2;
constexpr double kSlopeSpeed = 0.025;  // deg per rpm: 10 deg in 400 rpm
constexpr double kSlopeLoad = 0.8e-3;  // deg per Pa: 8 deg in 10 kPa

// min(best - 2, knock - 3), held within 2..45 deg; a node that does not burn has the next load's.
//                                                                                     (first.9)
double spark_at(const AirPrediction& air, std::size_t ix, std::size_t iy) {
  std::size_t node = air.grid.index(ix, iy);
  if (air.reachable[node] < kBurns) {
    const auto above = burning_above(air, ix, iy);
    if (!above) return 15;  // nothing burns at this speed: what any engine starts on
    node = *above;
  }
  return std::clamp(std::min(air.mbt_deg[node] - kBelowBest, air.knock_deg[node] - kBelowKnock),
                    kLeast, kMost);
}

double stated_total(const Making& m) {
  const auto& k = m.sheet.ignition.full_throttle_advance;
  return k.source == car::Source::typical ? 90 : k.value.degrees();
}

// Lowered, never raised, until no neighbour asks for more than the slopes allow.
void bound_slopes(const AirPrediction& air, car::Surface& s) {
  const car::Grid& g = s.grid;
  const auto from = [&](std::size_t to, std::size_t other, double room) {
    s.values[to] = std::min(s.values[to], s.values[other] + room);
  };
  for (std::size_t pass = 0; pass < g.x.size() + g.y.size(); ++pass) {
    for (std::size_t iy = 0; iy < g.y.size(); ++iy) {
      for (std::size_t ix = 0; ix < g.x.size(); ++ix) {
        const std::size_t here = g.index(ix, iy);
        if (ix + 1 < g.x.size()) {
          const double room = kSlopeSpeed * (g.x[ix + 1] - g.x[ix]);
          from(here, g.index(ix + 1, iy), room);
          from(g.index(ix + 1, iy), here, room);
        }
        if (iy + 1 < g.y.size()) {
          const std::size_t up = g.index(ix, iy + 1);
          const double room = kSlopeLoad * std::abs(air.map_pa[up] - air.map_pa[here]);
          from(here, up, room);
          from(up, here, room);
        }
      }
    }
  }
}

// 0 for a stock cam, 1 for a big one, by the overlap at 0.050 in.
double cam_size(const car::Sheet& sheet) {
  return std::clamp((car::overlap_050(sheet).degrees() + 10) / 30, 0.0, 1.0);
}

// Idle: below best by a reserve that lets the unit hold the speed, within what such cams idle on:
// 14-20 deg mild, 20-28 deg big (common practice, no source).
double idle_spark(const Making& m) {
  const double size = cam_size(m.sheet);
  constexpr double kReserve = 10;
  double best = 30;
  double nearest = 1e300;
  for (std::size_t iy = 0; iy < m.air.grid.y.size(); ++iy) {
    for (std::size_t ix = 0; ix < m.air.grid.x.size(); ++ix) {
      const std::size_t node = m.air.grid.index(ix, iy);
      if (m.air.reachable[node] < kBurns) continue;
      const double off = std::hypot((m.air.grid.x[ix] - m.idle_rpm()) / 500,
                                    (m.air.map_pa[node] - m.air.idle_map.from_zero.si) / 15e3);
      if (off < nearest) {
        nearest = off;
        best = m.air.mbt_deg[node];
      }
    }
  }
  return std::round(std::clamp(best - kReserve, 14 + 6 * size, 20 + 8 * size));
}

// Where warm idle stands along the unit's load axis.
double idle_load(const Making& m) {
  const double map = m.air.idle_map.from_zero.si;
  return m.air.grid.y.kind() == car::AxisKind::vacuum ? m.air.ambient.from_zero.si - map : map;
}

void make_trims(Making& m) {
  std::vector<double> cold;
  for (const double t : coolant_points()) {
    cold.push_back(along_celsius(t, {{-30, 6}, {0, 4}, {20, 2}, {60, 0}, {100, 0}, {110, -4}}));
  }
  m.put(
      car::CurveWhat::spark_trim_coolant, coolant_points(), cold,
      "a cold charge burns more slowly, a hot engine knocks sooner (common practice, no source).");
  constexpr double kDegPerK = 0.2;
  const double from = std::max(m.air.intake_air.from_zero.si + 10, celsius(40).from_zero.si);
  std::vector<double> points{celsius(-20).from_zero.si, from};
  std::vector<double> hot{0, 0};
  for (const double step : {10.0, 20.0, 40.0}) {
    points.push_back(from + step);
    hot.push_back(std::max(-8.0, -kDegPerK * step));
  }
  m.put(car::CurveWhat::spark_trim_intake, points, hot,
        fmt::format("knock comes sooner in hot air: 1 deg less for 5 K above {:.0f} degC (common "
                    "practice, no source).",
                    from - kZeroCelsius_K));
}

}  // namespace

void make_spark(Making& m) {
  const car::Grid& grid = m.air.grid;
  const double idle = idle_spark(m);
  const double stated = stated_total(m);
  car::Surface s = car::Surface::flat(grid, 0);
  double full_most = 0;
  bool lowered = false;
  bool hopeless = false;
  for (std::size_t iy = 0; iy < grid.y.size(); ++iy) {
    for (std::size_t ix = 0; ix < grid.x.size(); ++ix) {
      const std::size_t node = grid.index(ix, iy);
      double v = spark_at(m.air, ix, iy);
      const double full = full_share(m.load(node));
      hopeless = hopeless ||
                 (m.air.reachable[node] >= kBurns && m.air.knock_deg[node] - kBelowKnock < kLeast);
      if (full > 0.5) full_most = std::max(full_most, v);
      if (v > stated && full > 0) {
        v = v + full * (stated - v);
        lowered = true;
      }
      // Around idle the idle spark; below its speed up to 3 deg more, which holds the speed up.
      const double near = idle_share(m, grid.x[ix], m.air.map_pa[node]);
      const double hold = std::clamp((m.idle_rpm() - grid.x[ix]) / 100, 0.0, 3.0);
      const double knock = m.air.reachable[node] < kBurns ? 90 : m.air.knock_deg[node];
      s.node(ix, iy) =
          std::min(v + near * (idle + hold - v), std::max(knock - kBelowKnock, kLeast));
    }
  }
  bound_slopes(m.air, s);
  for (double& v : s.values) v = std::floor(10 * v + 1e-9) / 10;
  std::string reason = fmt::format(
      "{:.0f} deg below the computed spark of best torque and {:.0f} deg below the computed knock "
      "limit on {}, {:.0f} deg at idle, no steeper than 10 deg in 400 rpm and 8 deg in 10 kPa",
      kBelowBest, kBelowKnock, m.sheet.fuel.name.value, idle);
  if (lowered) {
    reason += fmt::format(
        "; full throttle is held at the {:.0f} deg of your sheet where {:.0f} "
        "were computed",
        stated, full_most);
  }
  if (const auto lost = std::count_if(m.air.reachable.begin(), m.air.reachable.end(),
                                      [](double share) { return share < kBurns; });
      lost > 0) {
    reason += fmt::format(
        "; {} nodes where it hardly burns are not computed, they have the value of the next load "
        "above",
        lost);
  }
  const bool by_throttle = m.air.grid.y.kind() == car::AxisKind::throttle;
  const double at_idle = by_throttle ? idle : s.at(m.idle_rpm(), idle_load(m));
  if (at_idle < idle - 3) {
    m.caution(fmt::format(
        "Around idle the spark table holds {:.0f} deg, not the {:.0f} of the idle spark, because "
        "full throttle close by must stay late: raise it there by hand once it idles.",
        at_idle, idle));
  }
  m.put(car::TableWhat::spark, std::move(s), reason + ".");
  if (hopeless) {
    m.caution(fmt::format(
        "At some nodes {} is computed to knock even with {:.0f} deg of advance: more octane, "
        "cooler air or less compression first; keep full throttle out of it.",
        m.sheet.fuel.name.value, kLeast));
  }
  if (stated < 90 && full_most < stated - 4) {
    m.caution(
        fmt::format("Your sheet says {:.0f} deg at full throttle; the computed limit is {:.0f} "
                    "deg. The lower one is used; listen for knock before going back.",
                    stated, full_most));
  }
  m.put(car::SettingWhat::idle_spark, idle,
        fmt::format(
            "10 deg below best, so that spark can hold the speed, within {:.0f} to {:.0f} deg "
            "that a cam with {:.0f} deg of overlap at 0.050 in idles on (common practice, no "
            "source).",
            14 + 6 * cam_size(m.sheet), 20 + 8 * cam_size(m.sheet),
            car::overlap_050(m.sheet).degrees()));
  const double compression = m.sheet.engine.compression.si();
  const double cranking = 10 + 2 * cam_size(m.sheet) - (compression > 10.5 ? 2 : 0);
  m.put(car::SettingWhat::cranking_spark, std::round(cranking),
        fmt::format("late enough not to kick back at compression {:.1f}, of the usual 8 to 15 deg "
                    "(common practice, no source).",
                    compression));
  make_trims(m);
}

}  // namespace fuelwright::advice::internal
