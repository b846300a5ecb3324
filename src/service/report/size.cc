// A size for the terminal: the answer, what to change, curves of demand against supply, the table
// over speed, limits, cautions.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "service/report/text.h"

namespace fuelwright::service {
namespace {

using namespace physics::supply;
using physics::Interval;

constexpr int kColumns = 61, kRows = 17;

struct FlowUnit {
  const char* name;
  double factor;
};
FlowUnit flow_unit(UnitSystem units) {
  return units == UnitSystem::us ? FlowUnit{"lb/h", lb_per_h.factor} : FlowUnit{"g/s", 1e-3};
}

// A sheet of characters; later marks cover earlier ones.
class Plot {
 public:
  Plot(double x_low, double x_high, double y_high)
      : x_low_(x_low), x_high_(x_high), y_high_(y_high) {
    for (auto& row : cells_) row.fill(" ");
  }
  double x_of(int column) const { return x_low_ + (x_high_ - x_low_) * column / (kColumns - 1); }
  void mark(int column, double y, const char* with) {
    if (const int row = row_of(y); row >= 0 && row < kRows)
      cells_[static_cast<std::size_t>(row)][static_cast<std::size_t>(column)] = with;
  }
  void band(int column, double low, double high, const char* with) {
    for (int row = std::max(0, row_of(low)); row <= std::min(kRows - 1, row_of(high)); ++row)
      cells_[static_cast<std::size_t>(row)][static_cast<std::size_t>(column)] = with;
  }
  std::string text(const FlowUnit& unit) const {
    std::string out;
    for (int row = kRows - 1; row >= 0; --row) {
      const bool numbered = row % 4 == 0;
      const double y = y_high_ * row / (kRows - 1) / unit.factor;
      out += (numbered ? fmt::format("{:>7.0f} |", y) : std::string("        |"));
      for (const char* cell : cells_[static_cast<std::size_t>(row)]) out += cell;
      out += '\n';
    }
    out += "        +" + std::string(kColumns, '-') + "\n         ";
    constexpr int kEvery = 15;
    for (int column = 0; column < kColumns; column += kEvery)
      out += fmt::format("{:<{}.0f}", x_of(column), kEvery);
    return out + "rpm\n";
  }

