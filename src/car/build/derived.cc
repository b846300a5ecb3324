#include "car/build/derived.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace fuelwright::car {

Volume swept_volume(Length bore, Length stroke, int cylinders) {
  return std::numbers::pi / 4 * bore * bore * stroke * cylinders;  // (build.1)
}

Volume cylinder_volume(const Sheet& sheet) {
  return sheet.engine.displacement.value / sheet.engine.cylinders.value;
}

Volume clearance_volume(const Sheet& sheet) {
  return cylinder_volume(sheet) / (sheet.engine.compression.value - 1);  // (build.2)
}

Speed mean_piston_speed(Length stroke, EngineSpeed n) {
  return Speed{2 * stroke.si * n.rpm / 60};  // (build.3)
}

CrankAngle overlap(CrankAngle intake, CrankAngle exhaust, CrankAngle lobe_separation) {
  return {(intake.rad + exhaust.rad) / 2 - 2 * lobe_separation.rad};  // (build.4)
}

CrankAngle overlap_050(const Sheet& sheet) {
  return overlap(sheet.cam.intake_duration_050.value, sheet.cam.exhaust_duration_050.value,
                 sheet.cam.lobe_separation.value);
}

AbsolutePressure standard_pressure(Length altitude) {
  constexpr double kEarthRadius_m = 6'356'766;
  constexpr double kSeaLevel_pa = 101'325;
  const double h = std::clamp(altitude.si, -1000.0, 11'000.0);
  const double geopotential = kEarthRadius_m * h / (kEarthRadius_m + h);
  return {{kSeaLevel_pa * std::pow(1 - 0.0065 * geopotential / 288.15, 5.25588)}};  // (build.5)
}

Area gauge_area(int n) {
  const Length d = 0.127 * std::pow(92.0, (36.0 - n) / 39) * mm;
  return std::numbers::pi / 4 * d * d;  // (build.6)
}

Resistance copper_resistance(Length length, Area area, Temperature t) {
  EXPECTS(area.si > 0 && length.si >= 0);
  const double rho_ohm_m = 1e-6 / 58 * (1 + 0.00393 * (in_celsius(t) - 20));
  return Resistance{rho_ohm_m * length.si / area.si};  // (build.7)
}

AxisKind axis_kind(LoadAxis load) {
  if (load == LoadAxis::map) return AxisKind::map_absolute;
  return load == LoadAxis::vacuum ? AxisKind::vacuum : AxisKind::throttle;
}

Grid table_grid(const Sheet& sheet) {
  std::vector<double> speeds;
  for (const EngineSpeed n : sheet.wishes.speed_points.values) speeds.push_back(n.rpm);
  auto x = Axis::make(AxisKind::engine_speed, std::move(speeds));
  auto y = Axis::make(axis_kind(sheet.wishes.load_axis.value), sheet.wishes.load_points_si.values);
  EXPECTS(x.ok() && y.ok());  // read_sheet() has checked them
  return {*x, *y};
}

}  // namespace fuelwright::car
