// Lost or added teeth: engine speed that leaves its course for a row.
//
//   d_i = n_i/((n_{i-1} + n_{i+1})/2) - 1                                        (sensor_checks.6)
//
// An engine with its flywheel bends its speed by a percent or so in a tenth of a second, and then
// stays there; a tooth that is lost makes one reading low and the next one right again.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "advice/sensor_checks/internal/looking.h"
#include "advice/sensor_checks/internal/numbers.h"

namespace fuelwright::advice {
namespace {

using signals::Quantity;

constexpr double kLeastLeap = 0.035;
constexpr double kLeapSds = 7;
constexpr double kSteps = 1.6;  // of the recorded resolution
constexpr double kAgree = 0.5;  // neighbours differ by less than half the leap
constexpr double kHunts = 2;
constexpr double kHealthyPerHour = 4;  // shifts and clutches
constexpr double kGraveShare = 0.003;

// How much speed moves from row to row just before and just after: a hunting idle turns round
// quickly, but it was moving.
double around(const Column& n, std::size_t i) {
  const double before = i >= 2 ? std::abs(n[i - 1] / n[i - 2] - 1) : 0;
  const double after = i + 2 < n.size() ? std::abs(n[i + 2] / n[i + 1] - 1) : 0;
  return std::max(std::isfinite(before) ? before : 0, std::isfinite(after) ? after : 0);
}

}  // namespace

void look_at_trigger(Looking& l) {
  const Column* speed = l.col(Quantity::rpm);
  if (!speed || !l.fast) {
    l.skip(Check::trigger, speed ? "rows too far apart, or polled in turn" : "no engine speed");
    return;
  }
  const Column& n = *speed;
  Column leaps;
  std::vector<std::size_t> rows;
  for (const signals::Segment& s : l.r.segments) {
    for (std::size_t i = s.first + 1; i + 1 < s.last; ++i) {
      if (!l.running[i - 1] || !l.running[i + 1] || !(n[i] > 0)) continue;
      const double d = 2 * n[i] / (n[i - 1] + n[i + 1]) - 1;  // (sensor_checks.6)
      if (std::isnan(d)) continue;
      leaps.push_back(d);
      rows.push_back(i);
    }
  }
  if (leaps.size() < 200) {
    l.skip(Check::trigger, "fewer than 200 rows with the engine running");
    return;
  }
  long values = 0;
  const double step = step_of(n, values);
  const double limit = std::max(kLeastLeap, kLeapSds * robust_sd(leaps));
  long count = 0;
  long low = 0;
  std::size_t first = 0, last = 0;
  for (std::size_t k = 0; k < leaps.size(); ++k) {
    const std::size_t i = rows[k];
    const double apart = std::abs(n[i + 1] / n[i - 1] - 1);
    const double coarse = kSteps * step / n[i];
    if (std::abs(leaps[k]) < std::max(limit, coarse)) continue;
    if (apart > kAgree * std::abs(leaps[k])) continue;
    if (std::abs(leaps[k]) < kHunts * around(n, i)) continue;
    if (count == 0) first = i;
    last = i + 1;
    ++count;
    low += leaps[k] < 0;
    l.out.masks.set(Quantity::rpm, 1, i - 1, i + 2, "engine speed jumped: a trigger error");
  }
  const double hours = static_cast<double>(leaps.size()) * l.step_s / 3600;
  const double rows_seen = static_cast<double>(leaps.size());
  const Evidence e =
      weigh_count(count, std::max(0.5, kHealthyPerHour * hours), std::max(4.0, 0.002 * rows_seen));
  const double share = static_cast<double>(count) / rows_seen;
  l.add(Check::trigger, Quantity::rpm, grade_of(e, share > kGraveShare), e,
        count == 0 ? "engine speed keeps its course"
                   : fmt::format("engine speed jumps by more than {:.1f} % for one row in {} rows "
                                 "({:.2f} %), {} of them downwards",
                                 100 * limit, count, 100 * share, low),
        count, first, last);
}

}  // namespace fuelwright::advice
