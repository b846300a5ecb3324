// Coarse steps, and the ends of sensors' ranges.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "advice/sensor_checks/internal/looking.h"
#include "advice/sensor_checks/internal/numbers.h"

namespace fuelwright::advice {
namespace {

using signals::Quantity;

/// Steps above which half a step is a percent or so of fuel at light load (40 kPa).
struct Coarse {
  Quantity what;
  double doubt;  // SI step
  double grave;
};
constexpr std::array<Coarse, 4> kCoarse{{{Quantity::map, 1.2e3, 4e3},
                                         {Quantity::rpm, 30, 150},
                                         {Quantity::lambda, 0.015, 0.06},
                                         {Quantity::throttle, 0.02, 0.1}}};

void look_at_mixture_ends(Looking& l, int bank) {
  const Column* c = l.col(Quantity::lambda, bank);
  const Column* map = l.col(Quantity::map);
  if (!c || !map) return;
  const double low = quantile(*c, 0.0);
  long rows = 0;
  long loaded = 0;
  for (std::size_t i = 0; i < l.n; ++i) {
    if (!l.running[i] || l.cut[i] || !((*map)[i] > 0.75 * l.place.pressure.from_zero.si)) continue;
    ++loaded;
    if ((*c)[i] <= low + 0.002 && low < 0.75) {
      ++rows;
      l.out.masks.set(Quantity::lambda, bank, i, i + 1,
                      "mixture sensor at the rich end of its range");
    }
  }
  if (loaded < 40) return;
  const double share = static_cast<double>(rows) / static_cast<double>(loaded);
  if (share < 0.15) return;
  l.add(
      Check::saturated, Quantity::lambda, Grade::doubt, certain(share),
      fmt::format("the mixture stands at the rich end of its range (lambda {:.2f}) in {:.0f} % of "
                  "the loaded rows",
                  low, 100 * share),
      rows, 0, 0, bank);
}

void look_at_map_end(Looking& l) {
  const Column* map = l.col(Quantity::map);
  if (!map) return;
  // Piling up: noise of a sensor in its range spreads the highest readings; its end does not.
  Column top;
  for (std::size_t i = 0; i < l.n; ++i) {
    if (l.running[i] && !std::isnan((*map)[i])) top.push_back((*map)[i]);
  }
  if (top.size() < 500) {
    l.skip(Check::saturated, "too few rows");
    return;
  }
  const double end = quantile(top, 0.9995);
  long values = 0;
  const double step = std::max(step_of(*map, values), 30.0);
  const auto within = [&](double from, double to) {
    return std::ranges::count_if(top, [&](double v) { return v > from && v <= to; });
  };
  // Above 0.55 steps under the end, against what the next two kPa hold by step.
  const long at_end = within(end - 0.55 * step, end + 0.55 * step);
  const long beyond = within(end + 0.55 * step, 1e9);
  const long below = within(end - 0.55 * step - 20 * step, end - 0.55 * step);
  const double expected = std::max(1.0, static_cast<double>(below) / 20);
  const double short_of = l.place.pressure.from_zero.si - end;
  const double pa = l.place.sd.si;
  const bool at_ambient = std::abs(short_of) < 3e3 + 2 * pa;
  const double pile = static_cast<double>(at_end) / expected;
  const bool range_end = end > 0.985 * l.car.sheet.sensors.map_high.si() && !at_ambient;
  // Twelve times as many as beside it, and nothing beyond (a coarse step beside ambient is no end).
  const bool saturated =
      (at_end > 40 && pile > 12 && beyond == 0 && !at_ambient) || (range_end && at_end > 10);
  const Evidence e = weigh_count(at_end, 3 * expected + 3, 12 * expected + 12);
  if (!saturated || !sure(e)) {
    l.add(Check::saturated, Quantity::map, Grade::fine, e,
          fmt::format("manifold pressure up to {}, not at an end", l.pressure(end)));
    return;
  }
  std::size_t first = l.n, last = 0;
  for (std::size_t i = 0; i < l.n; ++i) {
    if (!((*map)[i] >= end - 0.55 * step)) continue;
    l.out.masks.set(Quantity::map, 1, i, i + 1, "manifold pressure at the end of its range");
    first = std::min(first, i);
    last = i + 1;
  }
  l.add(
      Check::saturated, Quantity::map, Grade::stop, e,
      fmt::format(
          "manifold pressure ends at {}: {} rows stand there, some {:.0f} would; the place has {}",
          l.pressure(end), at_end, expected, l.pressure(l.place.pressure.from_zero.si)),
      at_end, first, last);
}

}  // namespace

double step_of(const Column& c, long& values) {
  Column seen(c);
  std::erase_if(seen, [](double v) { return std::isnan(v); });
  if (seen.size() < 200) return 0;
  const double low = quantile(seen, 0.02);
  const double high = quantile(seen, 0.98);
  std::erase_if(seen, [&](double v) { return v < low || v > high; });
  std::ranges::sort(seen);
  const std::size_t rows = seen.size();
  const auto same = [&](double a, double b) { return b - a <= 1e-9 * std::abs(b) + 1e-12; };
  seen.erase(std::unique(seen.begin(), seen.end(), same), seen.end());
  values = static_cast<long>(seen.size());
  if (values < 3 || rows < 6 * seen.size()) return 0;
  Column steps;
  for (std::size_t i = 1; i < seen.size(); ++i) steps.push_back(seen[i] - seen[i - 1]);
  return median(std::move(steps));
}

void look_at_resolution(Looking& l) {
  for (const Coarse& k : kCoarse) {
    const Column* c = l.col(k.what);
    if (!c) continue;
    long values = 0;
    const double step = step_of(*c, values);
    const bool bad = step > k.doubt;
    if (!bad && k.what != Quantity::map) continue;
    Grade grade = bad ? Grade::doubt : Grade::fine;
    if (step > k.grave) grade = Grade::stop;
    l.add(Check::quantised, k.what, grade, certain(step),
          step > 0 ? fmt::format("{} comes in steps of {}", info(k.what).label,
                                 k.what == Quantity::rpm
                                     ? fmt::format("{:.0f} rpm", step)
                                     : format(step,
                                              k.what == Quantity::map ? Kind::pressure_step
                                                                      : info(k.what).kind,
                                              l.car.units, 3))
                   : fmt::format("{}: finer than shows", info(k.what).label),
          bad ? static_cast<long>(l.n) : 0);
  }
}

void look_at_range_ends(Looking& l) {
  look_at_map_end(l);
  look_at_mixture_ends(l, 1);
  look_at_mixture_ends(l, 2);
}

}  // namespace fuelwright::advice
