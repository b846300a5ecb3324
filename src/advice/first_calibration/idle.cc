// Idle: speed and air over coolant, the manifold pressure and opening to be expected.
#include <fmt/format.h>

#include <cmath>
#include <numbers>

#include "advice/first_calibration/internal/making.h"
#include "advice/first_calibration/orifice.h"

namespace fuelwright::advice::internal {
namespace {

// Share of the open throttles' area that passes the idle air.
double opening(const Making& m) {
  constexpr double kDischarge = 0.8;  // of a nearly shut plate (from memory)
  const car::Intake& in = m.sheet.intake;
  const double idle = std::min(m.air.idle_map.from_zero.si, 0.97 * m.ambient_pa());
  const Area need =
      effective_area(m.air.idle_air, m.air.ambient, absolute(idle * pascal), m.air.intake_air);
  const double d = in.throttle_diameter.si();
  const double open = in.throttle_count.value * std::numbers::pi / 4 * d * d;
  return std::clamp(need.si / kDischarge / open, 0.0, 1.0);
}

}  // namespace

void make_idle(Making& m) {
  const double warm = m.idle_rpm();
  constexpr double kTo95 = 1.959964;
  std::vector<double> speed;
  std::vector<double> air;
  for (const double t : coolant_points()) {
    const double n =
        warm + along_celsius(t, {{-30, 400}, {-20, 350}, {0, 250}, {20, 150}, {60, 20}, {75, 0}});
    // Cold oil: friction over that of a warm engine (from memory).
    const double friction =
        along_celsius(t, {{-30, 2.9}, {-20, 2.5}, {0, 2.0}, {20, 1.6}, {40, 1.3}, {75, 1.0}});
    speed.push_back(std::round(n / 10) * 10);
    air.push_back(m.air.idle_air.si * friction * n / warm);  // (first.17)
  }
  m.put(
      car::CurveWhat::idle_speed, coolant_points(), speed,
      fmt::format("your {:.0f} rpm warm, faster while oil is thick: 150 rpm at 20 degC, 350 at -20 "
                  "(common practice, no source).",
                  warm));
  m.put(car::CurveWhat::idle_air, coolant_points(), air,
        fmt::format(
            "{:.2f} g/s \xC2\xB1{:.0f} % computed warm; more in the cold by friction, 1.6 times "
            "at 20 degC, 2.5 at -20 (from memory), and by the faster idle.",
            1e3 * m.air.idle_air.si, 100 * kTo95 * m.air.idle_air_sd / m.air.idle_air));
  const double idle = m.air.idle_map.from_zero.si;
  m.put(car::SettingWhat::idle_pressure, idle,
        fmt::format(
            "computed at {:.0f} rpm: {:.0f} \xC2\xB1{:.0f} kPa; a higher one on the car means "
            "late spark, an air leak or a cam that is not where the card says.",
            warm, idle / 1e3, kTo95 * m.air.idle_map_sd.si / 1e3));
  const double area = opening(m);
  m.put(car::SettingWhat::idle_throttle, area,
        fmt::format("that passes {:.2f} g/s from {:.0f} to {:.0f} kPa, as a share of {} bore{} of "
                    "{:.1f} mm.",
                    1e3 * m.air.idle_air.si, m.ambient_pa() / 1e3, idle / 1e3,
                    m.sheet.intake.throttle_count.value,
                    m.sheet.intake.throttle_count.value == 1 ? "" : "s",
                    1e3 * m.sheet.intake.throttle_diameter.si()));
  constexpr double kUnsure_Pa = 6e3;
  if (kTo95 * m.air.idle_map_sd.si > kUnsure_Pa || idle > 0.5 * m.ambient_pa()) {
    m.caution(
        fmt::format("Idle near {:.0f} kPa is known to no better than {:.0f} kPa; the mixture "
                    "there starts rich and must be set warm, with the sensor watched.",
                    idle / 1e3, std::max(1.0, kTo95 * m.air.idle_map_sd.si / 1e3)));
  }
}

}  // namespace fuelwright::advice::internal
