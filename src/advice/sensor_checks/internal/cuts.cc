// Fuel cuts: a free test of the mixture sensor.
//
// Some tenths of a second after the fuel stops there is only air in the pipe. The reading must come
// to full lean; how late it sets out is delay, how fast it goes is lag. What goes with 1/flow is
// the exhaust's, what does not is the sensor's:
//   T_i = T_sensor + m/flow_i,   T_i from 8 % to 32 % leaner in 1/lambda (sensor_checks.10)
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "advice/sensor_checks/internal/looking.h"
#include "advice/sensor_checks/internal/numbers.h"

namespace fuelwright::advice {
namespace {

using signals::Quantity;

constexpr double kShortestCut_s = 1.3;  // that shows where the reading ends ...
constexpr double kTimedCut_s = 0.5;     // ... and how fast it goes there
constexpr double kFullLean = 1.35;      // below this a sound one never stands in a cut
constexpr double kUsualLean = 1.50;
constexpr double kLeanSd = 0.020;  // ln, from car to car ...
constexpr double kCutSd = 0.040;   // ... and from cut to cut
constexpr double kFrom = 0.92, kTo = 0.68;
constexpr double kHealthy_s = 0.075;    // T of a sound sensor ...
constexpr double kHealthySd_s = 0.022;  // ... over cars, 1 sd
constexpr double kFaulty_s = 0.15;
constexpr double kLongDelay_s = 0.9;
constexpr double kOneCut_s = 0.035;  // from cut to cut, where too few show it
constexpr int kFewCuts = 4;
constexpr double kQuiet = 0.15;     // of the reading, before a cut
constexpr double kArrives_s = 0.4;  // the gas of a cut is still arriving when it is over

struct Cut {
  std::size_t first, last;  // rows without fuel
  double end = NAN;         // lambda in its last part
  double end_spread = 0;
  double delay_s = NAN, fall_s = NAN;
};

// Time at which 1/lambda relative to `base` crosses `level`, going down from row `from`.
double crossing(const Looking& l, const Column& c, std::size_t from, std::size_t to, double base,
                double level) {
  for (std::size_t i = from; i < to; ++i) {
    const double now = 1 / c[i] / base;
    const double before = 1 / c[i - 1] / base;
    if (!(now < level) || !(before >= level)) continue;
    const double share = (before - level) / (before - now);
    return l.r.time_s[i - 1] + share * (l.r.time_s[i] - l.r.time_s[i - 1]);
  }
  return NAN;
}

std::vector<Cut> cuts_of(const Looking& l, const Column& c) {
  std::vector<Cut> out;
  const std::size_t before = l.rows_of(0.4);
  for (const signals::Segment& s : l.r.segments) {
    for (std::size_t i = s.first + before; i < s.last; ++i) {
      if (!l.cut[i] || l.cut[i - 1]) continue;
      std::size_t end = i;
      while (end < s.last && l.cut[end]) ++end;
      const double lasts_s = l.r.time_s[end - 1] - l.r.time_s[i];
      if (lasts_s < kTimedCut_s) {
        i = end;
        continue;
      }
      Cut cut{i, end};
      Column tail, lead;
      for (std::size_t k = end - l.rows_of(0.4); k < end; ++k) tail.push_back(c[k]);
      for (std::size_t k = i - before; k < i; ++k) lead.push_back(c[k]);
      if (lasts_s >= kShortestCut_s) {
        cut.end = median(tail);
        cut.end_spread = spread(c, end - l.rows_of(0.4), end - 1);
      }
      const double base = 1 / median(lead);
      // The reading must have been quiet before: a cut out of a pull is not.
      const bool quiet =
          spread(c, i - before, i - 1) < kQuiet * median(lead) && base > 0.75 && base < 1.4;
      if (quiet) {
        const std::size_t arrived = std::min(end + l.rows_of(kArrives_s), s.last);
        const double a = crossing(l, c, i, arrived, base, kFrom);
        const double b = crossing(l, c, i, arrived, base, kTo);
        cut.delay_s = a - l.r.time_s[i];
        cut.fall_s = b - a;
      }
      out.push_back(cut);
      i = end;
    }
  }
  return out;
}

void look_at_ends(Looking& l, const Column& c, const std::vector<Cut>& cuts, int bank) {
  Column ends, spreads;
  for (const Cut& cut : cuts) {
    if (std::isnan(cut.end)) continue;
    ends.push_back(cut.end);
    spreads.push_back(cut.end_spread);
  }
  if (ends.size() < 2) return l.skip(Check::mixture_in_cut, "fewer than 2 fuel cuts of 1.3 s");
  const double reads = median(ends);
  const double top = quantile(c, 1.0);
  // A gauge whose range ends below that stands exactly there, cut after cut.
  const bool range_end = reads > top - 0.003 && median(spreads) < 1e-6 && reads > 1.12;
  const double short_ln = reads < kUsualLean ? std::log(kUsualLean / reads) : 0;
  const double sd = std::hypot(kLeanSd, kCutSd / std::sqrt(static_cast<double>(ends.size())));
  const Evidence e = weigh_level(short_ln, sd, 0.25);
  const bool wrong = !range_end && reads < kFullLean;
  const Grade grade = wrong ? grade_of(e, true) : Grade::fine;
  l.add(
      Check::mixture_in_cut, Quantity::lambda, grade, e,
      fmt::format("in {} fuel cuts the mixture reads lambda {:.2f}{}", ends.size(), reads,
                  range_end && reads < kUsualLean ? ", exactly the same each time: the end of its "
                                                    "gauge"
                                                  : ""),
      static_cast<long>(ends.size()), cuts.front().first, cuts.front().last, bank);
  if (grade == Grade::stop) {
    l.out.masks.refuse(Quantity::lambda, bank,
                       "the mixture sensor does not read full lean in a cut");
  }
}

void look_at_speed(Looking& l, const std::vector<Cut>& cuts, int bank) {
  Column fall, delay;
  for (const Cut& cut : cuts) {
    if (!std::isfinite(cut.fall_s)) continue;
    fall.push_back(cut.fall_s);
    delay.push_back(cut.delay_s);
  }
  if (fall.empty()) {
    l.skip(Check::mixture_slow, "no clean fuel cut");
    l.skip(Check::exhaust_slow, "no clean fuel cut");
    return;
  }
  // Gas between valve and sensor, by the delays: they see it whole and the lag hardly.
  const double wait = median(delay);
  const double middle = median(fall);
  const double one = fall.size() < kFewCuts ? kOneCut_s : robust_sd(fall);
  const double noise = one / std::sqrt(static_cast<double>(fall.size()));
  // What mixing in the pipe adds to the fall is a part of what plug flow adds to the delay.
  constexpr double kBase_s = 0.14;   // turns of the crank and tip, usual
  constexpr double kMixPart = 0.22;  // of the pipe's delay
  const double pipe = std::clamp(wait - kBase_s, 0.0, 1.5);
  const double sensor = middle - kMixPart * pipe;  // (sensor_checks.10)
  const double sd = std::hypot(kHealthySd_s + 0.06 * pipe, noise);
  const Evidence e = weigh_level(std::max(0.0, sensor - kHealthy_s), sd, kFaulty_s);
  l.add(Check::mixture_slow, Quantity::lambda, grade_of(e, sensor > 1.0), e,
        fmt::format(
            "in {} fuel cuts the reading sets out after {:.2f} s and takes {:.3f} s from 8 to "
            "32 % leaner, {:.3f} s of them its own (usual {:.3f} \xC2\xB1{:.3f})",
            fall.size(), wait, middle, sensor, kHealthy_s, 2 * sd),
        static_cast<long>(fall.size()), 0, 0, bank);
  const bool far = wait > kLongDelay_s;
  l.add(Check::exhaust_slow, Quantity::lambda, far ? Grade::doubt : Grade::fine, certain(wait),
        fmt::format("exhaust gas is at the sensor {:.2f} s after the fuel stops", wait),
        static_cast<long>(fall.size()), 0, 0, bank);
}

}  // namespace

void look_at_cuts(Looking& l) {
  const auto skip = [&](const char* why) {
    for (const Check c : {Check::mixture_in_cut, Check::mixture_slow, Check::exhaust_slow}) {
      l.skip(c, why);
    }
  };
  if (!l.col(Quantity::lambda)) return skip("no mixture sensor");
  if (!l.has_pulse) return skip("no pulse width: a fuel cut cannot be seen for certain");
  if (!l.fast || l.step_s > 0.11) return skip("fewer than 9 rows a second");
  for (const int bank : {1, 2}) {
    const Column* c = l.col(Quantity::lambda, bank);
    if (!c) continue;
    const std::vector<Cut> cuts = cuts_of(l, *c);
    if (cuts.empty()) {
      skip("no fuel cut of 0.5 s");
      continue;
    }
    look_at_ends(l, *c, cuts, bank);
    look_at_speed(l, cuts, bank);
  }
}

}  // namespace fuelwright::advice
