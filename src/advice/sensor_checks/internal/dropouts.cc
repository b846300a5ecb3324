// Blank cells, and readings that jump away for a row and back.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "advice/sensor_checks/internal/looking.h"
#include "advice/sensor_checks/internal/numbers.h"

namespace fuelwright::advice {
namespace {

using signals::Quantity;

// Those without which the fuel table learns nothing.
bool vital(Quantity q) { return q == Quantity::rpm || q == Quantity::map || q == Quantity::lambda; }

constexpr double kMuchBlank = 0.002;   // share of blank cells worth a word
constexpr double kFarTooBlank = 0.25;  // more blanks than that are a way of writing (polling)
constexpr double kGraveSpikes = 0.002;

/// How far a value may be from both its neighbours in one row of at most 0.26 s, when those agree
/// (common practice, no source): the engine, its heat and its wiring cannot.
struct Leap {
  Quantity what;
  double off;    // SI
  double agree;  // the neighbours within
};
constexpr std::array<Leap, 7> kLeaps{{
    {Quantity::map, 14e3, 6e3},
    {Quantity::coolant, 6, 2},
    {Quantity::intake_air, 6, 2},
    {Quantity::throttle, 0.25, 0.08},
    {Quantity::battery, 1.2, 0.4},
    {Quantity::fuel_pressure, 60e3, 20e3},
    {Quantity::lambda, 0.30, 0.05},
}};

struct SpikeCount {
  long rows = 0;
  std::size_t first = 0, last = 0;
};

constexpr double kBurns_pa = 38e3;  // below, on the overrun, cycles may fail to burn: real air
constexpr double kCutOver_s = 3.0;

// Rows in which a mixture may truly be far off for a moment.
bool may_leap(const Looking& l, Quantity q, std::size_t i) {
  if (q != Quantity::lambda) return false;
  const Column* map = l.col(Quantity::map);
  return !l.running[i] || l.since_cut_s[i] < kCutOver_s || (map && !((*map)[i] > kBurns_pa));
}

// A spike is one to three rows long; `then` is the row after it.
SpikeCount find_spikes(Looking& l, const Column& c, const Leap& leap) {
  SpikeCount out;
  const std::string why = fmt::format("{} jumped away and back", info(leap.what).label);
  for (const signals::Segment& s : l.r.segments) {
    for (std::size_t i = s.first + 1; i + 1 < s.last; ++i) {
      const double before = c[i - 1];
      if (std::isnan(before) || !(std::abs(c[i] - before) > leap.off)) continue;
      if (may_leap(l, leap.what, i)) continue;
      std::size_t then = 0;
      for (std::size_t k = i + 1; k <= i + 3 && k < s.last; ++k) {
        if (std::abs(c[k] - before) < leap.agree) {
          then = k;
          break;
        }
        if (!(std::abs(c[k] - before) > leap.off)) break;
      }
      if (then == 0) continue;
      if (out.rows == 0) out.first = i;
      out.rows += static_cast<long>(then - i);
      out.last = then;
      l.out.masks.set(leap.what, 1, i - 1, then + 1, why);
      i = then;
    }
  }
  return out;
}

}  // namespace

void look_at_dropouts(Looking& l) {
  long all = 0;
  long most = 0;
  const signals::Channel* worst = nullptr;
  for (const signals::Channel& c : l.r.channels) {
    if (c.what == Quantity::other || c.what == Quantity::time || !c.converted || c.constant)
      continue;
    const long blank = std::ranges::count_if(c.si, [](double v) { return std::isnan(v); });
    if (static_cast<double>(blank) > kFarTooBlank * static_cast<double>(l.n)) continue;
    all += blank;
    if (vital(c.what) ? 2 * blank > most : blank > most) {
      most = blank;
      worst = &c;
    }
  }
  const double share = l.n ? static_cast<double>(most) / static_cast<double>(l.n) : 0;
  const bool bad = share > kMuchBlank && most > 3;
  l.add(Check::dropouts, worst ? worst->what : Quantity::other, bad ? Grade::doubt : Grade::fine,
        certain(share),
        worst ? fmt::format("{} blank cells, most of them in {} ({:.2f} % of its rows)", all,
                            info(worst->what).label, 100 * share)
              : "no blank cells",
        most);
}

void look_at_spikes(Looking& l) {
  if (!l.fast) {
    l.skip(Check::spikes, "rows too far apart, or polled in turn, to tell a spike from driving");
    return;
  }
  bool any = false;
  for (const Leap& leap : kLeaps) {
    const Column* c = l.col(leap.what);
    if (!c) continue;
    const SpikeCount found = find_spikes(l, *c, leap);
    // A sound channel shows none; one an hour is allowed for what nobody thought of.
    const double healthy = std::max(0.3, l.running_s / 3600);
    const Evidence e =
        weigh_count(found.rows, healthy, std::max(3.0, 0.001 * static_cast<double>(l.n)));
    const double share =
        static_cast<double>(found.rows) / static_cast<double>(std::max<std::size_t>(l.n, 1));
    const Grade grade = grade_of(e, vital(leap.what) && share > kGraveSpikes);
    if (grade == Grade::fine) continue;
    any = true;
    l.add(Check::spikes, leap.what, grade, e,
          fmt::format("{} jumps away for a row or three and back, in {} rows ({:.2f} %)",
                      info(leap.what).label, found.rows, 100 * share),
          found.rows, found.first, found.last);
  }
  if (!any) {
    l.add(Check::spikes, Quantity::other, Grade::fine,
          weigh_count(0, std::max(0.3, l.running_s / 3600), 3), "no reading jumps away and back");
  }
}

}  // namespace fuelwright::advice
