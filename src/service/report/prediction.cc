// A prediction for the terminal: power and idle first, the fogged chart, what to measure next, how
// it came about.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "service/report/grid.h"
#include "service/report/text.h"
#include "service/report/words.h"

namespace fuelwright::service {
namespace {

using physics::Interval;

constexpr int kWorthShown = 3;  // measurements for each kind of driving

struct Unit {
  const char* name;
  double factor;
};

// Half of the interval's width beside its middle.
std::string with_half(const Interval& v, double factor, int decimals = 0) {
  return fmt::format("{:.{}f}{}{:.{}f}", v.middle / factor, decimals, kPlusMinus,
                     (v.high - v.low) / 2 / factor, decimals);
}

std::string full_throttle_text(const advice::FullThrottle& f, UnitSystem units) {
  const bool us = units == UnitSystem::us;
  const Unit torque = us ? Unit{"lb ft", pound_foot.factor} : Unit{"Nm", 1};
  const Unit power = us ? Unit{"hp", horsepower.factor} : Unit{"kW", 1e3};
  const Unit fuel = us ? Unit{"lb/h", 0.45359237 / 3600} : Unit{"g/s", 1e-3};
  const Unit bsfc =
      us ? Unit{"lb/hp h", 0.45359237 / (horsepower.factor * 3600)} : Unit{"g/kWh", 1e-3 / 3.6e6};
  std::string out = fmt::format(
      "Full throttle ({}: 95 %):\n  {:>6} {:>9} {:>12} {:>11} {:>11} {:>9} {:>9} {:>8} {:>9}\n",
      kPlusMinus, "rpm", "VE %", torque.name, power.name, fuel.name, bsfc.name, "spark deg",
      "knock %", us ? "exh. degF" : "exh. degC");
  for (std::size_t i = 0; i < f.speeds.size(); ++i) {
    const double t = f.exhaust_k[i].middle;
    const std::string b = us ? fmt::format("{:.3f}", f.bsfc_kg_j[i].middle / bsfc.factor)
                             : fmt::format("{:.0f}", f.bsfc_kg_j[i].middle / bsfc.factor);
    out += fmt::format(
        "  {:>6.0f} {:>10} {:>13} {:>12} {:>12} {:>9} {:>9.0f} {:>8.0f} {:>9.0f}\n",
        f.speeds[i].rpm, with_half(f.ve[i], 0.01), with_half(f.torque_nm[i], torque.factor),
        with_half(f.power_w[i], power.factor), with_half(f.fuel_kg_s[i], fuel.factor, us ? 0 : 1),
        b, f.spark_deg[i].middle, 100 * f.knock_limited[i],
        us ? in_fahrenheit(kelvin(t)) : in_celsius(kelvin(t)));
  }
  return out + "  knock %: share of such engines whose spark this fuel limits there\n";
}

std::string idle_text(const advice::Idle& idle) {
  std::string out = fmt::format("Idle at {:.0f} rpm: ", idle.speed.rpm);
  if (!idle.map_pa) {
    return out +
           fmt::format("not known; only {:.0f} % of such engines burn well enough to hold it.\n",
                       100 * idle.runs);
  }
  out += fmt::format(
      "{:.0f} kPa (95 %: {:.0f} to {:.0f}), {:.1f} g/s of air ({:.1f} to {:.1f}), {:.0f} % burnt "
      "gas in the "
      "charge",
      idle.map_pa->middle / 1e3, idle.map_pa->low / 1e3, idle.map_pa->high / 1e3,
      idle.air_kg_s.middle * 1e3, idle.air_kg_s.low * 1e3, idle.air_kg_s.high * 1e3,
      100 * idle.residual);
  if (idle.runs < 0.95)
    out += fmt::format("; {:.0f} % of such engines do not hold it", 100 * (1 - idle.runs));
  return out + ".\n";
}

std::string mixtures_text(const PredictReply& r) {
  std::string out;
  for (const advice::MixtureChoice& m : r.mixtures) {
    out += fmt::format(
        "  {}, from {} to {}: torque {:+.1f} %, fuel {:+.1f} %, fuel for the same work {:+.1f} %\n",
        m.where, car::format(m.from, r.scale), car::format(m.to, r.scale), 100 * m.torque,
        100 * m.fuel, 100 * m.bsfc);
  }
  return out.empty() ? out : "What another mixture costs, each with its own best spark:\n" + out;
}

// The fog thickens with what is not known.
const char* fog(double half_width) {
  if (half_width <= 0.05) return " ";
  if (half_width <= 0.10) return "\xC2\xB7";      // middle dot
  if (half_width <= 0.20) return "\xE2\x96\x91";  // light shade
  return "\xE2\x96\x93";                          // dark shade
}

std::string chart(const PredictReply& r) {
  const car::Evidence& e = *r.evidence;
  std::string out = fmt::format(
      "VE in %, and how far it may be off ({}, 95 %); the fog thickens with what is not known:\n\n",
      kPlusMinus);
  out += grid_text(e.grid, r.units, [&](std::size_t ix, std::size_t iy) {
    const std::size_t i = e.grid.index(ix, iy);
    const double half = e.half_width(i);
    return fmt::format("{}{:.0f}{}{:.0f}", fog(half), 100 * e.estimate[i], kPlusMinus,
                       std::min(99.0, std::ceil(100 * half - 0.5)));
  });
  return out;
}

std::string measure_text(const std::vector<physics::Worth>& worth) {
  std::string out, driving;
  int shown = 0;
  for (const physics::Worth& w : worth) {
    if (w.driving != driving) shown = 0;
    driving = w.driving;
    if (++shown <= kWorthShown) out += "  " + w.says() + "\n";
  }
  return out.empty()
             ? "Nothing that is usually measured would narrow this much further; drive it.\n"
             : "What to measure next:\n" + out;
}

std::string axes_text(const advice::FirstCalibration& first, UnitSystem units) {
  if (!first.axes || !(first.axes->loss < 0.7 * first.axes->present_loss)) return "";
  const auto list = [&](const car::Axis& a) {
    std::string out;
    for (std::size_t i = 0; i < a.size(); ++i) {
      std::string point = a.format_point(i, units);
      const auto blank = point.find(' ');
      out +=
          " " + (i + 1 < a.size() && blank != std::string::npos ? point.substr(0, blank) : point);
    }
    return out;
  };
  return fmt::format(
      "Breakpoints that lose less between nodes ({:.1f} % instead of {:.1f} %, where the car is "
      "driven):\n "
      "{}\n {}\n",
      100 * first.axes->loss, 100 * first.axes->present_loss, list(first.axes->grid.x),
      list(first.axes->grid.y));
}

}  // namespace

std::string text(const PredictReply& r) {
  std::string out = r.sentence + "\n" + r.not_known + "\n\n";
  out += chart(r) + "\n" + measure_text(r.measure_next) + "\n" +
         full_throttle_text(r.full, r.units) + idle_text(r.idle) + mixtures_text(r) + "\n" +
         axes_text(r.first, r.units);
  if (!r.first.cautions.empty()) out += "Mind:\n";
  for (const std::string& c : r.first.cautions) out += "  " + c + "\n";
  out += fmt::format("Computed from {} engines that could be this one{}.\n", r.members,
                     r.drawn_now ? "" : " (kept in the job)");
  if (r.revision) {
    out += fmt::format(
        "Revision {} is this calibration, complete: every table, curve and setting with how it "
        "came about is "
        "in \"show JOB calibration\".\n",
        *r.revision);
  } else {
    out += "It is not made a revision: " + r.not_kept + ". With --keep it becomes one.\n";
  }
  return out;
}

}  // namespace fuelwright::service
