// Contradictions between values that were given. A value that was filled in never accuses a given
// one.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "car/build/derived.h"
#include "car/build/internal/reading.h"

namespace fuelwright::car {
namespace {

bool both(const Reading& r, const char* a, const char* b) { return r.has(a) && r.has(b); }

void wrong(Reading& r, const std::string& path, std::string message) {
  r.report(path, ErrorCode::bad_input, std::move(message));
}

// Which key to name when displacement, bore and stroke do not go together: the last one that was
// given.
const char* shape_path(const Reading& r) {
  if (r.has("engine.displacement") && both(r, "engine.bore", "engine.stroke"))
    return "engine.displacement";
  if (r.has("engine.bore")) return "engine.bore";
  return r.has("engine.stroke") ? "engine.stroke" : "engine.displacement";
}

void check_displacement(Reading& r) {
  const Engine& e = r.sheet.engine;
  const Volume swept = swept_volume(e.bore.value, e.stroke.value, e.cylinders.value);
  constexpr double kRounding = 0.02;  // "5.7 l" for 5.74 or 5.66
  if (std::abs(swept / e.displacement.value - 1) > kRounding) {
    wrong(r, shape_path(r),
          fmt::format("displacement {:.4g} l contradicts bore and stroke: {:.4g} mm x {:.4g} mm x "
                      "{} is {:.4g} l",
                      e.displacement.value.in(litre), e.bore.value.in(mm), e.stroke.value.in(mm),
                      e.cylinders.value, swept.in(litre)));
  }
  const double one = cylinder_volume(r.sheet).in(litre);
  constexpr double kLeast_l = 0.06, kMost_l = 2.5;
  if (one < kLeast_l || one > kMost_l) {
    wrong(r, shape_path(r),
          fmt::format("makes {:.3g} l a cylinder with {} cylinders; expected {} to {} l", one,
                      e.cylinders.value, kLeast_l, kMost_l));
  }
}

// A displacement with a bore alone leaves a stroke, and the other way round: it must be one that
// can be.
void check_shape(Reading& r) {
  const Engine& e = r.sheet.engine;
  const double ratio = e.bore.value / e.stroke.value;
  if (ratio >= 0.5 && ratio <= 2.2) return;
  wrong(
      r, shape_path(r),
      fmt::format("would make the engine {:.4g} mm x {:.4g} mm (bore x stroke) with {} cylinders; "
                  "expected a bore of 0.5 to 2.2 strokes",
                  e.bore.value.in(mm), e.stroke.value.in(mm), e.cylinders.value));
}

void check_rod(Reading& r) {
  const Engine& e = r.sheet.engine;
  if (!r.has("engine.rod_length")) return;
  if (e.rod_length.value.si >= 1.1 * e.stroke.value.si) return;
  wrong(r, "engine.rod_length",
        fmt::format("{:.4g} mm is shorter than 1.1 strokes of {:.4g} mm", e.rod_length.value.in(mm),
                    e.stroke.value.in(mm)));
}

void check_firing_order(Reading& r) {
  if (!r.has("engine.firing_order")) return;
  std::vector<int> order = r.sheet.engine.firing_order.values;
  std::sort(order.begin(), order.end());
  bool each_once = order.size() == static_cast<std::size_t>(r.sheet.engine.cylinders.value);
  for (std::size_t i = 0; each_once && i < order.size(); ++i)
    each_once = order[i] == static_cast<int>(i) + 1;
  if (each_once) return;
  wrong(r, "engine.firing_order",
        fmt::format("must name each of the {} cylinders once", r.sheet.engine.cylinders.value));
}

void check_longer(Reading& r, const char* longer, CrankAngle a, const char* shorter, CrankAngle b) {
  if (!both(r, longer, shorter) || a > b) return;
  wrong(r, longer,
        fmt::format("{:.4g} deg is not longer than {} ({:.4g} deg)", a.degrees(), shorter,
                    b.degrees()));
}

void check_cam(Reading& r) {
  const Cam& c = r.sheet.cam;
  check_longer(r, "cam.intake_advertised", c.intake_advertised.value, "cam.intake_duration_050",
               c.intake_duration_050.value);
  check_longer(r, "cam.exhaust_advertised", c.exhaust_advertised.value, "cam.exhaust_duration_050",
               c.exhaust_duration_050.value);
  check_longer(r, "cam.intake_duration_050", c.intake_duration_050.value, "cam.intake_duration_200",
               c.intake_duration_200.value);
  check_longer(r, "cam.exhaust_duration_050", c.exhaust_duration_050.value,
               "cam.exhaust_duration_200", c.exhaust_duration_200.value);
  if (r.has("cam.lobe_separation")) {
    const double deg = overlap_050(r.sheet).degrees();
    constexpr double kLeast = -75, kMost = 110;
    if (deg < kLeast || deg > kMost) {
      wrong(r, "cam.lobe_separation",
            fmt::format("{:.4g} deg with {:.4g} and {:.4g} deg at 0.050 in makes {:.0f} deg of "
                        "overlap; expected {} to {}",
                        c.lobe_separation.value.degrees(), c.intake_duration_050.value.degrees(),
                        c.exhaust_duration_050.value.degrees(), deg, kLeast, kMost));
    }
  }
  if (both(r, "cam.intake_centreline", "cam.lobe_separation")) {
    const double advance = c.lobe_separation.value.degrees() - c.intake_centreline.value.degrees();
    if (std::abs(advance) > 16) {
      wrong(r, "cam.intake_centreline",
            fmt::format(
                "{:.4g} deg stands {:.3g} deg from the lobe separation; cams are ground within 16",
                c.intake_centreline.value.degrees(), std::abs(advance)));
    }
  }
}

void check_valves(Reading& r) {
  const Heads& h = r.sheet.heads;
  if (!both(r, "heads.intake_valve", "heads.exhaust_valve") || h.valves_per_cylinder.value != 2)
    return;
  const Length sum = h.intake_valve.value + h.exhaust_valve.value;
  if (sum.si <= 1.05 * r.sheet.engine.bore.value.si) return;
  wrong(r, "heads.intake_valve",
        fmt::format("with the exhaust valve {:.4g} mm, which does not fit a bore of {:.4g} mm",
                    sum.in(mm), r.sheet.engine.bore.value.in(mm)));
}

void check_flow_bench(Reading& r) {
  const Heads& h = r.sheet.heads;
  const auto& lift = h.flow_lift.values;
  if (r.has("heads.flow_lift") &&
      std::adjacent_find(lift.begin(), lift.end(), [](Length a, Length b) { return a >= b; }) !=
          lift.end()) {
    wrong(r, "heads.flow_lift", "lifts must increase");
  }
  const auto same_length = [&](const char* path, std::size_t n) {
    if (!r.has(path) || n == lift.size()) return;
    wrong(r, path, fmt::format("{} flows for {} lifts", n, lift.size()));
  };
  same_length("heads.flow_intake", h.flow_intake.values.size());
  same_length("heads.flow_exhaust", h.flow_exhaust.values.size());
}

void check_pipes(Reading& r) {
  const Intake& in = r.sheet.intake;
  const int cylinders = r.sheet.engine.cylinders.value;
  const auto& all = in.runner_lengths.values;
  if (r.has("intake.runner_lengths") && all.size() != static_cast<std::size_t>(cylinders)) {
    wrong(r, "intake.runner_lengths",
          fmt::format("{} lengths for {} cylinders", all.size(), cylinders));
  } else if (both(r, "intake.runner_lengths", "intake.runner_length")) {
    constexpr double kRounding = 0.02;
    const auto [least, most] = std::minmax_element(all.begin(), all.end());
    const Length mean = in.runner_length.value;
    if (mean < (1 - kRounding) * *least || mean > (1 + kRounding) * *most) {
      wrong(r, "intake.runner_length",
            fmt::format("{:.4g} mm is the mean of runner_lengths from {:.4g} to {:.4g} mm?",
                        mean.in(mm), least->in(mm), most->in(mm)));
    }
  }
  if (r.has("exhaust.arrangement") && cylinders < 4 &&
      r.sheet.exhaust.arrangement.value == ExhaustArrangement::four_two_one) {
    wrong(r, "exhaust.arrangement",
          fmt::format("four_two_one with {} cylinders; expected 4 or more", cylinders));
  }
}

void check_injectors(Reading& r) {
  const Injection& i = r.sheet.injection;
  const int cylinders = r.sheet.engine.cylinders.value;
  if (!r.has("injection.injector_count") || i.arrangement.value != InjectionArrangement::ports)
    return;
  if (i.injector_count.value % cylinders == 0) return;
  wrong(r, "injection.injector_count",
        fmt::format("{} injectors at the ports of {} cylinders; expected {} or a multiple, or "
                    "injection.arrangement = "
                    "\"throttle\"",
                    i.injector_count.value, cylinders, cylinders));
}

void check_sensors(Reading& r) {
  const Sensors& s = r.sheet.sensors;
  if (s.map_low.value >= s.map_high.value)
    wrong(r, r.has("sensors.map_low") ? "sensors.map_low" : "sensors.map_high",
          "map_low is not below map_high");
  const int cylinders = r.sheet.engine.cylinders.value;
  for (std::size_t i = 0; i < s.mixture.size(); ++i) {
    const std::string path = fmt::format("sensors.mixture.{}.cylinders", i + 1);
    std::vector<int> seen = s.mixture[i].cylinders.values;
    std::sort(seen.begin(), seen.end());
    if (seen.empty()) continue;
    if (seen.back() > cylinders)
      wrong(r, path, fmt::format("cylinder {} of {}", seen.back(), cylinders));
    if (std::adjacent_find(seen.begin(), seen.end()) != seen.end())
      wrong(r, path, "names a cylinder twice");
    if (s.mixture[i].bank.value > r.sheet.engine.banks.value) {
      wrong(r, fmt::format("sensors.mixture.{}.bank", i + 1),
            fmt::format("bank {} of {}", s.mixture[i].bank.value, r.sheet.engine.banks.value));
    }
  }
}

void check_car_and_place(Reading& r) {
  const auto& gears = r.sheet.car.gears.values;
  if (r.has("car.gears") &&
      std::adjacent_find(gears.begin(), gears.end(), std::less_equal<>()) != gears.end()) {
    wrong(r, "car.gears", "ratios must fall from first gear to last");
  }
  if (both(r, "place.altitude", "place.pressure")) {
    const AbsolutePressure expected = standard_pressure(r.sheet.place.altitude.value);
    constexpr double kWeather_kpa = 6;
    if (std::abs((r.sheet.place.pressure.value - expected).in(kPa)) > kWeather_kpa) {
      wrong(r, "place.pressure",
            fmt::format("{:.4g} kPa at {:.0f} m, where {:.3g} \xC2\xB1{} kPa is expected; weather "
                        "reports give the pressure "
                        "reduced to sea level",
                        r.sheet.place.pressure.value.from_zero.in(kPa),
                        r.sheet.place.altitude.value.in(metre), expected.from_zero.in(kPa),
                        kWeather_kpa));
    }
  }
}

void check_axis(Reading& r, const char* path, AxisKind kind, std::vector<double> points) {
  if (!r.has(path)) return;
  if (points.size() < 2) return wrong(r, path, "one point is no axis; expected 2 to 64");
  if (auto axis = Axis::make(kind, std::move(points)); !axis)
    r.report(path, axis.error().code, axis.error().message);
}

void check_wishes(Reading& r) {
  const Wishes& w = r.sheet.wishes;
  if (w.idle_speed.value >= w.rev_limit.value) {
    wrong(r, r.has("wishes.rev_limit") ? "wishes.rev_limit" : "wishes.idle_speed",
          "the rev limit is not above the idle speed");
  }
  const Speed piston = mean_piston_speed(r.sheet.engine.stroke.value, w.rev_limit.value);
  constexpr double kFastest_m_s = 32;  // 25 m/s is racing (common practice, no source)
  if (r.has("wishes.rev_limit") && piston.si > kFastest_m_s) {
    wrong(r, "wishes.rev_limit",
          fmt::format("{:.0f} rpm with a stroke of {:.4g} mm is a mean piston speed of {:.1f} m/s; "
                      "at most {} can be",
                      w.rev_limit.value.rpm, r.sheet.engine.stroke.value.in(mm), piston.si,
                      kFastest_m_s));
  }
  std::vector<double> speeds;
  for (const EngineSpeed n : w.speed_points.values) speeds.push_back(n.rpm);
  check_axis(r, "wishes.speed_points", AxisKind::engine_speed, std::move(speeds));
  check_axis(r, "wishes.load_points", axis_kind(w.load_axis.value), w.load_points_si.values);
}

}  // namespace

void cross_check(Reading& r) {
  check_displacement(r);
  check_shape(r);
  check_rod(r);
  check_firing_order(r);
  check_cam(r);
  check_valves(r);
  check_flow_bench(r);
  check_pipes(r);
  check_injectors(r);
  cross_check_supply(r);
  check_sensors(r);
  check_car_and_place(r);
  check_wishes(r);
}

}  // namespace fuelwright::car
