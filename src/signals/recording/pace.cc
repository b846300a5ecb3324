#include "signals/recording/internal/pace.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace fuelwright::signals {
namespace {

constexpr double kJump = 10;                // times the usual spacing of distinct times
constexpr double kShortestJump_s = 5;       // below this a late row is no break
constexpr std::size_t kFewestRowsEach = 4;  // a mean below this is no segmentation

const Channel* time_channel(const Recording& r) {
  const Channel* run_time = nullptr;
  for (const Channel& c : r.channels) {
    if (c.confidence < kSure || c.constant) continue;
    if (c.what == Quantity::time) return &c;
    if (c.what == Quantity::run_time && run_time == nullptr) run_time = &c;
  }
  return run_time;
}

// Median of the steps by which time rises.
double usual_step(const std::vector<double>& t) {
  constexpr std::size_t kMost = 20000;
  std::vector<double> steps;
  for (std::size_t i = 1; i < t.size() && steps.size() < kMost; ++i) {
    if (t[i] > t[i - 1]) steps.push_back(t[i] - t[i - 1]);
  }
  if (steps.empty()) return 0;
  const auto mid = steps.begin() + static_cast<std::ptrdiff_t>(steps.size() / 2);
  std::ranges::nth_element(steps, mid);
  return *mid;
}

// Rows before which time falls or leaps.
std::vector<std::size_t> time_breaks(const std::vector<double>& t) {
  const double leap = std::max(kJump * usual_step(t), kShortestJump_s);
  std::vector<std::size_t> out;
  double last = std::numeric_limits<double>::quiet_NaN();
  for (std::size_t i = 0; i < t.size(); ++i) {
    if (std::isnan(t[i])) continue;
    if (t[i] < last || t[i] > last + leap) out.push_back(i);
    last = t[i];
  }
  return out;
}

std::vector<std::size_t> value_breaks(const std::vector<double>& v) {
  std::vector<std::size_t> out;
  double last = std::numeric_limits<double>::quiet_NaN();
  for (std::size_t i = 0; i < v.size(); ++i) {
    if (std::isnan(v[i])) continue;
    if (!std::isnan(last) && v[i] != last) out.push_back(i);
    last = v[i];
  }
  return out;
}

// Adds breaks unless there are so many that they cut the recording to pieces.
void add_breaks(Recording& r, std::vector<std::size_t>& all, const std::vector<std::size_t>& more,
                const std::string& why, bool tell) {
  if (more.empty()) return;
  if (more.size() * kFewestRowsEach > r.rows) {
    r.warnings.push_back(fmt::format(
        "{} {} times in {} rows: too often to be breaks, so they were not taken for that", why,
        more.size(), r.rows));
    return;
  }
  if (tell)
    r.warnings.push_back(fmt::format("{} {} times: segments start there", why, more.size()));
  all.insert(all.end(), more.begin(), more.end());
}

void set_segments(Recording& r, std::vector<std::size_t> breaks, const Channel* number) {
  breaks.push_back(0);
  breaks.push_back(r.rows);
  std::ranges::sort(breaks);
  const auto twice = std::ranges::unique(breaks);
  breaks.erase(twice.begin(), twice.end());
  for (std::size_t i = 0; i + 1 < breaks.size(); ++i) {
    Segment s{breaks[i], breaks[i + 1], fmt::format("{}", i + 1)};
    if (number != nullptr && !std::isnan(number->si[s.first]))
      s.label = fmt::format("{:g}", number->si[s.first]);
    r.segments.push_back(std::move(s));
  }
}

// Mean spacing of rows inside segments: the time from first to last over the rows between.
void set_row_step(Recording& r) {
  double span = 0;
  std::size_t rows = 0;
  for (const Segment& s : r.segments) {
    std::size_t a = s.first;
    std::size_t b = s.last - 1;
    while (a < b && std::isnan(r.time_s[a])) ++a;
    while (b > a && std::isnan(r.time_s[b])) --b;
    span += b > a ? r.time_s[b] - r.time_s[a] : 0;
    rows += b - a;
  }
  if (rows > 0 && span > 0) r.row_step = (span / static_cast<double>(rows)) * second;
}

void set_stated(Recording& r, Duration step) {
  r.pace = Pace::stated_rate;
  r.row_step = step;
  r.time_s.resize(r.rows);
  for (std::size_t i = 0; i < r.rows; ++i) r.time_s[i] = static_cast<double>(i) * step.si;
  r.pace_reason = fmt::format("rows {:.6g} s apart, as you stated", step.si);
}

void set_timed(Recording& r, const Channel& time) {
  r.pace = Pace::timed;
  r.time_s = time.si;
  const auto first = std::ranges::find_if(r.time_s, [](double t) { return !std::isnan(t); });
  const double start = first == r.time_s.end() ? 0 : *first;
  for (double& t : r.time_s) t -= start;
  set_row_step(r);
  r.pace_reason = fmt::format("time from \"{}\"", time.header);
  if (r.row_step) {
    const double distinct = usual_step(r.time_s);
    r.pace_reason += fmt::format(": rows {:.3g} s apart", r.row_step->si);
    if (distinct > 1.5 * r.row_step->si) {
      r.pace_reason +=
          fmt::format(" on average; the clock itself is renewed every {:.3g} s", distinct);
    }
  }
}

}  // namespace

Status set_pace(Recording& r, const std::vector<std::size_t>& file_breaks, const Answers& answers) {
  if (answers.unordered && answers.row_step) {
    return Error{ErrorCode::usage, r.name,
                 "rows cannot be unordered and evenly spaced at once; give one of the two"};
  }
  const Channel* time = time_channel(r);
  const Channel* number = r.find(Quantity::segment);
  std::vector<std::size_t> breaks;
  for (const std::size_t b : file_breaks) {
    if (b < r.rows) breaks.push_back(b);
  }
  if (number != nullptr)
    add_breaks(r, breaks, value_breaks(number->si), fmt::format("\"{}\" changes", number->header),
               false);
  if (time != nullptr && !answers.unordered) {
    add_breaks(r, breaks, time_breaks(time->si), fmt::format("\"{}\" falls or leaps", time->header),
               true);
  }
  set_segments(r, std::move(breaks), number);
  if (answers.unordered) {
    r.pace = Pace::unordered;
    r.pace_reason = "neighbouring rows need not follow each other, as you stated";
  } else if (answers.row_step) {
    set_stated(r, *answers.row_step);
    if (time != nullptr)
      r.warnings.push_back(
          fmt::format("the stated spacing was used, not the time in \"{}\"", time->header));
  } else if (time != nullptr) {
    set_timed(r, *time);
  } else {
    r.pace = Pace::untimed;
    r.pace_reason = "no column of time: rows are in the order of the file, seconds are not known";
    r.warnings.emplace_back(
        "no column of time: nothing that needs seconds is computed; if the rows are evenly spaced, "
        "give --rate, such as --rate \"5 Hz\"");
  }
  return Done{};
}

}  // namespace fuelwright::signals
