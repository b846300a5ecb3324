#include "signals/recording/internal/behaviour.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstddef>

#include "signals/channels/gears.h"

namespace fuelwright::signals {
namespace {

using Q = Quantity;
using Values = std::vector<double>;

constexpr std::size_t kMostRows = 20000;
constexpr std::size_t kFewestRows = 50;
constexpr double kTurning_rpm = 500;
constexpr double kSupports = 0.5;
constexpr double kTogether = 0.3;  // correlation from which two channels move together
constexpr double kLeastMotion =
    0.05;  // standard deviation over mean: below, a channel says nothing

std::size_t stride_of(const Values& v) { return v.size() / kMostRows + 1; }

Evidence moves_with(const Values& own, double sign, const Column& other, const Column& rpm,
                    const char* name) {
  if (other.values == nullptr) return {};
  const auto r = correlation(own, *other.values, rpm.values);
  if (!r) return {};
  const double along = *r * sign;
  if (along > kTogether)
    return {kSupports, fmt::format("it rises with {} (correlation {:.2f})", name, along), ""};
  if (along < -kTogether)
    return {1, "", fmt::format("it falls when {} rises (correlation {:.2f})", name, along)};
  return {};
}

Evidence map_behaviour(const Column& own, const Companions& with) {
  const double sign = own.factor < 0 ? -1 : 1;
  Evidence e = moves_with(*own.values, sign, with.load, with.rpm, "load");
  if (e.reason.empty() && e.against.empty())
    e = moves_with(*own.values, sign, with.throttle, with.rpm, "the throttle");
  return e;
}

// Every so many rows of a column, so that a long recording costs no copy of it.
Values thinned(const Values& v) {
  Values out;
  for (std::size_t i = 0; i < v.size(); i += stride_of(v)) out.push_back(v[i]);
  return out;
}

Evidence maf_behaviour(const Column& own, const Companions& with) {
  if (with.rpm.values == nullptr || with.map.values == nullptr) return {};
  const Values rpm = thinned(*with.rpm.values);
  Values product = thinned(*with.map.values);
  for (std::size_t i = 0; i < product.size(); ++i) product[i] *= rpm[i];
  const Values flow = thinned(*own.values);
  return moves_with(flow, 1, {&product, 1}, {&rpm, 1}, "engine speed times manifold pressure");
}

// A temperature has mass behind it: from row to row it moves by a small part of its own range.
Evidence temperature_behaviour(const Values& v, bool coolant) {
  double lowest = std::numeric_limits<double>::infinity();
  double highest = -lowest;
  double travel = 0;
  std::size_t n = 0;
  for (std::size_t i = 0; i < v.size(); ++i) {
    if (std::isnan(v[i])) continue;
    lowest = std::min(lowest, v[i]);
    highest = std::max(highest, v[i]);
    if (i == 0 || std::isnan(v[i - 1])) continue;
    travel += std::abs(v[i] - v[i - 1]);
    ++n;
  }
  if (n < kFewestRows || !(highest > lowest)) return {};
  constexpr double kSlow = 0.02;
  constexpr double kJumpy = 0.15;
  const double per_row = travel / static_cast<double>(n) / (highest - lowest);
  // Of all its travel, the rise from the first to the last is nearly the whole: it warms up.
  constexpr double kOnlyRises = 0.8;
  const auto first = std::ranges::find_if(v, [](double x) { return !std::isnan(x); });
  const auto last =
      std::ranges::find_if(v.rbegin(), v.rend(), [](double x) { return !std::isnan(x); });
  const bool warms = *last - *first > kOnlyRises * (highest - lowest);
  if (per_row < kSlow && warms && coolant)
    return {kSupports, "it moves slowly and only rises, as an engine that warms up", ""};
  if (per_row < kSlow) return {kSupports, "it moves slowly", ""};
  if (per_row > kJumpy)
    return {1, "", fmt::format("it jumps by {:.0f} % of its range from row to row", 100 * per_row)};
  return {};
}

Evidence run_time_behaviour(const Values& v) {
  std::size_t falls = 0;
  std::size_t rises = 0;
  bool whole = true;
  for (std::size_t i = 1; i < v.size(); ++i) {
    falls += v[i] < v[i - 1] ? 1 : 0;
    rises += v[i] > v[i - 1] ? 1 : 0;
    whole = whole && (std::isnan(v[i]) || v[i] == std::nearbyint(v[i]));
  }
  if (rises < 5) return {};
  if (falls * 20 > rises) return {1, "", "it falls again and again, which time does not"};
  return {kSupports, whole ? "it never falls and counts whole units" : "it rises all the time", ""};
}

Evidence rpm_behaviour(const Column& own, const Companions& with) {
  if (with.speed.values == nullptr) return {};
  Values speed = thinned(*with.speed.values);
  for (double& v : speed) v *= with.speed.factor;
  const Gears gears = find_gears(thinned(*own.values), speed);
  if (gears.gears.empty()) return {};
  return {kSupports,
          fmt::format("it keeps {} fixed ratios to road speed, as gears do", gears.gears.size()),
          ""};
}

}  // namespace

std::optional<double> correlation(const Values& a, const Values& b, const Values* rpm) {
  if (a.size() != b.size()) return std::nullopt;
  double n = 0, ma = 0, mb = 0, saa = 0, sbb = 0,
         sab = 0;  // running means and sums of products about them
  for (std::size_t i = 0; i < a.size(); i += stride_of(a)) {
    if (std::isnan(a[i]) || std::isnan(b[i])) continue;
    if (rpm != nullptr && !((*rpm)[i] > kTurning_rpm)) continue;
    n += 1;
    const double da = a[i] - ma;
    const double db = b[i] - mb;
    ma += da / n;
    mb += db / n;
    saa += da * (a[i] - ma);
    sbb += db * (b[i] - mb);
    sab += da * (b[i] - mb);
  }
  if (n < static_cast<double>(kFewestRows)) return std::nullopt;
  const auto still = [&](double s, double m) {
    return !(std::sqrt(s / n) > kLeastMotion * std::abs(m));
  };
  if (still(saa, ma) || still(sbb, mb)) return std::nullopt;
  return sab / std::sqrt(saa * sbb);
}

Evidence behaviour_of(Quantity what, const Column& own, const Companions& with) {
  switch (what) {
    case Q::map:
      return map_behaviour(own, with);
    case Q::maf:
      return maf_behaviour(own, with);
    case Q::coolant:
    case Q::intake_air:
      return temperature_behaviour(*own.values, what == Q::coolant);
    case Q::time:
    case Q::run_time:
      return run_time_behaviour(*own.values);
    case Q::rpm:
      return rpm_behaviour(own, with);
    default:
      return {};
  }
}

}  // namespace fuelwright::signals
