#include "advice/doubts/internal/witness.h"

#include <algorithm>
#include <cmath>

#include "advice/map_estimate/injector_fuel.h"
#include "advice/map_estimate/observe.h"
#include "car/build/derived.h"

namespace fuelwright::advice::doubts {
namespace {

using signals::Quantity;

constexpr double kAirGas = 287.05;  // J/(kg K), dry air
constexpr double kLeastOpen_ms = 0.05;
constexpr double kTipInFades_s = 1.0;
constexpr double kEnriched_k = 349.15;  // units add fuel below this (common practice: 75 degC)
constexpr double kStands_s = 0.3;       // the pulse width is of a moment before its row
constexpr double kDelays_s[] = {0, 0.15, 0.3, 0.45, 0.6};
constexpr double kReferenceFlow = 2000 * 50e3;  // rpm Pa, where h is 1
constexpr double kMostHeat = 3;
constexpr double kUsualIntake_k = 308.15;

// How long table, target and correction would hold an injector of the sheet open.
double open_by_table_s(const Asked& asked, const Timeline& t, std::size_t i,
                       const car::OperatingPoint& about) {
  const car::Injection& in = asked.sheet.injection;
  const double air = asked.driven->at(about) * about.map.from_zero.si *
                     asked.sheet.engine.displacement.si() / (kAirGas * t.intake[i]);
  const double given = t.correction[i] > -1 ? 1 + t.correction[i] : 1.0;
  const double fuel = air * given / (asked.sheet.fuel.stoichiometric.si() * t.target[i]);
  const PressureStep across = pressure_across_injector(in, about.map, about.ambient);
  if (!(across.si > 0)) return 0;
  return fuel / (in.injector_count.si() * in.squirts_per_cycle.si() *
                 injector_flow(asked.sheet, across).si);
}

}  // namespace

std::vector<Column> usual_columns() {
  // Level and laws wide, dead time 0.1 ms and 0.1 ms a volt, any power of the intake temperature
  // from the gas law's to none: units differ (from memory).
  return {{0, 0.5}, {0, 0.3}, {0, 0.3}, {0, 0.1}, {0, 0.1}, {0, 0.5}};
}

Witness fuel_ratio(const Asked& asked, const Timeline& t) {
  Witness out;
  const bool has = asked.recording.find(Quantity::target) != nullptr;
  if (!asked.driven || !has || asked.driven->grid.y.kind() == car::AxisKind::throttle) return out;
  ObserveOptions options;
  options.way = Way::pulse_width;
  const auto observer = Observer::make(asked.recording, asked.sheet, *asked.driven, options);
  if (!observer) return out;
  const car::Injection& in = asked.sheet.injection;
  observer->each(0, 0, 0, [&](const Sample& s) {
    const std::size_t i = s.row;
    const double v = t.battery[i] > 6 ? t.battery[i] : in.dead_time_voltage.si();
    if (!(t.target[i] > 0) || t.coolant[i] < kEnriched_k) return;
    if (t.step_s > 0 && (t.since_rose_s[i] < kTipInFades_s || t.since_stirred_s[i] < kStands_s)) {
      return;
    }
    const double lift = (t.coolant[i] - t.intake[i]) / t.intake[i];
    const double y = s.y - std::log(t.lambda[i] / t.target[i]);
    // Pulse width, pressure and battery of the row are in y. Their noise in the columns too would
    // pass for a law: the columns have the pulse width that the table makes at the place about it.
    const car::OperatingPoint about = t.about(i);
    const double map = about.map.from_zero.si;
    const double table_ms = 1e3 * open_by_table_s(asked, t, i, about);
    if (!(table_ms > kLeastOpen_ms)) return;
    // h of (dynamic.2): heat taken up in a pipe falls with a small power of the flow.
    const double h = std::min(std::sqrt(kReferenceFlow / (about.speed.rpm * map)), kMostHeat);
    FitRow row{.at = asked.driven->grid.shares(about),
               .y = y,
               .sd = s.sd,
               .seconds = s.seconds,
               .run = s.run,
               .stretch = 0};  // pulse widths do not drift
    row.column = {1.0,          lift,
                  lift * h,     (in.dead_time_voltage.si() - v) / table_ms,
                  1 / table_ms, std::log(t.intake[i] / kUsualIntake_k)};
    out.rows.push_back(row);
    out.from.push_back(i);
  });
  return out;
}

Witness mixture(const Asked& asked, const Timeline& t, double delay_s) {
  Witness out;
  ObserveOptions options;
  options.way = Way::correction;
  options.open_loop = true;
  const car::Surface& table = asked.driven ? *asked.driven : asked.believed;
  const auto observer = Observer::make(asked.recording, asked.sheet, table, options);
  if (!observer) return out;
  const auto back =
      t.step_s > 0 ? static_cast<std::size_t>(std::round(delay_s / t.step_s)) : std::size_t{0};
  observer->each(0, 0, 0, [&](const Sample& s) {
    const signals::Segment& segment = asked.recording.segment_of(s.row);
    const std::size_t from = s.row >= segment.first + back ? s.row - back : segment.first;
    if (!(t.target[from] > 0) || !(t.rpm[from] > 0) || !(t.map[from] > 0)) return;
    out.rows.push_back({.at = table.grid.shares(t.at(from)),
                        .y = std::log(t.lambda[s.row] / t.target[from]),
                        .sd = s.sd,
                        .seconds = s.seconds,
                        .run = s.run,
                        .stretch = s.stretch});
    out.from.push_back(from);
  });
  return out;
}

Witness mixture(const Asked& asked, const Timeline& t, const Eigen::MatrixXd& table) {
  Witness best;
  double least = 0;
  for (const double delay_s : kDelays_s) {
    Witness w = mixture(asked, t, delay_s);
    if (w.empty()) return w;
    Witness own = w;  // with the correction added back: what is left is table and noise
    for (std::size_t k = 0; k < own.rows.size(); ++k) {
      const double c = t.correction[own.from[k]];
      if (c > -1) own.rows[k].y += std::log1p(c);
    }
    const double left = Fit({table, {}}, own.rows).noise_scale();
    if (best.empty() || left < least) {
      best = std::move(w);
      least = left;
    }
  }
  return best;
}

Eigen::MatrixXd field(const car::Grid& grid, double sd) {
  // Half of it long, half from node to node: learned corrections have holes.
  const double half = sd / std::sqrt(2.0);
  return covariance(Prior{"", {{half, 0.4, 0.25}, {half, 0.1, 0.06}}, {}}, grid);
}

}  // namespace fuelwright::advice::doubts
