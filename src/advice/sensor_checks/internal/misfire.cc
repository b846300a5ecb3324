// Cycles that do not burn read lean: blips to the lean side only.
//
//   x_i = ln(lambda_i/b_i),   blips lean: x > limit;  rich: x < -limit
//   size = lean - rich - 3 a minute,   sd = 1.3 sqrt(lean + rich + 3 a minute)   (sensor_checks.11)
//
// b is the median over +-1.2 s; and, where so many readings are lean that they move it,
// q25 + 0.526 (q50 - q10), which is the median too where readings scatter alike to both sides.
// Both are looked at, the stronger counts. The limit stands well above the sensor's noise. A sound
// engine shows a stray blip now and then, and as many to either side from noise and driving, so the
// difference of the two counts is what says something: its variance is their sum.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "advice/sensor_checks/internal/air.h"
#include "advice/sensor_checks/internal/numbers.h"

namespace fuelwright::advice {
namespace {

using signals::Quantity;

constexpr double kAroundMisfire_s = 1.2;
constexpr double kLeastBlip = 0.03;
constexpr double kNoises = 5;
constexpr double kStrayPerMinute = 3.0;
constexpr double kFaultyPerMinute = 20;
constexpr double kClusters = 1.3;     // blips come in company: sd over that of single ones
constexpr double kIdle = 1.35;        // times idle speed
constexpr double kLowLoad_pa = 40e3;  // below, dilution makes any engine miss
constexpr double kGravePerMinute = 60;

struct Blips {
  long lean = 0, rich = 0, rows = 0;
  double sum = 0;
};

// Level of a window's readings, by its rich side: 0.526 = 0.6745/1.2816 of a normal's quantiles.
double base_of(const Column& window, bool by_rich_side) {
  const double middle = quantile(window, 0.5);
  if (!by_rich_side) return middle;
  return quantile(window, 0.25) + 0.526 * (middle - quantile(window, 0.10));
}

// Events, not rows: neighbours above the limit are one.
void count(const Looking& l, const Column& c, double limit, const std::vector<char>& settled,
           const std::vector<char>& idle, bool by_rich_side, Blips (&out)[2]) {
  const std::size_t d = std::max<std::size_t>(l.rows_of(kAroundMisfire_s), 3);
  const Column* map = l.col(Quantity::map);
  bool was_lean = false, was_rich = false;
  Column window;
  for (std::size_t i = d; i + d < l.n; ++i) {
    const int kind = idle[i] ? 0 : 1;
    const bool low = kind == 1 && map && (*map)[i] < kLowLoad_pa;
    if (!settled[i - 1] || !settled[i] || low || std::isnan(c[i])) {
      was_lean = was_rich = false;
      continue;
    }
    window.assign(c.begin() + static_cast<std::ptrdiff_t>(i - d),
                  c.begin() + static_cast<std::ptrdiff_t>(i + d + 1));
    const double x = std::log(c[i] / base_of(window, by_rich_side));
    Blips& b = out[kind];
    ++b.rows;
    b.lean += x > limit && !was_lean;
    b.rich += x < -limit && !was_rich;
    b.sum += std::max(0.0, x);
    was_lean = x > limit;
    was_rich = x < -limit;
  }
}

// Noise of the sensor: the quieter windows show it, misfire or not.
double noise_of(const Looking& l, const Column& c, const std::vector<char>& settled) {
  Column sds, d;
  const std::size_t rows = l.rows_of(2.0);
  for (std::size_t i = 1; i + 1 < l.n; ++i) {
    if (settled[i]) d.push_back(std::log(c[i] / std::sqrt(c[i - 1] * c[i + 1])) / std::sqrt(1.5));
    if (d.size() == std::max<std::size_t>(rows, 8)) {
      sds.push_back(robust_sd(d));
      d.clear();
    }
  }
  return quantile(sds, 0.15);
}

}  // namespace

void look_at_misfire(Looking& l) {
  const Column* speed = l.col(Quantity::rpm);
  const Column* lambda = l.col(Quantity::lambda);
  const auto skip = [&](const char* why) {
    l.skip(Check::misfire, why);
    l.skip(Check::overlap_idle, why);
  };
  if (!lambda || !speed) return skip("no mixture sensor");
  if (!l.fast || l.step_s > 0.11) return skip("fewer than 9 rows a second");
  const std::vector<char> settled = settled_rows(l, 0.25, 0.12);
  const double slow = kIdle * l.car.sheet.wishes.idle_speed.si();
  std::vector<char> idle(l.n, 0);
  for (std::size_t i = 0; i < l.n; ++i) idle[i] = (*speed)[i] < slow;
  for (const int bank : {1, 2}) {
    const Column* c = l.col(Quantity::lambda, bank);
    if (!c) continue;
    const double noise = noise_of(l, *c, settled);
    const double limit = std::max(kLeastBlip, kNoises * noise);
    Blips both[2][2];
    for (const bool side : {false, true}) count(l, *c, limit, settled, idle, side, both[side]);
    const auto minutes = [&](const Blips& x) {
      return static_cast<double>(x.rows) * l.step_s / 60;
    };
    const auto weigh = [&](const Blips& x) {
      const double stray = kStrayPerMinute * minutes(x);
      const double lean = static_cast<double>(x.lean), rich = static_cast<double>(x.rich);
      return weigh_level(std::max(0.0, lean - rich - stray),
                         kClusters * std::sqrt(lean + rich + stray + 1),
                         kFaultyPerMinute * minutes(x) + 5, 2);
    };
    const auto stronger = [&](int kind) {
      return both[weigh(both[1][kind]).ln_ratio > weigh(both[0][kind]).ln_ratio][kind];
    };
    const Blips b[2] = {stronger(0), stronger(1)};
    const auto rate = [&](const Blips& x) {
      return static_cast<double>(x.lean) / std::max(minutes(x), 1e-3);
    };
    if (minutes(b[1]) < 0.5) {
      l.skip(Check::misfire, "less than half a minute of steady driving");
    } else {
      const Evidence e = weigh(b[1]);
      l.add(Check::misfire, Quantity::lambda, grade_of(e, rate(b[1]) > kGravePerMinute), e,
            fmt::format(
                "{} lean blips in {:.1f} min of steady driving ({:.0f} a minute), {} rich ones",
                b[1].lean, minutes(b[1]), rate(b[1]), b[1].rich),
            b[1].lean, 0, 0, bank);
    }
    if (minutes(b[0]) < 0.3) {
      l.skip(Check::overlap_idle, "less than 20 s of steady idle");
      continue;
    }
    const Evidence e = weigh(b[0]);
    const Grade grade = grade_of(e, false);
    const double lean = b[0].sum / static_cast<double>(b[0].rows);
    l.add(Check::overlap_idle, Quantity::lambda, grade, e,
          fmt::format(
              "{} lean blips in {:.1f} min of idle ({:.0f} a minute), {} rich ones; they lift "
              "the reading by {:.1f} %",
              b[0].lean, minutes(b[0]), rate(b[0]), b[0].rich, 100 * lean),
          b[0].lean, 0, 0, bank);
    if (grade == Grade::fine) continue;
    for (std::size_t i = 0; i < l.n; ++i) {
      if (idle[i] && l.running[i]) {
        l.out.masks.set(Quantity::lambda, bank, i, i + 1, "idle reads lean by dilution or misfire");
      }
    }
  }
}

}  // namespace fuelwright::advice
