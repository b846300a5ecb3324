#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <cmath>

#include "signals/recording/internal/column_unit.h"

namespace fuelwright::signals {
namespace {

using Q = Quantity;

// Doubt left about the quantity when a piece of evidence supports it.
constexpr double kUnitFits = 0.4;
constexpr double kRangeFits = 0.6;
constexpr double kNearlySure = 0.3;
// In a file that bears the marks of SAE J1979, another unit than the standard's is this likely.
constexpr double kForeign = 0.3;
// One unit must fit this many times as well as the next, or the user is asked.
constexpr double kClear = 10;

/// How well numbers fit, 0..1: `lowest` and `highest` are those of ordinary use, `edge` is what may
/// still be.
double fit(double value, double lowest, double highest, double edge_low, double edge_high) {
  constexpr double kUnusual = 0.2;
  if (value >= lowest && value <= highest) return 1;
  return value >= edge_low && value <= edge_high ? kUnusual : 0;
}

struct Usual {
  const char* unit;
  double weight;  // how common, against the commonest
};

// The units that loggers write for a quantity, commonest first (common practice, no source).
std::vector<Usual> usual_units(Q what) {
  switch (what) {
    case Q::map:
    case Q::baro:
      return {{"kPa", 1}, {"psi absolute", 0.5}, {"inHg", 0.3}, {"bar", 0.5}, {"hPa", 0.3}};
    case Q::coolant:
    case Q::intake_air:
      return {{"degC", 1}, {"degF", 0.5}, {"K", 0.1}};
    case Q::maf:
      return {{"g/s", 1}, {"kg/h", 0.4}, {"lb/min", 0.2}, {"lb/h", 0.05}};
    case Q::throttle:
      return {{"%", 1}, {"fraction", 0.5}};
    case Q::pulse_width:
      return {{"ms", 1}, {"us", 0.5}, {"s", 0.5}};
    case Q::correction:
    case Q::short_trim:
    case Q::long_trim:
    case Q::warm_up:
      return {{"%", 1}, {"% around 100", 1}, {"factor", 1}};
    case Q::time:
      return {{"s", 1}, {"ms", 1}, {"us", 0.3}, {"days", 0.3}};
    default:
      return {};
  }
}

// How well the numbers fit a quantity in a unit; the limits are common practice of the trade.
double fits(Q what, const ColumnUnit& unit, const Stats& s, const Neighbours& near) {
  constexpr double kZero_K = 273.15;
  const double low = unit.si(s.low);
  const double mid = unit.si(s.mid);
  const double top = unit.si(s.highest);
  switch (what) {
    case Q::map:  // light load to the ambient pressure or above it
      return fit(low, 13e3, 70e3, 8e3, 104e3) * fit(top, 70e3, 250e3, 25e3, 320e3);
    case Q::baro:
      return fit(mid, 65e3, 105e3, 50e3, 110e3);
    case Q::coolant:  // warm in the end
      return fit(top, kZero_K + 70, kZero_K + 120, kZero_K + 15, kZero_K + 140) *
             fit(low, kZero_K - 30, kZero_K + 105, kZero_K - 40, kZero_K + 110);
    case Q::intake_air:
      return fit(mid, kZero_K + 5, kZero_K + 60, kZero_K - 30, kZero_K + 110);
    case Q::throttle:
      return unit.factor < 1 ? fit(top, 0.06, 1.06, 0.053, 1.06) : fit(top, 0.02, 1.06, 0.02, 1.06);
    case Q::pulse_width:
      return fit(mid, 0.5e-3, 25e-3, 0, 60e-3);
    case Q::correction:
    case Q::short_trim:
    case Q::long_trim:
    case Q::warm_up:
      if (unit.text == "factor" && s.low <= 0) return 0;
      return fit(mid, -0.3, 0.4, -0.5, 0.6) *
             (s.highest - s.lowest > 3 || unit.text == "factor" ? 1 : 0.3);
    case Q::time: {
      constexpr double kNone = 0;
      return s.typical_step > 0 ? fit(s.typical_step * unit.factor, 4e-3, 2.5, 0.8e-3, 10) : kNone;
    }
    case Q::maf: {
      if (!near.air_per_flow) return 0;
      constexpr double k120RT = 120 * 287.05 * 300;  // T 300 K is near enough to tell units apart
      return fit(mid * k120RT / *near.air_per_flow, 0.5e-3, 6.5e-3, 0.3e-3,
                 9.5e-3);  // (recordings.2)
    }
    default:
      return 0;
  }
}

std::string range_text(const Stats& s) {
  return fmt::format("{:.4g} to {:.4g}", s.lowest, s.highest);
}

UnitChoice take(ColumnUnit unit, double doubt, std::string reason) {
  UnitChoice out;
  out.unit = std::move(unit);
  out.doubt = doubt;
  out.reason = std::move(reason);
  return out;
}

UnitChoice ask(std::string unclear, std::vector<std::string> options) {
  UnitChoice out;
  out.unclear = std::move(unclear);
  out.options = std::move(options);
  return out;
}

UnitChoice ask_constant(const Stats& s) {
  return ask(
      fmt::format(
          "it holds {}, an air-fuel ratio, and lambda is that reading over the constant of the "
          "instrument that produced it, which the file does not say (14.7 is usual for petrol "
          "gauges)",
          range_text(s)),
      {"afr 14.7", "afr CONSTANT", "lambda"});
}

UnitChoice mixture_by_range(Q what, const Stats& s, const Answers& answers) {
  if (fit(s.mid, 0.5, 1.7, 0.5, 1.7) > 0) {
    auto unit = unit_of(what, "lambda", answers);
    if (what == Q::commanded_ratio) {
      return take(std::move(*unit), kRangeFits,
                  "SAE J1979 calls it a fuel-air ratio, but it behaves as lambda: below 1 is rich");
    }
    return take(std::move(*unit), kRangeFits, "values around 1 are lambda");
  }
  if (s.mid > 6 && s.mid < 30) {
    if (!answers.afr_constant) return ask_constant(s);
    return take(std::move(*unit_of(what, "afr", answers)), kRangeFits,
                "an air-fuel ratio on the stated constant");
  }
  return ask(
      fmt::format("{} fits neither lambda nor an air-fuel ratio (a voltage?)", range_text(s)),
      {"lambda", "afr CONSTANT"});
}

}  // namespace

UnitChoice choose_given(Q what, const std::string& text, const Stats& s, const Answers& answers) {
  const auto unit = unit_of(what, text, answers);
  const bool mixture = what == Q::lambda || what == Q::target;
  if (!unit) {
    if (mixture && unit.error().code == ErrorCode::needs_answer) return ask_constant(s);
    if (unit.error().code == ErrorCode::needs_answer) return ask(unit.error().message, {text});
    std::vector<std::string> options;
    for (const Usual& u : usual_units(what)) options.emplace_back(u.unit);
    if (options.empty()) options.emplace_back(info(what).unit);
    return ask(unit.error().message, options);
  }
  const std::string gives = fmt::format("its unit {} fits", text);
  const bool around =
      what == Q::correction || what == Q::short_trim || what == Q::long_trim || what == Q::warm_up;
  if (around && text == "%") {
    if (s.low > 40 && s.mid < 170)
      return take(std::move(*unit_of(what, "% around 100", answers)), kUnitFits,
                  gives + "; no correction is 100 %");
    return take(*unit, kUnitFits, gives + "; no correction is 0 %");
  }
  if (what == Q::map && unit->offset == 0 && s.lowest < 0) {
    const std::string gauge_text =
        unit->text.starts_with("psi") ? "psi gauge" : unit->text + " gauge";
    return ask(fmt::format("it falls to {:.4g} {}, so it is no absolute pressure", s.lowest, text),
               {gauge_text});
  }
  return take(*unit, kUnitFits, gives);
}

UnitChoice choose_by_range(Q what, const Stats& s, const Neighbours& near, const Answers& answers) {
  const QuantityInfo& q = info(what);
  if (near.named_equivalence) {
    return ask("it may be an equivalence ratio (above 1 is rich) or lambda (below 1 is rich)",
               {"equivalence", "lambda"});
  }
  if (what == Q::lambda || what == Q::target || what == Q::commanded_ratio)
    return mixture_by_range(what, s, answers);
  if (what == Q::throttle && s.j1979_percent) {
    return take(*unit_of(what, "%", answers), kNearlySure,
                "steps of 100/255, as SAE J1979 scales a percentage");
  }
  if (what == Q::intake_air && near.temperature_unit) {
    return take(*unit_of(what, *near.temperature_unit, answers), kRangeFits,
                fmt::format("no unit; \"{}\" of the same file is in {}", near.temperature_header,
                            *near.temperature_unit));
  }
  const std::vector<Usual> usual = usual_units(what);
  if (usual.empty()) {
    const double doubt = q.kind == Kind::engine_speed || q.kind == Kind::voltage ? kRangeFits : 1;
    if (q.kind == Kind::count) return take(ColumnUnit{""}, 1, "");
    return take(*unit_of(what, q.unit, answers), doubt,
                fmt::format("no unit; read in {} as usual", q.unit));
  }
  std::optional<ColumnUnit> best;
  double best_fit = 0;
  double next_fit = 0;
  std::vector<std::string> standing;
  std::vector<std::string> all;
  for (const Usual& u : usual) {
    ColumnUnit unit = *unit_of(what, u.unit, answers);
    all.emplace_back(u.unit);
    const bool foreign = near.j1979 && std::string_view(q.unit) != u.unit;
    const double f = u.weight * (foreign ? kForeign : 1) * fits(what, unit, s, near);
    if (f > 0) standing.emplace_back(u.unit);
    next_fit = std::max(next_fit, std::min(f, best_fit));
    if (f > best_fit) {
      best_fit = f;
      best = std::move(unit);
    }
  }
  if (!best) {
    return ask(fmt::format("no unit, and {} settles none", range_text(s)), all);
  }
  if (best_fit < kClear * next_fit) {
    std::string fit_list;
    for (const std::string& u : standing) fit_list += (fit_list.empty() ? "" : ", ") + u;
    return ask(fmt::format("no unit, and {} fits {}", range_text(s), fit_list), standing);
  }
  return take(*best, kRangeFits,
              fmt::format("no unit; {} fits {} best by far{}", range_text(s), best->text,
                          near.j1979 ? " in a file scaled by SAE J1979" : ""));
}

}  // namespace fuelwright::signals
