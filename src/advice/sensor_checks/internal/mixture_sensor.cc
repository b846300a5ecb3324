// Is there a live, warm mixture sensor at all?
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "advice/sensor_checks/internal/looking.h"
#include "advice/sensor_checks/internal/numbers.h"

namespace fuelwright::advice {
namespace {

using signals::Quantity;

constexpr double kLookAt_s = 1.5;
constexpr double kDeadSpread =
    0.004;  // lambda, over a window: a live sensor in a running engine moves
constexpr double kRichEnd = 0.70;
constexpr double kLeanEnd = 1.35;
constexpr double kShortestCold_s = 3.0;
constexpr double kMostOfAll = 0.6;

bool live(const Column& c, std::size_t a, std::size_t b) {
  if (spread(c, a, b) < kDeadSpread) return false;
  double low = INFINITY, high = -INFINITY;
  for (std::size_t i = a; i <= b; ++i) {
    if (std::isnan(c[i])) continue;
    low = std::min(low, c[i]);
    high = std::max(high, c[i]);
  }
  return high > kRichEnd && low < kLeanEnd;
}

void look_at(Looking& l, int bank) {
  const Column* c = l.col(Quantity::lambda, bank);
  if (!c) return;
  const std::size_t d = std::max<std::size_t>(l.rows_of(kLookAt_s), 4);
  // From the start of running: how long until it first lives?
  std::size_t begin = 0;
  while (begin < l.n && !l.running[begin]) ++begin;
  std::size_t at = begin;
  while (at + d < l.n && !live(*c, at, at + d)) at += std::max<std::size_t>(d / 3, 1);
  const double cold_s = l.timed && at < l.n ? l.r.time_s[at] - l.r.time_s[begin] : 0;
  long rows = 0;
  long dead = 0;
  for (std::size_t i = begin; i + d < l.n; i += d) {
    bool usual = true;
    for (std::size_t k = i; k < i + d; ++k) usual = usual && l.running[k] && l.since_cut_s[k] > 3;
    if (!usual) continue;
    ++rows;
    dead += !live(*c, i, i + d);
  }
  if (rows < 8) {
    l.skip(Check::mixture_dead, "too little running");
    return;
  }
  const double share = static_cast<double>(dead) / static_cast<double>(rows);
  const Evidence e =
      weigh_count(dead, 0.5 + 0.02 * static_cast<double>(rows), 0.8 * static_cast<double>(rows));
  const bool gone = share > kMostOfAll && sure(e);
  if (gone) l.out.masks.refuse(Quantity::lambda, bank, "mixture sensor dead");
  l.add(Check::mixture_dead, Quantity::lambda, gone ? Grade::stop : Grade::fine, e,
        gone ? fmt::format("the mixture does not move in {:.0f} % of the running time", 100 * share)
             : "the mixture sensor lives",
        gone ? dead * static_cast<long>(d) : 0, 0, 0, bank);
  if (gone) return;
  // Evidence in windows: a live one is quiet for a window in some two of a hundred.
  const Evidence w = weigh_count(static_cast<long>(cold_s / kLookAt_s), 0.05, 8);
  const bool cold = cold_s > kShortestCold_s;
  l.add(Check::mixture_cold, Quantity::lambda, cold ? grade_of(w, false) : Grade::fine, w,
        cold
            ? fmt::format("the mixture sensor wakes {:.0f} s after the start; before, it stands at "
                          "lambda {:.2f}",
                          cold_s, (*c)[begin])
            : "the mixture sensor is warm from the start",
        cold ? static_cast<long>(at - begin) : 0, begin, at, bank);
  if (cold) {
    l.out.masks.set(Quantity::lambda, bank, begin, at + l.rows_of(2), "mixture sensor not warm");
  }
}

}  // namespace

void look_at_mixture_sensor(Looking& l) {
  if (!l.col(Quantity::lambda)) {
    for (const Check c : {Check::mixture_dead, Check::mixture_cold}) l.skip(c, "no mixture sensor");
    return;
  }
  if (!l.timed || !l.fast) {
    for (const Check c : {Check::mixture_dead, Check::mixture_cold}) {
      l.skip(c, "rows too far apart, or no time");
    }
    return;
  }
  look_at(l, 1);
  look_at(l, 2);
}

}  // namespace fuelwright::advice
