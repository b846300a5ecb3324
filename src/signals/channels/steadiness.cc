#include "signals/channels/steadiness.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <vector>

#include "base/contract.h"

namespace fuelwright::signals {
namespace {

constexpr std::size_t kLongestGap = 256;    // longer holds say nothing about renewal
constexpr double kLongestPeriod = 20;       // rows
constexpr std::size_t kFewestChanges = 30;  // below this a period is chance
constexpr double kShortShare = 0.3;         // of the gaps must be one period long
constexpr double kSingleStepShare = 0.6;    // more single steps than this: slow, not held
constexpr double kNearPeriod = 1.5;
constexpr double kDiffers = 1.5;
constexpr double kFilled = 0.8;   // fewer cells than this: blank between renewals, not held
constexpr double kMoving = 0.02;  // share of rows with a change: below, a channel is no witness

struct Gaps {
  std::vector<std::size_t> count = std::vector<std::size_t>(kLongestGap + 1, 0);
  std::size_t gaps = 0;
  std::size_t changes = 0;
  std::size_t pairs = 0;
  double smallest_step = std::numeric_limits<double>::infinity();
};

template <class F>
void each_change(std::span<const double> values, std::span<const Segment> segments, F f) {
  for (const Segment& s : segments) {
    for (std::size_t i = s.first + 1; i < s.last; ++i) {
      if (std::isnan(values[i]) || std::isnan(values[i - 1])) continue;
      f(s, i, std::abs(values[i] - values[i - 1]));
    }
  }
}

Gaps count_gaps(std::span<const double> values, std::span<const Segment> segments) {
  Gaps g;
  const Segment* in = nullptr;
  std::size_t last = 0;
  each_change(values, segments, [&](const Segment& s, std::size_t i, double step) {
    ++g.pairs;
    if (&s != in) last = 0;
    in = &s;
    if (step == 0) return;
    ++g.changes;
    g.smallest_step = std::min(g.smallest_step, step);
    if (last != 0) {
      ++g.count[std::min(i - last, kLongestGap)];
      ++g.gaps;
    }
    last = i;
  });
  return g;
}

double single_step_share(std::span<const double> values, std::span<const Segment> segments,
                         const Gaps& g) {
  std::size_t single = 0;
  each_change(values, segments, [&](const Segment&, std::size_t, double step) {
    if (step > 0 && step < 1.5 * g.smallest_step) ++single;
  });
  return static_cast<double>(single) / static_cast<double>(g.changes);
}

// Rows in which any channel changes, over the rows in which it could.
double any_change_share(const Recording& r, std::span<const Segment> segments) {
  std::size_t any = 0;
  std::size_t pairs = 0;
  for (const Segment& s : segments) {
    for (std::size_t i = s.first + 1; i < s.last; ++i) {
      ++pairs;
      any += std::ranges::any_of(r.channels, [&](const Channel& c) {
        return c.refresh.change_share > kMoving && c.what != Quantity::time &&
               c.what != Quantity::row_number && c.si[i] != c.si[i - 1] && !std::isnan(c.si[i]) &&
               !std::isnan(c.si[i - 1]);
      });
    }
  }
  return pairs == 0 ? 0 : static_cast<double>(any) / static_cast<double>(pairs);
}

// The segments, or for long recordings stretches of them at even distances: how a logger polls does
// not change under way.
std::vector<Segment> looked_at(const Recording& r) {
  constexpr std::size_t kStretch = 8192;
  constexpr std::size_t kStretches = 16;
  if (r.rows <= kStretch * kStretches) return r.segments;
  std::vector<Segment> out;
  for (const Segment& s : r.segments) {
    for (std::size_t k = 0; k < kStretches; ++k) {
      const std::size_t from = r.rows / kStretches * k;
      Segment part{std::max(s.first, from), std::min(s.last, from + kStretch), s.label};
      if (part.first < part.last) out.push_back(std::move(part));
    }
  }
  return out;
}

std::string age_text(const Recording& r, double rows) {
  if (!r.row_step) return fmt::format("{:.1f} rows", rows);
  return fmt::format("{:.1f} rows (about {:.1f} s)", rows, rows * r.row_step->si);
}

}  // namespace

Refresh find_refresh(std::span<const double> values, std::span<const Segment> segments) {
  Refresh out;
  const auto filled =
      static_cast<double>(std::ranges::count_if(values, [](double v) { return !std::isnan(v); }));
  const Gaps g = count_gaps(values, segments);
  if (filled > 0 && filled < kFilled * static_cast<double>(values.size())) {
    out.rows = static_cast<double>(values.size()) / filled;
    out.change_share = filled / static_cast<double>(values.size());
    return out;
  }
  if (g.pairs == 0) return out;
  out.change_share = static_cast<double>(g.changes) / static_cast<double>(g.pairs);
  if (g.gaps < kFewestChanges) return out;
  std::size_t tenth = 1;  // the 10th percentile of the gaps
  for (std::size_t seen = g.count[1]; seen * 10 < g.gaps; seen += g.count[tenth]) ++tenth;
  const double limit = kNearPeriod * static_cast<double>(tenth);
  double rows = 0;
  double n = 0;
  for (std::size_t k = 1; k <= kLongestGap && static_cast<double>(k) <= limit; ++k) {
    rows += static_cast<double>(k * g.count[k]);
    n += static_cast<double>(g.count[k]);
  }
  if (static_cast<double>(tenth) > kLongestPeriod) return out;
  if (n < kShortShare * static_cast<double>(g.gaps)) return out;
  if (tenth > 1 && single_step_share(values, segments, g) > kSingleStepShare) return out;
  out.rows = rows / n;  // (recordings.3)
  return out;
}

void judge_simultaneity(Recording& r) {
  const std::vector<Segment> segments = looked_at(r);
  const Channel* fastest = nullptr;
  const Channel* slowest = nullptr;
  double busiest = 0;
  std::size_t witnesses = 0;
  for (Channel& c : r.channels) {
    c.refresh = find_refresh(c.si, segments);
    if (c.what == Quantity::time || c.what == Quantity::row_number) continue;
    busiest = std::max(busiest, c.refresh.change_share);
    if (!c.refresh.rows || c.refresh.change_share < kMoving) continue;
    ++witnesses;
    if (fastest == nullptr || *c.refresh.rows < *fastest->refresh.rows) fastest = &c;
    if (slowest == nullptr || *c.refresh.rows > *slowest->refresh.rows) slowest = &c;
  }
  if (witnesses < 2) {
    if (slowest != nullptr) r.round_rows = *slowest->refresh.rows;
    r.simultaneity_reason = "too few channels move to tell whether they are renewed together";
    return;
  }
  r.round_rows = *slowest->refresh.rows;
  const double any = any_change_share(r, segments);
  if (*slowest->refresh.rows > kDiffers * *fastest->refresh.rows) {
    r.simultaneity = Simultaneity::polled_in_turn;
    r.simultaneity_reason =
        fmt::format("{} is renewed every {:.1f} rows, {} every {:.1f}: a value may be {} old",
                    slowest->header, *slowest->refresh.rows, fastest->header,
                    *fastest->refresh.rows, age_text(r, *slowest->refresh.rows - 1));
  } else if (any > kDiffers * busiest) {
    r.simultaneity = Simultaneity::polled_in_turn;
    r.simultaneity_reason = fmt::format(
        "something changes in {:.0f} % of the rows, no channel in more than {:.0f} %: channels "
        "take turns, one round is {}, and a value may be that old",
        100 * any, 100 * busiest, age_text(r, *slowest->refresh.rows));
  } else {
    r.simultaneity = Simultaneity::simultaneous;
    r.simultaneity_reason = "all moving channels change in the same rows";
  }
}

double change_around(const Recording& recording, const Channel& channel, std::size_t row) {
  constexpr double kUnknown = std::numeric_limits<double>::quiet_NaN();
  EXPECTS(row < channel.si.size());
  if (recording.pace == Pace::unordered || std::isnan(channel.si[row])) return kUnknown;
  const Segment& s = recording.segment_of(row);
  const auto d =
      static_cast<std::size_t>(std::ceil(channel.refresh.rows.value_or(recording.round_rows)));
  double low = channel.si[row];
  double high = low;
  bool seen = false;
  const auto take = [&](double v) {
    if (std::isnan(v)) return;
    low = std::min(low, v);
    high = std::max(high, v);
    seen = true;
  };
  std::size_t before = d;  // past cells left blank between renewals
  while (before < 3 * d && row >= s.first + before && std::isnan(channel.si[row - before]))
    ++before;
  if (row >= s.first + before) take(channel.si[row - before]);
  std::size_t after = d;
  while (after < 3 * d && row + after < s.last && std::isnan(channel.si[row + after])) ++after;
  if (row + after < s.last) take(channel.si[row + after]);
  return seen ? high - low : kUnknown;  // (recordings.4)
}

}  // namespace fuelwright::signals
