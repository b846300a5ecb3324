// A leak before the sensor: fresh air is drawn in, the more of the gas the less of it flows.
//
//   ln(air by fuel) - ln(air by meter) = a + L m0/m - e/(PW - d0) (sensor_checks.13)
//
// m flow by the meter, m0 that of idle: L is how much leaner idle reads than high flow; e is the
// error of the dead time, which also grows towards idle but goes with pulse width alone.
#include <fmt/format.h>

#include <Eigen/Dense>
#include <cmath>
#include <map>
#include <numbers>

#include "advice/sensor_checks/internal/air.h"
#include "advice/sensor_checks/internal/numbers.h"

namespace fuelwright::advice {
namespace {

using signals::Quantity;

constexpr double kDeadTimeSd_s = 0.12e-3;  // of a sheet's dead time
constexpr double kMeterSd = 0.018;         // of what meter and injectors leave over, per cell
constexpr double kSystematic = 0.010;      // of L, sound cars with a meter
constexpr double kLeaks = 0.06;
// Duration at 0.050 in from which on idle reads lean by dilution all by itself (common practice).
constexpr double kBigCam_rad = 225 * std::numbers::pi / 180;

struct Cell {
  double y = 0, per_flow = 0, per_open = 0, rows = 0;
};
using Cells = std::map<std::pair<int, int>, Cell>;  // by flow and speed

struct Fit {
  double leak = 0, sd = 1;
  long rows = 0;
};

// (sensor_checks.13) by least squares, cells of equal weight, with what is believed before.
Fit fit(const Cells& cells, double step_s) {
  Eigen::Matrix3d a =
      Eigen::Vector3d(1 / (0.1 * 0.1), 1 / (0.5 * 0.5), 1 / (kDeadTimeSd_s * kDeadTimeSd_s))
          .asDiagonal();
  Eigen::Vector3d b = Eigen::Vector3d::Zero();
  double used = 0;
  for (const auto& [key, c] : cells) {
    if (c.rows * step_s < 1) continue;
    const Eigen::Vector3d x(1, c.per_flow / c.rows, -c.per_open / c.rows);
    a += x * x.transpose() / (kMeterSd * kMeterSd);
    b += x * (c.y / c.rows) / (kMeterSd * kMeterSd);
    used += c.rows;
  }
  const Eigen::Matrix3d cov = a.inverse();
  return {(cov * b)[1], std::hypot(std::sqrt(cov(1, 1)), kSystematic), static_cast<long>(used)};
}

}  // namespace

void look_at_leak(Looking& l) {
  const AirWitness air(l);
  const Column* speed = l.col(Quantity::rpm);
  if (!air.has_fuel() || !air.has_meter() || !l.timed || !l.fast) {
    l.skip(Check::exhaust_leak,
           "needs mixture, pulse width and an air meter (by the table: advice/doubts)");
    return;
  }
  if (l.car.sheet.cam.intake_duration_050.si() >= kBigCam_rad) {
    l.skip(Check::exhaust_leak,
           "with so much cam, idle reads lean by dilution: a leak cannot be told from it");
    return;
  }
  for (const Finding& f : l.out.findings) {
    if (f.check == Check::overlap_idle && f.grade != Grade::fine) {
      l.skip(Check::exhaust_leak, "idle reads lean by dilution: a leak cannot be told from it");
      return;
    }
  }
  const std::vector<char> settled = settled_rows(l, 0.15, 0.10);
  Column idle_flow;
  const double slow = 1.35 * l.car.sheet.wishes.idle_speed.si();
  for (std::size_t i = 0; i < l.n; ++i) {
    if (settled[i] && (*speed)[i] < slow) {
      idle_flow.push_back(air.by_meter(i));
    }
  }
  if (static_cast<double>(idle_flow.size()) * l.step_s < 10) {
    l.skip(Check::exhaust_leak, "less than 10 s of steady idle");
    return;
  }
  const double m0 = median(idle_flow);
  Cells cells;
  for (std::size_t i = 0; i < l.n; ++i) {
    if (!settled[i]) continue;
    const double m = air.by_meter(i);
    const double y = air.by_fuel(i) - m;
    if (!std::isfinite(y) || std::abs(y) > 0.7) continue;
    Cell& c = cells[{static_cast<int>(4 * m), static_cast<int>(4 * std::log((*speed)[i]))}];
    c.y += y;
    c.per_flow += std::exp(m0 - m);
    c.per_open += air.per_open_time(i);
    c.rows += 1;
  }
  const Fit all = fit(cells, l.step_s);
  const Evidence e = weigh_level(std::max(0.0, all.leak), all.sd, kLeaks);
  // A wrong table of the meter or the injectors looks alike: never more than a doubt.
  const Grade grade = grade_of(e, false);
  std::string seen = fmt::format(
      "idle reads {:+.1f} % leaner than high flow beyond what the air meter says (\xC2\xB1{:.1f} "
      "%)",
      100 * all.leak, 200 * all.sd);
  l.add(Check::exhaust_leak, Quantity::lambda, grade, e, std::move(seen), all.rows);
}

}  // namespace fuelwright::advice
