#include "signals/channels/gears.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>

#include "base/contract.h"

namespace fuelwright::signals {
namespace {

constexpr double kSlowestKmh = 10;
constexpr double kSlowestRpm = 600;
constexpr double kLowest = 10;  // rpm per km/h: below the tallest gear of any car
constexpr std::size_t kBins = 320;
constexpr double kPerBin = 0.01;   // of ln ratio: the last bin is at 10 e^3.2 = 245 rpm per km/h
constexpr double kSmooth = 0.022;  // of ln ratio: well below the distance of two gears
constexpr double kProminence = 1.5;
constexpr double kFewestShare = 0.01;
constexpr std::size_t kFewestRows = 60;  // polled values stand in several rows each
constexpr double kNearest = 0.16;        // of ln ratio, between neighbouring gears of a road car
constexpr double kReach = 0.09;          // a gear's rows lie this near its peak, at most

using Histogram = std::array<double, kBins>;

double centre(std::size_t bin) {
  return kLowest * std::exp(kPerBin * (static_cast<double>(bin) + 0.5));
}

Histogram smooth(const Histogram& counts) {
  constexpr int kReachBins = static_cast<int>(3 * kSmooth / kPerBin);
  Histogram out{};
  double norm = 0;
  constexpr auto kBinsHere = static_cast<std::ptrdiff_t>(kBins);
  for (std::ptrdiff_t d = -kReachBins; d <= kReachBins; ++d) {
    const double z = static_cast<double>(d) * kPerBin / kSmooth;
    const double w = std::exp(-0.5 * z * z);
    norm += w;
    const std::ptrdiff_t last = kBinsHere - std::max<std::ptrdiff_t>(0, d);
    for (std::ptrdiff_t b = std::max<std::ptrdiff_t>(0, -d); b < last; ++b) {
      out[static_cast<std::size_t>(b)] += w * counts[static_cast<std::size_t>(b + d)];
    }
  }
  for (double& v : out) v /= norm;
  return out;
}

// Bins of the peaks that stand kProminence above the valley on each side.
std::vector<std::size_t> find_peaks(const Histogram& h) {
  std::vector<std::size_t> peaks;
  double valley = 0;
  std::size_t top = 0;
  bool rising = true;
  for (std::size_t b = 0; b < kBins; ++b) {
    if (rising) {
      if (h[b] > h[top]) top = b;
      if (h[top] > 0 && h[b] * kProminence < h[top] && h[top] > valley * kProminence) {
        peaks.push_back(top);
        rising = false;
        valley = h[b];
      }
    } else {
      valley = std::min(valley, h[b]);
      if (h[b] > valley * kProminence && h[b] > 0) {
        rising = true;
        top = b;
      }
    }
  }
  // Real gears are further apart: of two nearer peaks the lower one is the ragged edge of the
  // other.
  for (std::size_t i = 0; i + 1 < peaks.size();) {
    if (static_cast<double>(peaks[i + 1] - peaks[i]) * kPerBin >= kNearest) {
      ++i;
    } else {
      const bool first_higher = h[peaks[i]] >= h[peaks[i + 1]];
      peaks.erase(peaks.begin() + static_cast<std::ptrdiff_t>(first_higher ? i + 1 : i));
    }
  }
  return peaks;
}

double quantile(std::vector<double>& v, double q) {
  const double last = static_cast<double>(v.size()) - 1;
  const auto at = static_cast<std::size_t>(std::llround(q * last));
  std::nth_element(v.begin(), v.begin() + static_cast<std::ptrdiff_t>(at), v.end());
  return v[at];
}

// Below this a car rolls with the clutch open: its own idle, with a margin.
double least_speed(std::span<const double> n_rpm, std::span<const double> v) {
  constexpr double kStill = 0.3;  // m/s
  constexpr double kTurns = 400;
  constexpr double kAboveIdle = 1.2;
  std::vector<double> idle;
  for (std::size_t i = 0; i < n_rpm.size(); ++i) {
    if (v[i] < kStill && n_rpm[i] > kTurns) idle.push_back(n_rpm[i]);
  }
  return idle.size() < kFewestRows ? kSlowestRpm
                                   : std::max(kSlowestRpm, kAboveIdle * quantile(idle, 0.5));
}

}  // namespace

Gears find_gears(std::span<const double> engine_speed_rpm, std::span<const double> road_speed_si) {
  EXPECTS(engine_speed_rpm.size() == road_speed_si.size());
  Gears out;
  std::vector<double> ratios;
  Histogram counts{};
  const double least = least_speed(engine_speed_rpm, road_speed_si);
  for (std::size_t i = 0; i < engine_speed_rpm.size(); ++i) {
    const double kmh = road_speed_si[i] * 3.6;
    if (!(kmh >= kSlowestKmh) || !(engine_speed_rpm[i] >= least)) continue;
    const double ratio = engine_speed_rpm[i] / kmh;  // (recordings.1)
    const double bin = std::log(ratio / kLowest) / kPerBin;
    if (bin < 0 || bin >= static_cast<double>(kBins)) continue;
    counts[static_cast<std::size_t>(bin)] += 1;
    ratios.push_back(ratio);
  }
  out.moving_rows = ratios.size();
  if (ratios.size() < kFewestRows) {
    out.reason = ratios.empty() ? "the car stands still, so there are no gears"
                                : "the car hardly moves: too few rows to tell gears";
    return out;
  }
  std::ranges::sort(ratios);
  const Histogram h = smooth(counts);
  for (const std::size_t peak : find_peaks(h)) {
    const auto from = std::ranges::lower_bound(ratios, centre(peak) * std::exp(-kReach));
    const auto to = std::ranges::upper_bound(ratios, centre(peak) * std::exp(kReach));
    std::vector<double> own(from, to);
    const double share = static_cast<double>(own.size()) / static_cast<double>(ratios.size());
    if (own.size() < kFewestRows || share < kFewestShare) continue;
    const double median = quantile(own, 0.5);
    out.gears.push_back(
        {median, (quantile(own, 0.84) - quantile(own, 0.16)) / (2 * median), share, own.size()});
  }
  std::size_t gathered = 0;
  for (const Gear& g : out.gears) gathered += g.rows;
  out.reason = fmt::format("{} of {} moving rows gather around {} ratios",
                           std::min(gathered, ratios.size()), ratios.size(), out.gears.size());
  if (out.gears.empty()) out.reason = "engine and road speed keep no fixed ratio";
  return out;
}

}  // namespace fuelwright::signals
