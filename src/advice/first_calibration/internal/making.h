/// What the parts of first_calibration() hand to each other: the inputs, and the calibration as it
/// is being made.
#pragma once

#include <algorithm>
#include <string>

#include "advice/first_calibration/first_calibration.h"

namespace fuelwright::advice::internal {

struct Making {
  const car::Sheet& sheet;
  const AirPrediction& air;
  FirstCalibration out;

  double idle_rpm() const { return sheet.wishes.idle_speed.si(); }
  double ambient_pa() const { return air.ambient.from_zero.si; }
  double load(std::size_t node) const { return air.map_pa[node] / ambient_pa(); }

  void put(car::TableWhat what, car::Surface s, std::string reason,
           std::vector<double> half_width = {}) {
    out.calibration.tables.insert_or_assign(what, std::move(s));
    tell(what, std::move(reason), std::move(half_width));
  }
  /// Values beyond what can be meant are held at the limit.
  void put(car::CurveWhat what, const std::vector<double>& points, std::vector<double> values,
           std::string reason);
  void put(car::SettingWhat what, double value, std::string reason);
  void caution(std::string text) { out.cautions.push_back(std::move(text)); }
  double setting(car::SettingWhat what) const { return out.calibration.settings.at(what); }

 private:
  void tell(const car::What& what, std::string reason, std::vector<double> half_width);
};

/// 0 below `from`, 1 above `to`, without a corner between: t^2 (3 - 2t).              (first.5)
inline double smooth_step(double from, double to, double x) {
  const double t = std::clamp((x - from) / (to - from), 0.0, 1.0);
  return t * t * (3 - 2 * t);
}

/// How much a place is idle, 0..1: 1 up to 1.2 times the idle speed and 8 kPa above the idle
/// pressure, 0 from 1.7 times and 25 kPa above.
double idle_share(const Making& m, double speed_rpm, double map_pa);
/// How much a place is full throttle, 0..1: 0 up to 75 % of ambient pressure, 1 from 88 %.
double full_share(double map_over_ambient);
/// Kelvins of the coolant breakpoints that every curve over coolant has: -30 to 110 degC.
const std::vector<double>& coolant_points();
/// A line through (celsius, value) pairs at the coolant breakpoints.
double along_celsius(double t_k, const std::vector<std::pair<double, double>>& line);
/// Volume share of alcohol of a fuel by its canonical name, 0..1.
double alcohol_share(const std::string& fuel_name);
/// A node that burns in less than this share of the ensemble is not to be trusted.
inline constexpr double kBurns = 0.5;
/// The nearest node at the same speed with more manifold pressure that burns; none if none does.
std::optional<std::size_t> burning_above(const AirPrediction& air, std::size_t ix, std::size_t iy);

void make_ve(Making& m);
void make_mixture(Making& m);
void make_spark(Making& m);
void make_cold(Making& m);
void make_injector(Making& m);
void make_charge_temperature(Making& m);
void make_tip_in(Making& m);
void make_idle(Making& m);
void make_limits(Making& m);
void make_axes(Making& m);

}  // namespace fuelwright::advice::internal