 private:
  int row_of(double y) const { return static_cast<int>(std::lround(y / y_high_ * (kRows - 1))); }
  double x_low_, x_high_, y_high_;
  std::array<std::array<const char*, kColumns>, kRows> cells_{};
};

// A value of the rows between two speeds.
template <class Get>
double at(const std::vector<SpeedRow>& rows, double n, Get get) {
  std::size_t k = 0;
  while (k + 2 < rows.size() && n > rows[k + 1].need.speed.rpm) ++k;
  if (rows.size() == 1) return get(rows[0]);
  const double a = rows[k].need.speed.rpm, b = rows[k + 1].need.speed.rpm;
  const double t = std::clamp((n - a) / (b - a), 0.0, 1.0);
  return (1 - t) * get(rows[k]) + t * get(rows[k + 1]);
}

std::string plot_text(const SizeReply& r) {
  const auto& rows = r.answer.curve;
  const FlowUnit unit = flow_unit(r.units);
  double most = 0;
  for (const SpeedRow& row : rows) most = std::max(most, row.fuel_kg_s.high);
  constexpr double kHead = 1.6;  // of the demand: supply far above it leaves the sheet
  double supply = 0;
  for (const SpeedRow& row : rows)
    supply = std::max({supply, row.pump_kg_s.middle, row.injectors_kg_s.middle});
  const double top = std::min(kHead * most, 1.05 * std::max(most, supply));
  Plot plot(rows.front().need.speed.rpm, rows.back().need.speed.rpm, top);
  for (int c = 0; c < kColumns; ++c) {
    const double n = plot.x_of(c);
    const auto value = [&](auto get) { return at(rows, n, get); };
    plot.band(c, value([](const SpeedRow& x) { return x.fuel_kg_s.low; }),
              value([](const SpeedRow& x) { return x.fuel_kg_s.high; }), "\xE2\x96\x91");
    plot.mark(c, value([](const SpeedRow& x) { return x.injectors_kg_s.middle; }), "i");
    plot.mark(c, value([](const SpeedRow& x) { return x.pump_kg_s.middle; }), "p");
    plot.mark(c, value([](const SpeedRow& x) { return x.fuel_kg_s.middle; }), "#");
  }
  return fmt::format(
             "Fuel in {}: # asked for (shaded: 95 %), p what the pump can send{}, i what the "
             "injectors can let through\n",
             unit.name, r.pump_known ? "" : " (a usual one; not known)") +
         plot.text(unit);
}

double shown_pressure(PressureStep p, UnitSystem units) {
  return units == UnitSystem::us ? p.in(psi) : p.in(kPa);
}

std::string row_text(const SpeedRow& row, Density rho, UnitSystem units) {
  const FlowUnit unit = flow_unit(units);
  const bool us = units == UnitSystem::us;
  const OperatingPoint& p = row.point;
  const auto flow = [&](double si) { return fmt::format("{:.{}f}", si / unit.factor, us ? 0 : 1); };
  const std::string asked =
      flow(row.fuel_kg_s.middle) + "\xC2\xB1" + flow((row.fuel_kg_s.high - row.fuel_kg_s.low) / 2);
  return fmt::format(
      "  {:>5.0f} {:>6.0f} {:>12} {:>10.0f} {:>7} {:>7} {:>+7.0f} {:>6.0f} {:>6.{}f} {:>7.{}f} "
      "{:>6.0f} {:>6.1f} {:>6.1f}\n",
      row.need.speed.rpm, row.power_w.middle / (us ? horsepower.factor : 1e3), asked,
      VolumeFlow{row.need.fuel.si / rho.si}.in(litre_per_h), flow(row.pump_kg_s.middle),
      flow(row.injectors_kg_s.middle), 100 * row.middle.least(), 100 * row.short_share,
      shown_pressure(p.rail.above_ambient, units), us ? 1 : 0, shown_pressure(p.across, units),
      us ? 1 : 0, 100 * p.pulse.duty, p.pulse.total.in(ms), p.pump_volts.si);
}

std::string table_text(const SizeReply& r) {
  const bool us = r.units == UnitSystem::us;
  const auto& rows = r.answer.curve;
  std::string out = fmt::format(
      "Full throttle (\xC2\xB1: 95 %; short: of 100 cars that could be this one):\n  {:>5} {:>6} "
      "{:>11} {:>10} {:>7} {:>7} {:>7} {:>6} {:>6} {:>7} {:>6} {:>6} {:>6}\n",
      "rpm", us ? "hp" : "kW", us ? "asks lb/h" : "asks g/s", "l/h", "pump", "inject.", "hand %",
      "short", us ? "psi" : "kPa", "nozzle", "duty %", "ms", "V pump");
  constexpr std::size_t kLines = 12;
  const std::size_t step = std::max<std::size_t>(1, rows.size() / kLines);
  for (std::size_t i = (rows.size() - 1) % step; i < rows.size(); i += step)
    out += row_text(rows[i], r.answer.middle.tank_density(), r.units);
  return out;
}

std::string list(const char* title, const std::vector<std::string>& lines) {
  if (lines.empty()) return "";
  std::string out = std::string(title) + "\n";
  for (const std::string& line : lines) out += "  " + line + "\n";
  return out;
}

template <class Said>
std::vector<std::string> words_in(const std::vector<Said>& said, std::size_t most) {
  std::vector<std::string> out;
  for (const Said& one : said)
    if (out.size() < most) out.push_back(one.words);
  return out;
}

// A margin that leaves hardly any of the drawn systems short.
std::string surer_text(const SizeReply& r, double chance) {
  constexpr double kSure = 0.05;
  const SideAnswer& side = r.answer.sides[static_cast<std::size_t>(r.answer.tightest_side)];
  const double doubt = std::min(1.0, side.margin - side.spread.low);
  constexpr double kNothing = -0.995;  // fuel boils in some of them: no larger part cures that
  if (!r.pump_known || chance <= kSure || doubt <= r.margin || side.spread.low < kNothing)
    return "";
  return fmt::format(
      "  What is not known of this car is worth {:.0f} %: --margin {:.2f} asks for what "
      "is short in hardly any of them; measuring or driving makes it less.\n",
      100 * doubt, std::ceil(100 * doubt) / 100);
}

std::string cures_text(const SizeReply& r) {
  const SupplyAnswer& a = r.answer;
  if (r.plan.empty()) {
    return fmt::format("Nothing has to change for {:.0f} % in hand.\n", 100 * r.margin) +
           surer_text(r, a.short_chance);
  }
  std::string out = list(fmt::format("What restores {:.0f} % everywhere{}:", 100 * r.margin,
                                     r.plan.size() > 1 ? ", one after another" : "")
                             .c_str(),
                         words_in(r.plan, r.plan.size()));
  if (!a.plan.enough) out += "  Even so it does not reach that margin.\n";
  out += fmt::format("  Then {:.0f} of 100 would still run out, instead of {:.0f}.\n",
                     100 * a.short_chance_after, 100 * a.short_chance);
  out += surer_text(r, a.short_chance_after);
  if (r.cures.size() > 1)
    out += list("Each by itself, for the tightest side:", words_in(r.cures, r.cures.size()));
  return out;
}

std::string measured_text(const SizeReply& r) {
  std::vector<std::string> lines;
  for (const MeasuredValue& m : r.measured) lines.push_back(m.key + " = " + m.value);
  if (r.pull) {
    lines.push_back(
        fmt::format("rail pressure of a pull in recording {} ({}), {:.0f} to {:.0f} rpm",
                    r.pull->recording, r.pull->name, r.pull->from.rpm, r.pull->to.rpm));
  }
  return list("Measured, in the place of typical values:", lines);
}

// Where no measurement of the supply helps, the air of the engine is what is not known.
std::string engine_text(const SizeReply& r) {
  constexpr double kHelps = 0.85;
  if (r.measure_first.empty()) return "";
  const Worth& best = r.measure_first.front().worth;
  if (best.after < kHelps * best.before) return "";
  return "  Most of the doubt is how much air this engine takes: driving it narrows that.\n";
}

std::string typical_text(const SizeReply& r) {
  std::string out;
  for (const car::Line& line : r.typical) {
    out += fmt::format("{}{} {}{}", out.empty() ? "" : "; ", line.key, line.value,
                       line.tolerance.empty() ? "" : " \xC2\xB1 " + line.tolerance);
  }
  return out.empty() ? "" : "Typical, because nobody said: " + out + ".\n";
}

}  // namespace

std::string text(const SizeReply& r) {
  std::string out = r.sentence + "\n";
  if (!r.not_known.empty()) out += r.not_known + "\n";
  out += "\n" + cures_text(r) + "\n";
  out += list("The rest of the answer:", r.also) + "\n";
  out += plot_text(r) + "\n" + table_text(r) + "\n";
  constexpr std::size_t kMeasurements = 3;
  out += list("What to measure first:", words_in(r.measure_first, kMeasurements)) + engine_text(r);
  out += measured_text(r) + typical_text(r) + "\n";
  out += list("Limits:", r.limits.words) + list("Warnings:", r.limits.warnings) + "\n";
  out += list("Cautions:", r.cautions);
  out += fmt::format(
      "Computed from {} engines that could be this one{} and {} fuel systems that the "
      "sheet's tolerances allow.\n",
      r.members, r.drawn_now ? "" : " (kept in the job)", r.systems);
  return out;
}

}  // namespace fuelwright::service
