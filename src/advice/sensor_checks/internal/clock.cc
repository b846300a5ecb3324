// Time: gaps, unsteady stamps, rows too far apart, values polled in turn.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "advice/sensor_checks/internal/looking.h"
#include "advice/sensor_checks/internal/numbers.h"

namespace fuelwright::advice {
namespace {

using signals::Quantity;

constexpr double kGapSteps = 3.5;  // longer than this many steps: rows are missing
constexpr double kLeastGap_s = 0.25;
constexpr double kSlowGap_s = 3.0;
constexpr double kAfterGap_s = 2.0;      // film, exhaust and sensor have settled again
constexpr double kMuchLost = 0.005;      // share of the time missing
constexpr double kUnsteady_s = 0.008;    // stamps off by this blur a delay of 0.2 s
constexpr double kUnsteadyShare = 0.12;  // of a step
constexpr double kVeryUnsteady = 0.5;
constexpr double kSlow_s = 0.26;

struct Gap {
  std::size_t row;
  double s;
};

// Dropped before the jitter is measured: whole steps missing.
std::vector<Gap> gaps_of(const Looking& l, Column& steps) {
  std::vector<Gap> gaps;
  // Slow loggers wait for answers: their rows are as far apart as it takes.
  const double long_s =
      std::max(kGapSteps * l.step_s, l.step_s > kSlow_s ? kSlowGap_s : kLeastGap_s);
  for (const signals::Segment& s : l.r.segments) {
    for (std::size_t i = s.first + 1; i < s.last; ++i) {
      const double dt = l.r.time_s[i] - l.r.time_s[i - 1];
      if (std::isnan(dt)) continue;
      if (dt > long_s) {
        gaps.push_back({i, dt - l.step_s});
      } else {
        steps.push_back(dt);
      }
    }
  }
  return gaps;
}

void look_at_gaps(Looking& l, const std::vector<Gap>& gaps) {
  double lost = 0;
  double longest = 0;
  for (const Gap& g : gaps) {
    lost += g.s;
    longest = std::max(longest, g.s);
    l.out.masks.set(Quantity::time, 1, g.row, g.row + l.rows_of(kAfterGap_s),
                    "just after a gap in time");
  }
  const double whole = static_cast<double>(l.n) * l.step_s;
  const bool bad = lost > kMuchLost * (whole + lost) || longest > 5 * kAfterGap_s;
  l.add(Check::clock_gaps, Quantity::time, bad ? Grade::doubt : Grade::fine, certain(lost),
        gaps.empty() ? "no row is missing"
                     : fmt::format("{} gaps, {:.1f} s missing in all, the longest {:.1f} s",
                                   gaps.size(), lost, longest),
        static_cast<long>(gaps.size()));
}

void look_at_jitter(Looking& l, const Column& steps) {
  if (steps.size() < 100) {
    l.skip(Check::clock_jitter, "fewer than 100 rows");
    return;
  }
  // Independent errors of two stamps make a step: sqrt(2) of one. The mean of the middle nine
  // tenths is robust to gaps and, unlike a median, sees stamps that alternate.
  const double middle = median(steps);
  Column off;
  for (const double s : steps) off.push_back(std::abs(s - middle));
  const double most = quantile(off, 0.9);
  std::erase_if(off, [&](double x) { return x > most; });
  // Mean of |x| inside 1.645 sd of a normal variate: 0.6594 sd.
  const double one = mean(off) / 0.6594 / std::sqrt(2.0);
  const bool whole_seconds = l.step_s >= 0.9 && one > 0.2;
  const bool bad = (one > kUnsteady_s && one > kUnsteadyShare * l.step_s) || one > 0.05;
  const bool grave = l.fast && one > kVeryUnsteady * l.step_s && one > 0.04;
  Grade grade = bad ? Grade::doubt : Grade::fine;
  if (grave) grade = Grade::stop;
  l.add(Check::clock_jitter, Quantity::time, grade, certain(one),
        l.polled && bad
            ? fmt::format("rows come unevenly, {:.0f} ms about {:.0f} ms: each is stamped as its "
                          "answer came",
                          1e3 * one, 1e3 * l.step_s)
            : fmt::format("time stamps off by {:.1f} ms (one standard deviation), rows {:.0f} ms "
                          "apart{}",
                          1e3 * one, 1e3 * l.step_s,
                          whole_seconds ? "; they seem to be whole seconds" : ""));
  if (grave) {
    l.out.masks.refuse(Quantity::time, 1, "time stamps too unsteady to place a reading");
  }
}

}  // namespace

void look_at_clock(Looking& l) {
  if (!l.timed || !l.ordered || !(l.step_s > 0)) {
    for (const Check c : {Check::clock_gaps, Check::clock_jitter, Check::rate}) {
      l.skip(c, "the recording has no time");
    }
    return;
  }
  Column steps;
  const std::vector<Gap> gaps = gaps_of(l, steps);
  look_at_gaps(l, gaps);
  look_at_jitter(l, steps);
  const bool slow = l.step_s > kSlow_s;
  l.add(Check::rate, Quantity::time, slow ? Grade::doubt : Grade::fine, certain(1 / l.step_s),
        fmt::format("{:.3g} rows a second", 1 / l.step_s));
}

void look_at_polling(Looking& l) {
  const bool turn = l.polled;
  if (l.r.simultaneity == signals::Simultaneity::unknown) {
    l.skip(Check::polled,
           l.r.simultaneity_reason.empty() ? "too little moves to tell" : l.r.simultaneity_reason);
    return;
  }
  l.add(Check::polled, Quantity::time, turn ? Grade::doubt : Grade::fine, certain(l.r.round_rows),
        turn
            ? fmt::format("channels are renewed in different rows, all of them within {:.1f} rows: "
                          "{}",
                          l.r.round_rows, l.r.simultaneity_reason)
            : "the values of a row belong together, as far as they show",
        turn ? static_cast<long>(l.n) : 0);
}

}  // namespace fuelwright::advice
