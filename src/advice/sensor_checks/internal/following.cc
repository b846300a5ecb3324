// Does manifold pressure follow in full? Air by another witness against air by pressure.
//
//   ln(air) - ln(air by table) = a + b ln(p/50 kPa) + c ln(n/2000 rpm) (sensor_checks.8)
//
// b is 0 for a sound sensor and a sound table. A reading that follows by half has b of about 1.
#include <fmt/format.h>

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>

#include "advice/sensor_checks/internal/air.h"
#include "advice/sensor_checks/internal/numbers.h"

namespace fuelwright::advice {
namespace {

using signals::Quantity;

constexpr double kRange_ln = 0.35;     // spread of ln p needed to tell
constexpr double kTable = 0.13;        // b of sound cars with tables 5 to 15 % off, 1 sd
constexpr double kNoTable = 0.28;      // and of those whose table is not known
constexpr double kNoTableMean = 0.22;  // efficiency rises with pressure by itself
constexpr double kFaulty = 0.8;
constexpr double kGrave = 0.35;
constexpr double kLoadSd = 0.15;  // ln of air a turn against ln of pressure, places of sound cars
constexpr double kLowest_pa = 22e3;

}  // namespace

void look_at_following(Looking& l) {
  const AirWitness air(l);
  const Column* map = l.col(Quantity::map);
  const Column* speed = l.col(Quantity::rpm);
  const bool meter = air.has_meter();
  if (!map || !speed || !(meter || air.has_fuel())) {
    l.skip(Check::map_follows, "no second witness of the air (meter, or pulse width with mixture)");
    return;
  }
  if (!l.ordered) {
    l.skip(Check::map_follows, "rows in no order");
    return;
  }
  const std::vector<char> settled = settled_rows(l, 0.3, 0.15);
  // One mean a cell, so that an hour of cruising weighs no more than a minute of it.
  constexpr int kCells = 16;
  struct Cell {
    double y = 0, p = 0, n = 0, load = 0;
    long rows = 0;
  };
  std::vector<Cell> cells(kCells * kCells);
  for (std::size_t i = 0; i < l.n; ++i) {
    // Overrun and dilution have laws of their own.
    if (!settled[i] || !((*map)[i] > kLowest_pa)) continue;
    const double y = (meter ? air.by_meter(i) : air.by_fuel(i)) - air.by_table(i);
    if (!std::isfinite(y)) continue;
    const double p = std::log((*map)[i] / 50e3);
    const double s = std::log((*speed)[i] / 2000);
    const int ip = std::clamp(static_cast<int>((p + 1.0) * kCells / 2.2), 0, kCells - 1);
    const int is = std::clamp(static_cast<int>((s + 1.4) * kCells / 2.8), 0, kCells - 1);
    Cell& c = cells[static_cast<std::size_t>(ip * kCells + is)];
    c.y += y;
    c.load += (meter ? air.by_meter(i) : air.by_fuel(i)) - std::log((*speed)[i]);
    c.p += p;
    c.n += s;
    ++c.rows;
  }
  Eigen::Matrix3d a = Eigen::Matrix3d::Identity() * 1e-9;
  Eigen::Vector3d b = Eigen::Vector3d::Zero();
  Column pressures, loads;
  long used = 0;
  for (const Cell& c : cells) {
    if (static_cast<double>(c.rows) * std::max(l.step_s, 0.05) < 1.0) continue;
    const double k = static_cast<double>(c.rows);
    const Eigen::Vector3d x(1, c.p / k, c.n / k);
    const double w = std::min(k, 100.0);
    a += w * x * x.transpose();
    b += w * x * (c.y / k);
    pressures.push_back(c.p / k);
    loads.push_back(c.load / k);
    used += c.rows;
  }
  const double range = quantile(pressures, 0.9) - quantile(pressures, 0.1);
  const double other = quantile(loads, 0.9) - quantile(loads, 0.1);
  const Evidence still = weigh_level(std::max(0.0, other - range), kLoadSd, kFaulty);
  if (loads.size() >= 4 && !(range > kRange_ln) && sure(still)) {
    l.add(
        Check::map_follows, Quantity::map, Grade::stop, still,
        fmt::format("air by {} changes {:.1f} times from place to place, manifold pressure {:.1f} "
                    "times",
                    meter ? "the meter" : "fuel and mixture", std::exp(other), std::exp(range)),
        used);
    l.out.masks.refuse(Quantity::map, 1, "manifold pressure does not follow the load");
    return;
  }
  if (pressures.size() < 6 || !(range > kRange_ln)) {
    l.skip(Check::map_follows, "the load moved too little");
    return;
  }
  const double slope = a.ldlt().solve(b)[1];  // (sensor_checks.8)
  const double size = air.has_table() ? slope : slope - kNoTableMean;
  const double sd = std::hypot(air.has_table() ? kTable : kNoTable, 0.06 / range);
  const Evidence e = weigh_level(size, sd, kFaulty);
  const Grade grade = grade_of(e, std::abs(size) > kGrave);
  l.add(
      Check::map_follows, Quantity::map, grade, e,
      fmt::format("air by {} grows with manifold pressure to the power {:.2f} beyond the table (0 "
                  "expected, \xC2\xB1{:.2f})",
                  meter ? "the meter" : "fuel and mixture", slope, 2 * sd),
      used);
  if (grade == Grade::stop) {
    l.out.masks.refuse(Quantity::map, 1, "manifold pressure does not follow the load");
  }
}

}  // namespace fuelwright::advice
