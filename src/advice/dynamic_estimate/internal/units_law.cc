// The unit's own law in a recording's fuel (dynamic.3).
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "advice/dynamic_estimate/internal/driving_maker.h"

namespace fuelwright::advice {
namespace {

constexpr double kLawWarm_k = 349.15;    // warm-up enrichment has ended (common practice: 75 degC)
constexpr double kWindow_s = 0.5;
constexpr double kJudged_s = 60;  // less is mostly after-start fuel and hunting
constexpr double kContradiction = 0.02;  // spread of its means that nothing explains
constexpr double kLevelOff = 0.05;       // fuel that table and injectors do not explain

ChargeLaw law_of(const HeldLaw& held) {
  ChargeLaw law;
  for (int k = 0; k < 4; ++k) law.c[k] = held.c[static_cast<std::size_t>(k)];
  law.spread = held.spread;
  return law;
}

// Median over the rows, of a unit that believes w of (dynamic.2).
double level_of(const ChargeLaw& law, const std::vector<LawRow>& rows, double w) {
  std::vector<double> level(rows.size());
  for (std::size_t i = 0; i < rows.size(); ++i) {
    level[i] = law.air(rows[i].column) - w * rows[i].column[1];
  }
  const auto middle = level.begin() + static_cast<std::ptrdiff_t>(level.size() / 2);
  std::nth_element(level.begin(), middle, level.end());
  return *middle;
}

// What no usual charge temperature explains: units believe anything from the intake air's to twice
// our own law (from memory), which is 7 % of fuel.
double unexplained(const ChargeLaw& law, const std::vector<LawRow>& rows) {
  const auto [low, high] =
      std::minmax({level_of(law, rows, 0), level_of(law, rows, 2 * kChargeWeight)});
  return low > 0 ? low : std::min(high, 0.0);
}

}  // namespace

Eigen::Vector4d DrivingMaker::law_column(std::size_t i) const {
  if (d_.fuel_kg_s[i] <= 0) return {1.0, -heat(d_.air_kg_s[i]) * lift(i), -lift(i), 0.0};
  const double open = d_.fuel_kg_s[i] / d_.dead_kg_s2[i];
  const double volts = sheet_.injection.dead_time_voltage.si() - battery_[i];
  return {1.0, -heat(d_.air_kg_s[i]) * lift(i), -lift(i), std::isnan(volts) ? 0.0 : volts / open};
}

std::vector<LawRow> DrivingMaker::law_rows() const {
  std::vector<LawRow> rows;
  for (const Driving::Stretch& s : d_.stretches) {
    for (std::size_t i = s.first; i < s.last; ++i) {
      if (!d_.usable[i] || d_.fuel_kg_s[i] <= 0 || d_.coolant_k[i] < kLawWarm_k) continue;
      const double unit = d_.fuel_kg_s[i] * d_.stoichiometric * target_[i];
      rows.push_back(
          {std::log(unit / ((1 + correction_[i]) * air(driven_, point(i), i))), law_column(i),
           std::lround(static_cast<double>(i) * d_.step_s / kWindow_s)});
    }
  }
  return rows;
}

Status DrivingMaker::judge_law(const HeldLaw& law, double seconds) {
  if (law.spread > kContradiction && seconds > kJudged_s) {
    return Error{ErrorCode::conflict, name_,
                 fmt::format("pulse width and target contradict the table said to be in the unit "
                             "by {:.0f} %: another table, or the unit corrects its own",
                             100 * law.spread)};
  }
  if (std::abs(law.level) <= kLevelOff) return Done{};
  if (!correction_.recorded) {
    return Error{ErrorCode::conflict, name_,
                 fmt::format("it is said to be driven open loop, but the pulse widths are {:+.0f} "
                             "% off what table and target make: the unit corrected, or the "
                             "injectors of the sheet are not those in the car",
                             100 * std::expm1(law.level))};
  }
  d_.notes.push_back(fmt::format(
      "the pulse widths are {:+.0f} % off what table, target and injectors of the sheet make: "
      "check injector flow, squirts per cycle and displacement, and that this table was in the "
      "unit; the answer compares with what the unit did",
      100 * std::expm1(law.level)));
  return Done{};
}

Result<bool> DrivingMaker::fit_law() {
  make_all_rows();
  const std::vector<LawRow> rows = law_rows();
  if (rows.empty()) return false;
  const ChargeLaw fitted = fit_charge_law(rows);
  HeldLaw law{.spread = fitted.slow_spread, .level = unexplained(fitted, rows)};
  for (std::size_t k = 0; k < law.c.size(); ++k) law.c[k] = fitted.c[static_cast<int>(k)];
  d_.law_level = law.level;
  d_.law_spread = law.spread;
  d_.notes.clear();
  FW_CHECK(judge_law(law, static_cast<double>(rows.size()) * d_.step_s));
  hold_law(law);
  return true;
}

// As they were before any law.
void DrivingMaker::make_all_rows() {
  if (!d_.law) return;
  d_.law.reset();
  for (std::size_t i = 0; i < d_.rows(); ++i) make_row(i);
}

void DrivingMaker::hold_law(const HeldLaw& law) {
  make_all_rows();
  d_.law = law;
  d_.law_level = law.level;
  d_.law_spread = law.spread;
  d_.heating_held = kChargeWeight - law.c[1];
  for (const Driving::Stretch& s : d_.stretches) {
    for (std::size_t i = s.first; i < s.last; ++i) obey_law(i);
  }
}

// The air the unit counted with, carried over to the start table.
void DrivingMaker::obey_law(std::size_t i) {
  const ChargeLaw law = law_of(*d_.law);
  const Eigen::Vector4d column = law_column(i);
  d_.air_kg_s[i] *= std::exp(law.air(column) + d_.heating_held * d_.heating[i]);
  if (d_.fuel_kg_s[i] > 0) d_.fuel_kg_s[i] *= std::exp(-law.fuel(column));
}

}  // namespace fuelwright::advice
