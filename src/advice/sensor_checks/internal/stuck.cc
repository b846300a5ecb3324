// One value that stands still while the engine moves.
//
// Rows are sorted by whether anything else moved around them. Among the moving rows the channel
// changes with a share q of its own; a run of k moving rows without a change has the chance
// (1 - q)^k', k' = k over the rows for which a change remembers itself   (sensor_checks.4)
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>

#include "advice/sensor_checks/internal/looking.h"
#include "advice/sensor_checks/internal/numbers.h"

namespace fuelwright::advice {
namespace {

using signals::Quantity;

constexpr double kAround_s = 0.4;
constexpr double kSpeedMoves = 0.03;  // ln
constexpr double kLoadMoves_pa = 3e3;
constexpr double kPull_pa = 25e3;
constexpr double kThrottleMoves = 0.02;
constexpr double kShortest_s = 0.6;
constexpr double kFoot_s = 5;  // a foot may rest for as long while the load changes
constexpr double kMemoryRows = 2;
constexpr double kGrave_s = 1.5;
constexpr double kLeastMoving = 30;
constexpr double kLeastChance = 1e-12;

// Values that jumped away are no witness of movement.
std::optional<Column> believed(const Looking& l, Quantity q) {
  const Column* c = l.col(q);
  if (!c) return std::nullopt;
  Column out = *c;
  for (const MaskedSpan& s : l.out.masks.spans(q)) {
    std::fill(out.begin() + static_cast<std::ptrdiff_t>(s.first),
              out.begin() + static_cast<std::ptrdiff_t>(s.last), NAN);
  }
  return out;
}

// Does anything but `q` move around a row?
std::vector<char> moving_rows(const Looking& l, Quantity q) {
  std::vector<char> moves(l.n, 0);
  const auto other = [&](Quantity one) {
    return one == q ? std::optional<Column>{} : believed(l, one);
  };
  const std::optional<Column> speed = other(Quantity::rpm);
  const std::optional<Column> map = other(Quantity::map);
  const std::optional<Column> throttle = other(Quantity::throttle);
  const Column* road = l.col(Quantity::speed);
  const std::size_t d =
      std::max(l.rows_of(kAround_s) / 2, static_cast<std::size_t>(std::ceil(l.r.round_rows)));
  for (const signals::Segment& s : l.r.segments) {
    for (std::size_t i = s.first; i < s.last; ++i) {
      if (!l.running[i]) continue;
      const std::size_t a = i >= s.first + d ? i - d : s.first;
      const std::size_t b = std::min(i + d, s.last - 1);
      if (q == Quantity::rpm) {  // in one gear at one road speed it stands still whatever the load
        moves[i] = (road && log_spread(*road, a, b) > kSpeedMoves) ||
                   (map && spread(*map, a, b) > kPull_pa);
        continue;
      }
      moves[i] = (speed && log_spread(*speed, a, b) > kSpeedMoves) ||
                 (map && q != Quantity::throttle && spread(*map, a, b) > kLoadMoves_pa) ||
                 (map && q == Quantity::throttle && spread(*map, a, b) > 3 * kLoadMoves_pa) ||
                 (throttle && spread(*throttle, a, b) > kThrottleMoves);
    }
  }
  return moves;
}

// The ends of a range hold still by right: a shut throttle, a mixture sensor in a fuel cut.
bool at_its_end(Quantity q, double v, double low, double high) {
  const double margin = 0.02 * (high - low);
  if (q == Quantity::rpm) return false;
  if (q == Quantity::map) return v > high - margin;  // saturation has a finding of its own
  return v < low + margin || v > high - margin;
}

struct Run {
  std::size_t first = 0, last = 0;
  long moving = 0;
};

void look_at(Looking& l, Quantity q) {
  const Column* c = l.col(q);
  if (!c) return;
  const std::vector<char> moves = moving_rows(l, q);
  const double low = quantile(*c, 0.001);
  const double high = quantile(*c, 0.999);
  std::vector<Run> runs;
  long moving = 0;
  long changes = 0;
  for (const signals::Segment& s : l.r.segments) {
    Run run{s.first, s.first, 0};
    for (std::size_t i = s.first + 1; i < s.last; ++i) {
      const bool same = (*c)[i] == (*c)[i - 1];
      const bool counts =
          moves[i] && !l.cut[i] && !std::isnan((*c)[i]) && !at_its_end(q, (*c)[i], low, high);
      moving += counts;
      changes += counts && !same;
      if (same) {
        run.last = i + 1;
        run.moving += counts;
        continue;
      }
      if (run.moving > 1) runs.push_back(run);
      run = {i, i + 1, 0};
    }
    if (run.moving > 1) runs.push_back(run);
  }
  if (static_cast<double>(moving) < kLeastMoving) {
    l.skip(Check::stuck, fmt::format("{}: too little moves around it", info(q).label));
    return;
  }
  const double share =
      std::clamp(static_cast<double>(changes) / static_cast<double>(moving), 0.02, 0.95);
  const double looks = static_cast<double>(std::max<long>(moving, 1));
  double stuck_rows = 0;
  Evidence worst;
  std::size_t first = 0, last = 0;
  for (const Run& run : runs) {
    const double k = static_cast<double>(run.moving) / kMemoryRows;
    Evidence e;
    e.size = static_cast<double>(run.last - run.first);
    e.ln_ratio = -k * std::log1p(-share) - std::log(looks);  // (sensor_checks.4)
    e.false_alarm = std::min(1.0, std::exp(-e.ln_ratio));
    e.chance = 1 / (1 + (1 - kPrior) / kPrior * std::max(e.false_alarm, kLeastChance));
    const double shortest = q == Quantity::throttle ? kFoot_s : kShortest_s;
    const double long_enough = l.step_s > 0 ? shortest / l.step_s : 4 * l.r.round_rows;
    if (!sure(e) || e.size < long_enough) continue;
    l.out.masks.set(q, 1, run.first, run.last,
                    fmt::format("{} stood still while the engine moved", info(q).label));
    stuck_rows += e.size;
    if (e.ln_ratio > worst.ln_ratio || worst.ln_ratio == 0) {
      worst = e;
      first = run.first;
      last = run.last;
    }
  }
  if (stuck_rows == 0) {
    l.add(Check::stuck, q, Grade::fine, worst,
          fmt::format("{} moves with the engine (changes in {:.0f} % of the moving rows)",
                      info(q).label, 100 * share));
    return;
  }
  const double s = stuck_rows * (l.step_s > 0 ? l.step_s : 1);
  const bool grave = q != Quantity::throttle && s >= kGrave_s;
  l.add(
      Check::stuck, q, grave ? Grade::stop : Grade::doubt, worst,
      fmt::format("{} stands still for {:.1f} {} in all while the engine moves, the longest {:.0f} "
                  "rows at {}",
                  info(q).label, s, l.step_s > 0 ? "s" : "rows", worst.size,
                  format((*c)[first], info(q).kind, l.car.units)),
      static_cast<long>(stuck_rows), first, last);
}

}  // namespace

void look_at_stuck(Looking& l) {
  if (!l.ordered || !l.col(Quantity::rpm)) {
    l.skip(Check::stuck, !l.ordered ? "rows in no order" : "no engine speed");
    return;
  }
  for (const Quantity q : {Quantity::rpm, Quantity::map, Quantity::throttle, Quantity::lambda}) {
    look_at(l, q);
  }
}

}  // namespace fuelwright::advice
