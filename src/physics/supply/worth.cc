#include "physics/supply/worth.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <string_view>

#include "base/contract.h"
#include "physics/ensemble/uncertain.h"

namespace fuelwright::physics::supply {
namespace {

struct Tells {
  std::vector<std::string_view> ids;  // beginnings
  double leaves;                      // 95 % half-width of the margin that it leaves
  bool engine;                        // seen in the engine's own demand
  double minutes;
};

Tells tells(Measurement what, Side side) {
  switch (what) {
    case Measurement::timed_delivery:
      return {{"pump.flow", "pump.voltage", "pump.pressure", "pump.fall", "pump.delivery",
               "filter.", "hose."},
              0.03,
              false,
              30};
    case Measurement::pump_volts:
      return {{"wiring."}, 0.01, false, 15};
    case Measurement::rail_trace:
      // The rail says whether the pump feeds this engine; of the injectors only their pressure.
      if (side == Side::pump) {
        return {{"pump.", "wiring.", "filter.", "hose.", "inlet.", "fuel.", "regulator."},
                0.02,
                true,
                40};
      }
      return {{"regulator.", "hose."}, 0.01, false, 40};
    case Measurement::injectors_flowed:
      return {{"injector.flow", "injector.density", "injector.pressure", "injector.match",
               "injector.dead_time"},
              0.02,
              false,
              120};
    case Measurement::fuel_checked:
      return {{"fuel.density", "fuel.stoichiometric"}, 0.01, false, 20};
  }
  broken_contract("a known measurement", __FILE__, __LINE__);
}

bool begins_with_any(std::string_view id, const std::vector<std::string_view>& with) {
  return std::any_of(with.begin(), with.end(),
                     [&](std::string_view w) { return id.starts_with(w); });
}

struct Slope {
  std::string id;
  double change;  // of the margin, one standard deviation
};

// The need follows fuel and mixture, which are among the unknowns.
double margin_of(const System& s, const Decisive& w, const System& middle) {
  Need need = w.need;
  need.fuel = (middle.stoichiometric * middle.lambda / (s.stoichiometric * s.lambda)) * need.fuel;
  return margins_at(s, need)[w.side];
}

std::vector<Slope> slopes(const Supplied& from, const Decisive& w) {
  std::vector<Slope> out;
  std::vector<double> z(from.unknowns.size() + 1, 0);
  for (std::size_t k = 0; k < z.size(); ++k) {
    const auto at = [&](double x) {
      z[k] = x;
      const double m = margin_of(drawn(from, z), w, from.system);
      z[k] = 0;
      return m;
    };
    const bool delivery = k == from.unknowns.size();
    out.push_back({delivery ? "pump.delivery" : from.unknowns[k].id, (at(1) - at(-1)) / 2});
  }
  return out;
}

double below(double mean, double sd) {  // P(x < 0)
  return sd > 0 ? 0.5 * std::erfc(mean / sd / std::numbers::sqrt2) : (mean < 0 ? 1.0 : 0.0);
}

double wrong(double mean, double sd) {
  const double p = below(mean, sd);
  return std::min(p, 1 - p);
}

// Mean of wrong() over what may come out: the measured mean is spread by what was learned.
double wrong_after(double mean, double before, double after) {  // (supply.23)
  const double spread = std::sqrt(std::max(0.0, before * before - after * after));
  double sum = 0, weight = 0;
  for (int i = -40; i <= 40; ++i) {
    const double x = 0.1 * i;
    const double w = std::exp(-x * x / 2);
    sum += w * wrong(mean + x * spread, after);
    weight += w;
  }
  return sum / weight;
}

}  // namespace

const char* name_of(Measurement what) {
  constexpr const char* kNames[] = {"timed_delivery", "pump_volts", "rail_trace",
                                    "injectors_flowed", "fuel_checked"};
  return kNames[static_cast<std::size_t>(what)];
}

std::vector<Worth> worth_measuring(const Supplied& from, const Decisive& where) {
  const auto all = slopes(from, where);
  const double engine = (1 + where.margin) * where.engine_half / k95;
  double variance = engine * engine;
  for (const Slope& s : all) variance += s.change * s.change;
  const double before = std::sqrt(variance);
  std::vector<Worth> out;
  for (const Measurement what : kMeasurements) {
    const Tells t = tells(what, where.side);
    double told = t.engine ? engine * engine : 0;
    for (const Slope& s : all)
      if (begins_with_any(s.id, t.ids)) told += s.change * s.change;
    const double leaves = t.leaves / k95;
    // A measurement cannot leave more doubt than there was.
    const double after =
        std::sqrt(std::max(0.0, variance - told + std::min(told, leaves * leaves)));  // (supply.22)
    out.push_back({what, k95 * before, k95 * after, wrong(where.margin, before),
                   wrong_after(where.margin, before, after), t.minutes * minute,
                   what == Measurement::rail_trace});
  }
  std::stable_sort(out.begin(), out.end(), [](const Worth& a, const Worth& b) {
    constexpr double kReal = 0.05, kTakesAway = 0.5, kAlike = 0.002, kAlikeWidth = 0.005;
    const auto first = [](const Worth& w) {
      const bool good = w.wrong_after <= kTakesAway * w.wrong_before;
      return !w.needs_pull && w.wrong_before > kReal && good;
    };
    if (first(a) != first(b)) return first(a);
    if (std::abs(a.wrong_after - b.wrong_after) > kAlike) return a.wrong_after < b.wrong_after;
    if (std::abs(a.after - b.after) > kAlikeWidth) return a.after < b.after;
    return a.takes < b.takes;
  });
  return out;
}

}  // namespace fuelwright::physics::supply
