#include "advice/first_calibration/first_calibration.h"

#include <fmt/format.h>

#include <cmath>

#include "advice/first_calibration/internal/making.h"
#include "base/numerics/interpolate.h"

namespace fuelwright::advice {
namespace internal {
namespace {

std::string label_of_part(const car::What& what) {
  if (const auto* curve = std::get_if<car::CurveWhat>(&what)) return car::label_of(*curve);
  if (const auto* setting = std::get_if<car::SettingWhat>(&what)) return car::label_of(*setting);
  switch (std::get<car::TableWhat>(what)) {
    case car::TableWhat::ve:
      return "VE";
    case car::TableWhat::lambda_target:
      return "mixture targets";
    case car::TableWhat::correction:
      return "correction";
    case car::TableWhat::spark:
      return "spark";
  }
  broken_contract("a table of the list", __FILE__, __LINE__);
}

}  // namespace

void Making::put(car::CurveWhat what, const std::vector<double>& points, std::vector<double> values,
                 std::string reason) {
  auto axis = car::Axis::make(car::axis_of(what), points);
  EXPECTS(axis.ok() && values.size() == points.size());
  const car::Limits limits = car::limits_of(what);
  for (double& v : values) v = std::clamp(v, limits.lowest, limits.highest);
  out.calibration.curves.insert_or_assign(what, car::Curve{std::move(*axis), std::move(values)});
  tell(what, std::move(reason), {});
}

void Making::put(car::SettingWhat what, double value, std::string reason) {
  const car::Limits limits = car::limits_of(what);
  out.calibration.settings[what] = std::clamp(value, limits.lowest, limits.highest);
  tell(what, std::move(reason), {});
}

void Making::tell(const car::What& what, std::string reason, std::vector<double> half_width) {
  const std::string label = label_of_part(what);
  out.lines.push_back(label + ": " + reason);
  out.calibration.origins.insert_or_assign(what,
                                           car::Origin{std::move(reason), std::move(half_width)});
}

double idle_share(const Making& m, double speed_rpm, double map_pa) {
  const double by_speed = 1 - smooth_step(1.2 * m.idle_rpm(), 1.7 * m.idle_rpm(), speed_rpm);
  const double idle = m.air.idle_map.from_zero.si;
  return by_speed * (1 - smooth_step(idle + 8e3, idle + 25e3, map_pa));
}

double full_share(double map_over_ambient) { return smooth_step(0.75, 0.88, map_over_ambient); }

const std::vector<double>& coolant_points() {
  static const std::vector<double> points = [] {
    std::vector<double> out;
    for (const double c : {-30.0, -20.0, -10.0, 0.0, 10.0, 20.0, 40.0, 60.0, 75.0, 90.0, 110.0}) {
      out.push_back(celsius(c).from_zero.si);
    }
    return out;
  }();
  return points;
}

double along_celsius(double t_k, const std::vector<std::pair<double, double>>& line) {
  std::vector<double> x;
  std::vector<double> y;
  for (const auto& [c, v] : line) {
    x.push_back(c);
    y.push_back(v);
  }
  return interpolate(x, y, t_k - kZeroCelsius_K);
}

double alcohol_share(const std::string& name) {
  if (name == "ethanol" || name == "methanol") return 1;
  if (name.size() < 2 || (name[0] != 'E' && name[0] != 'M')) return 0;
  const auto percent = parse_double(std::string_view(name).substr(1));
  return percent ? std::clamp(*percent / 100, 0.0, 1.0) : 0;
}

std::optional<std::size_t> burning_above(const AirPrediction& air, std::size_t ix, std::size_t iy) {
  const std::size_t here = air.grid.index(ix, iy);
  std::optional<std::size_t> best;
  for (std::size_t k = 0; k < air.grid.y.size(); ++k) {
    const std::size_t node = air.grid.index(ix, k);
    if (air.map_pa[node] <= air.map_pa[here] || air.reachable[node] < kBurns) continue;
    if (!best || air.map_pa[node] < air.map_pa[*best]) best = node;
  }
  return best;
}

namespace {

bool is_number(double v, double low, double high) {
  return std::isfinite(v) && v >= low && v <= high;
}

Error cannot_be(const std::string& what, double v, const char* expected) {
  return {ErrorCode::out_of_range, "prediction",
          fmt::format("{} of {:g} came; expected {}", what, v, expected)};
}

Status check_nodes(const AirPrediction& a) {
  const std::size_t n = a.grid.size();
  EXPECTS(a.map_pa.size() == n && a.ve.size() == n && a.sd_log.size() == n &&
          a.residual.size() == n && a.reachable.size() == n && a.mbt_deg.size() == n &&
          a.knock_deg.size() == n);
  for (std::size_t i = 0; i < n; ++i) {
    if (!is_number(a.map_pa[i], 1e3, 600e3))
      return cannot_be("manifold pressure", a.map_pa[i], "1 to 600 kPa");
    if (!is_number(a.reachable[i], 0, 1)) return cannot_be("share", a.reachable[i], "0 to 1");
    if (a.reachable[i] < kBurns) continue;  // what it says of such a node is not read
    if (!is_number(a.ve[i], 0.02, 2.5)) return cannot_be("a VE", a.ve[i], "0.02 to 2.5");
    if (!is_number(a.sd_log[i], 0, 2)) return cannot_be("a spread", a.sd_log[i], "0 to 2");
    if (!is_number(a.mbt_deg[i], -20, 90)) return cannot_be("a spark", a.mbt_deg[i], "-20 to 90");
    if (!is_number(a.knock_deg[i], -60, 90))
      return cannot_be("a knock limit", a.knock_deg[i], "-60 to 90");
  }
  return Done{};
}

Status check(const AirPrediction& a) {
  FW_CHECK(check_nodes(a));
  if (a.full_speed_rpm.size() < 2 || a.full_speed_rpm.size() != a.full_torque_nm.size() ||
      !strictly_increasing(a.full_speed_rpm)) {
    return Error{ErrorCode::out_of_range, "prediction",
                 "the full-throttle curve needs two or more rising speeds, a torque for each"};
  }
  const double idle = a.idle_map.from_zero.si;
  if (!is_number(idle, 10e3, 150e3)) return cannot_be("an idle pressure", idle, "10 to 150 kPa");
  if (!is_number(a.idle_air.si, 1e-5, 0.2))
    return cannot_be("an idle air", a.idle_air.si, "0.01 to 200 g/s");
  if (!is_number(a.charge_exponent, 0, 1.2))
    return cannot_be("a charge exponent", a.charge_exponent, "0 to 1.2");
  if (!is_number(a.ambient.from_zero.si, 40e3, 120e3))
    return cannot_be("an ambient pressure", a.ambient.from_zero.si, "40 to 120 kPa");
  return Done{};
}

}  // namespace
}  // namespace internal

Result<FirstCalibration> first_calibration(const car::Sheet& sheet, const AirPrediction& air) {
  FW_CHECK(internal::check(air));
  internal::Making m{sheet, air, {}};
  internal::make_injector(m);
  internal::make_ve(m);
  internal::make_mixture(m);
  internal::make_axes(m);
  internal::make_idle(m);
  internal::make_spark(m);
  internal::make_cold(m);
  internal::make_charge_temperature(m);
  internal::make_tip_in(m);
  internal::make_limits(m);
  FW_CHECK(car::validate(m.out.calibration));
  return std::move(m.out);
}

}  // namespace fuelwright::advice
