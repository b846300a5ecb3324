// Coolant and intake air: jumps, warming, heat soak.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "advice/sensor_checks/internal/looking.h"
#include "advice/sensor_checks/internal/numbers.h"

namespace fuelwright::advice {
namespace {

using signals::Quantity;

constexpr double kLook_s = 2.0;
constexpr double kCoolantLeap_k =
    4.5;                               // water and metal cannot, in 2 s (a thermostat opening: 3 K)
constexpr double kIntakeLeap_k = 4.0;  // nor a sensor with a time constant of 15 s and more
constexpr double kGraveLeap_k = 20;
constexpr double kWarmBy_s = 720;  // of running, from cold, driving
constexpr double kWarmed_k = 333.15;
constexpr double kHot_k = 385.15;
constexpr double kStill_s = 120;    // without a change while warming
constexpr double kSoak_k = 6;       // 2 % of air
constexpr double kSoakErr_k = 1.2;  // sun, slopes and showers between standing and driving
constexpr double kStanding_mps = 1.5;
constexpr double kDriving_mps = 12;
constexpr double kStood_s = 25, kMoved_s = 15;

struct Leaps {
  long count = 0;
  double largest = 0;
  std::size_t at = 0;
};

// Levels before and after, each by the median of a second: spikes are another finding.
Leaps leaps_of(Looking& l, const Column& c, double limit, Quantity q) {
  Leaps out;
  const std::size_t one = l.rows_of(1.0);
  const std::size_t far = std::max<std::size_t>(l.rows_of(kLook_s), 2);
  for (const signals::Segment& s : l.r.segments) {
    for (std::size_t i = s.first + one; i + far + one < s.last;) {
      const double step = c[i + far] - c[i];
      if (!(std::abs(step) > limit)) {
        ++i;
        continue;
      }
      const auto at = [&](std::size_t k) { return c.begin() + static_cast<std::ptrdiff_t>(k); };
      const double before = median(Column(at(i - one), at(i + 1)));
      const double after = median(Column(at(i + far), at(i + far + one)));
      if (std::abs(after - before) > limit &&
          (!l.timed || l.r.time_s[i + far] - l.r.time_s[i] < 2 * kLook_s)) {
        ++out.count;
        if (std::abs(after - before) > std::abs(out.largest)) {
          out.largest = after - before;
          out.at = i;
        }
        l.out.masks.set(q, 1, i, i + far + l.rows_of(10), fmt::format("{} jumped", info(q).label));
        i += far + one;
      }
      ++i;
    }
  }
  return out;
}

void look_at_leaps(Looking& l, Quantity q, Check check, double limit) {
  const Column* c = l.col(q);
  if (!c || !l.timed || !l.ordered || l.step_s > 1.5) {
    l.skip(check, !c ? "not recorded" : "no time, or rows too far apart");
    return;
  }
  const Leaps found = leaps_of(l, *c, limit, q);
  const Evidence e = weigh_count(found.count, 1e-4, 2);
  l.add(check, q, grade_of(e, std::abs(found.largest) > kGraveLeap_k && q == Quantity::coolant), e,
        found.count == 0
            ? fmt::format("{} moves slowly, as it should", info(q).label)
            : fmt::format("{} jumps by {} within {:.0f} s, {} times in all", info(q).label,
                          l.warmth_off(found.largest), kLook_s, found.count),
        found.count, found.at, found.at + 1);
}

void look_at_warming(Looking& l) {
  const Column* c = l.col(Quantity::coolant);
  if (!c || !l.timed || !l.ordered) {
    l.skip(Check::coolant_warms, !c ? "not recorded" : "no time");
    return;
  }
  Column first;
  for (std::size_t i = 0; i < l.n && first.size() < l.rows_of(5); ++i) {
    if (l.running[i]) first.push_back((*c)[i]);
  }
  const double start = median(first);
  const double last = quantile(
      Column(c->end() - static_cast<std::ptrdiff_t>(std::min(l.n, l.rows_of(20))), c->end()), 0.5);
  const double most = quantile(*c, 0.998);
  // The longest stretch of one value while cold and running.
  std::size_t run = 0, longest = 0, at = 0;
  for (std::size_t i = 1; i < l.n; ++i) {
    const bool cold = (*c)[i] < kWarmed_k && l.running[i];
    run = cold && std::abs((*c)[i] - (*c)[i - 1]) < 1e-9 ? run + 1 : 0;
    if (run > longest) {
      longest = run;
      at = i - run;
    }
  }
  const double still_s = static_cast<double>(longest) * l.step_s;
  const auto rows = static_cast<long>(l.n);
  if (most > kHot_k) {
    l.add(Check::coolant_warms, Quantity::coolant, Grade::stop, certain(most),
          fmt::format("coolant reads up to {}", l.temperature(most)), rows)
        .what_to_do =
        "Stop and let it cool before anything else; do not open the hot cooling system.";
    return;
  }
  if (still_s > kStill_s) {
    // A sound cold engine changes by a degree every ten seconds or so.
    const Evidence e = weigh_count(static_cast<long>(still_s / 10), 0.3, 10);
    l.add(Check::coolant_warms, Quantity::coolant, grade_of(e, true), e,
          fmt::format("coolant stands at {} for {:.0f} s of running, cold", l.temperature((*c)[at]),
                      still_s),
          static_cast<long>(longest), at, at + longest);
    l.out.masks.set(Quantity::coolant, 1, at, at + longest, "coolant reading stood still");
    return;
  }
  const bool long_enough = l.running_s > kWarmBy_s;
  if (!(start < kWarmed_k) && last > kWarmed_k) {
    l.add(Check::coolant_warms, Quantity::coolant, Grade::fine, certain(last),
          fmt::format("warm from the start, {} at the end", l.temperature(last)));
    return;
  }
  if (!long_enough && last < kWarmed_k) {
    l.skip(Check::coolant_warms, "too short to have warmed");
    return;
  }
  // 12 minutes and more: a sound one is at its thermostat, 75 degC and above (sd 6 K).
  const double short_k = std::max(0.0, 348.15 - last);
  const Evidence e = weigh_level(short_k, 5, 25);
  l.add(Check::coolant_warms, Quantity::coolant, grade_of(e, short_k > 40), e,
        fmt::format("from {} to {} in {:.0f} min of running", l.temperature(start),
                    l.temperature(last), l.running_s / 60),
        0);
}

void look_at_soak(Looking& l) {
  const Column* intake = l.col(Quantity::intake_air);
  const Column* speed = l.col(Quantity::speed);
  if (!intake || !speed || !l.timed || !l.ordered) {
    l.skip(Check::heat_soak, !intake || !speed ? "no intake air or no road speed" : "no time");
    return;
  }
  Column driving;
  std::vector<std::size_t> soaked;
  double stood = 0;
  double moving = 0;
  for (std::size_t i = 0; i < l.n; ++i) {
    stood = (*speed)[i] < kStanding_mps ? stood + l.step_s : 0;
    moving = (*speed)[i] > kDriving_mps ? moving + l.step_s : 0;
    if (stood > kStood_s && l.running[i]) soaked.push_back(i);
    if (moving > kMoved_s) driving.push_back((*intake)[i]);
  }
  if (static_cast<double>(soaked.size()) * l.step_s < 10 ||
      static_cast<double>(driving.size()) * l.step_s < 20) {
    l.skip(Check::heat_soak, "not long enough standing, or driving");
    return;
  }
  Column hot;
  for (const std::size_t i : soaked) hot.push_back((*intake)[i]);
  const double usual = median(driving);
  const double over = quantile(hot, 0.8) - usual;
  // What is read is so, whatever the place of the sensor; only the comparison errs.
  const Evidence e = weigh_level(std::max(0.0, over), kSoakErr_k, 15);
  const bool soaks = over > kSoak_k;
  l.add(Check::heat_soak, Quantity::intake_air, soaks ? grade_of(e, false) : Grade::fine, e,
        fmt::format("standing still the intake air reads {} against driving", l.warmth_off(over)),
        static_cast<long>(soaked.size()));
  if (!soaks) return;
  for (const std::size_t i : soaked) {
    if ((*intake)[i] > usual + kSoak_k) {
      l.out.masks.set(Quantity::intake_air, 1, i, i + 1, "intake sensor soaked with heat");
    }
  }
}

}  // namespace

void look_at_temperatures(Looking& l) {
  look_at_leaps(l, Quantity::coolant, Check::coolant_steps, kCoolantLeap_k);
  look_at_leaps(l, Quantity::intake_air, Check::intake_steps, kIntakeLeap_k);
  look_at_warming(l);
  look_at_soak(l);
}

}  // namespace fuelwright::advice
