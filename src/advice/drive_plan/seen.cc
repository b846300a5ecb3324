#include "advice/drive_plan/seen.h"

#include <algorithm>
#include <cmath>
#include <map>
#include <numbers>
#include <vector>

#include "advice/drive_plan/on_road.h"

namespace fuelwright::advice {
namespace {

using signals::Quantity;

constexpr double kStopped_m_s = 0.3, kRolling_m_s = 6;
constexpr double kNearIdle = 0.25;     // of idle speed
constexpr double kSteady_m_s2 = 0.12;  // over a second
constexpr double kWarm_k = 333.15;
constexpr double kFewest_s = 20, kFewestIdle_s = 5;
constexpr double kBin_pa = 5e3, kFewestInBin_s = 2;
constexpr double kBelieved_pa = 6e3, kBin_sd_pa = 2e3;  // road load known to a tenth or so
constexpr double kLeastOff_pa = -12e3,
                 kMostOff_pa = 15e3;  // the pressure must still rise with the load
constexpr double kMostApart = 0.4;    // middle half of the ratios, over their median
constexpr double kRatioLow = 0.35, kRatioHigh = 1.6;  // of top gear and first gear: in gear

double quartile(std::vector<double>& v, int quarter) {
  const auto at = v.begin() + static_cast<std::ptrdiff_t>(v.size() * quarter / 4);
  std::nth_element(v.begin(), at, v.end());
  return *at;
}

// On a dyno, behind a trailer: loads that no road explains say nothing about it.
bool by_a_road(std::vector<double>& ratio) {
  return quartile(ratio, 3) - quartile(ratio, 1) < kMostApart * quartile(ratio, 2);
}

struct Rows {
  std::vector<double> idle_pa, ratio;
  std::map<int, std::vector<double>> over_pa;  // by computed pressure
  double idle_s = 0, steady_s = 0, step_s = 0;
};

// Two offsets, by least squares with what was believed (drive_plan.8).
void fit(Rows& rows, Seen& out) {
  const double believed = 1 / (kBelieved_pa * kBelieved_pa);
  const double seen = 1 / (kBin_sd_pa * kBin_sd_pa);
  double a = believed, b = 0, c = believed, low = 0, high = 0;
  for (auto& [bin, over] : rows.over_pa) {
    if (static_cast<double>(over.size()) * rows.step_s < kFewestInBin_s) continue;
    const double w = OnRoad::share_low(absolute((bin + 0.5) * kBin_pa * pascal));
    const double y = quartile(over, 2);
    a += seen * w * w;
    b += seen * w * (1 - w);
    c += seen * (1 - w) * (1 - w);
    low += seen * w * y;
    high += seen * (1 - w) * y;
  }
  const double det = a * c - b * b;
  const auto offset = [](double pa) { return std::clamp(pa, kLeastOff_pa, kMostOff_pa) * pascal; };
  out.low = offset((c * low - b * high) / det);
  out.high = offset((a * high - b * low) / det);
}

void read(const signals::Recording& r, const OnRoad& road, Rows& out) {
  const auto* n = r.find(Quantity::rpm);
  const auto* p = r.find(Quantity::map);
  const auto* v = r.find(Quantity::speed);
  const auto* warm = r.find(Quantity::coolant);
  if (!n || !p || !v || !r.row_step) return;
  const double step = r.row_step->si;
  out.step_s = step;
  const auto second_rows = static_cast<std::size_t>(std::max(1.0, std::round(1 / step)));
  const double idle = road.sheet().wishes.idle_speed.value.rpm;
  const auto& gears = road.sheet().car.gears.values;
  const double low = kRatioLow * road.ratio(static_cast<int>(gears.size()));
  const double high = kRatioHigh * road.ratio(1);
  for (std::size_t i = second_rows; i < r.rows; ++i) {
    if (warm && warm->si[i] < kWarm_k) continue;
    if (v->si[i] < kStopped_m_s && std::abs(n->si[i] / idle - 1) < kNearIdle) {
      out.idle_pa.push_back(p->si[i]);
      out.idle_s += step;
    }
    const double before = v->si[i - second_rows];
    const double a = (v->si[i] - before) / (static_cast<double>(second_rows) * step);
    if (!(v->si[i] > kRolling_m_s) || !(std::abs(a) < kSteady_m_s2)) continue;
    const double ratio = n->si[i] * std::numbers::pi / 30 / v->si[i];
    if (!(ratio > low && ratio < high)) continue;
    const Torque asked = road.asked_at(v->si[i] * m_per_s, ratio, a, 0);
    const auto by_road = road.pressure_for(rpm(n->si[i]), asked);
    if (!by_road || !(p->si[i] > 0)) continue;
    const double computed = by_road->from_zero.si;
    out.ratio.push_back(p->si[i] / computed);
    out.over_pa[static_cast<int>(computed / kBin_pa)].push_back(p->si[i] - computed);
    out.steady_s += step;
  }
}

}  // namespace

Seen seen_in(std::span<const signals::Recording* const> recordings, const car::Sheet& sheet,
             const car::Surface* ve) {
  const OnRoad road(sheet, ve);
  Rows rows;
  for (const signals::Recording* r : recordings) read(*r, road, rows);
  Seen out;
  if (rows.idle_s >= kFewestIdle_s) out.idle = absolute(quartile(rows.idle_pa, 2) * pascal);
  if (rows.steady_s >= kFewest_s && by_a_road(rows.ratio)) {
    fit(rows, out);
    out.steady = rows.steady_s * second;
  }
  return out;
}

}  // namespace fuelwright::advice
