#include "advice/guard/guard.h"

#include <algorithm>

#include "base/contract.h"

namespace fuelwright::advice {
namespace {

constexpr double kPause_s = 3.0;       // longer without a moment: counting starts afresh
constexpr double kHeld_s = 1.5;        // a reading counts so long for the conditions of others
constexpr double kRunning_rpm = 400;   // the engine runs
constexpr double kRunningFor_s = 3.0;  // battery and oil count from here on
constexpr double kNoPulse_s = 1e-4;    // shorter: nothing is injected
constexpr double kAfterCut_s = 1.5;    // readings of a fuel cut are gone by then
constexpr double kLeastOnRail_pa = 1e4;

struct SignalWords {
  Signal signal;
  const char* label;
  Kind kind;
  double lowest, highest;  // what can be, with a sound sensor (common practice, no source)
};
constexpr std::array<SignalWords, kSignals> kSignalWords{{
    {Signal::rpm, "engine speed", Kind::engine_speed, 0, 20000},
    {Signal::map, "manifold pressure", Kind::absolute_pressure, 8e3, 500e3},
    {Signal::lambda, "mixture", Kind::ratio, 0.5, 1e3},
    {Signal::lambda_2, "mixture of bank 2", Kind::ratio, 0.5, 1e3},
    {Signal::pulse_width, "pulse width", Kind::time, 0, 0.1},
    {Signal::duty, "injector duty", Kind::ratio, 0, 1.05},
    {Signal::coolant, "coolant", Kind::temperature, 233.15, 423.15},
    {Signal::intake_air, "intake air", Kind::temperature, 233.15, 453.15},
    {Signal::battery, "battery", Kind::voltage, 5, 20},
    {Signal::fuel_pressure, "fuel pressure", Kind::gauge_pressure, -90e3, 30e5},
    {Signal::oil_pressure, "oil pressure", Kind::gauge_pressure, -20e3, 15e5},
    {Signal::throttle, "throttle", Kind::ratio, -0.05, 1.05},
    {Signal::ambient, "ambient pressure", Kind::absolute_pressure, 45e3, 110e3},
    {Signal::knock, "knock", Kind::crank_angle, -0.5, 1.5},
}};
const SignalWords& words_of_signal(Signal s) { return kSignalWords[static_cast<std::size_t>(s)]; }

// Those without which a pull is not watched; temperatures may be polled rarely.
bool may_be_lost(Signal s) {
  return s == Signal::rpm || s == Signal::map || s == Signal::lambda || s == Signal::lambda_2 ||
         s == Signal::fuel_pressure || s == Signal::oil_pressure;
}

}  // namespace

const char* label_of(Signal signal) { return words_of_signal(signal).label; }
Kind kind_of(Signal signal) { return words_of_signal(signal).kind; }

GuardedCar GuardedCar::of(const car::Sheet& sheet) {
  const car::Injection& in = sheet.injection;
  return {
      .regulator = in.regulator_pressure.value,
      .regulated_to_manifold = in.regulator_reference.value == car::RegulatorReference::manifold,
      .ambient = sheet.place.pressure.value,
      .squirts_per_cycle = in.squirts_per_cycle.si(),
      .map_high = sheet.sensors.map_high.value};
}

Guard::Guard(const Rules& rules, const GuardedCar& car, SignalSet watched)
    : rules_(rules), car_(car) {
  EXPECTS(validate(rules).ok());
  held_.fill(NAN);
  seen_s_.fill(0);
  const auto has = [&](Signal s) { return watched.test(static_cast<std::size_t>(s)); };
  const auto watch = [&](RuleKind rule, Signal signal, bool enough) {
    if (rules_.of(rule).on && enough) add(rule, signal);
  };
  using R = RuleKind;
  using S = Signal;
  watch(R::lean_under_load, S::lambda, has(S::lambda) && has(S::map));
  watch(R::lean_under_load, S::lambda_2, has(S::lambda_2) && has(S::map));
  watch(R::knock, S::knock, has(S::knock));
  watch(R::fuel_pressure, S::fuel_pressure,
        has(S::fuel_pressure) && (has(S::map) || !car.regulated_to_manifold));
  watch(R::duty, has(S::duty) ? S::duty : S::pulse_width,
        has(S::duty) || (has(S::pulse_width) && has(S::rpm)));
  watch(R::coolant, S::coolant, has(S::coolant));
  watch(R::oil_pressure, S::oil_pressure, has(S::oil_pressure) && has(S::rpm));
  watch(R::intake_temperature, S::intake_air, has(S::intake_air));
  watch(R::battery_low, S::battery, has(S::battery) && has(S::rpm));
  watch(R::battery_high, S::battery, has(S::battery) && has(S::rpm));
  watch(R::overspeed, S::rpm, has(S::rpm));
  watch(R::over_pressure, S::map, has(S::map));
  first_fault_ = count_;
  for (const SignalWords& w : kSignalWords) watch(R::sensor_fault, w.signal, has(w.signal));
  first_lost_ = count_;
  for (const SignalWords& w : kSignalWords) {
    watch(R::sensor_lost, w.signal, has(w.signal) && may_be_lost(w.signal));
  }
  for (std::size_t i = 0; i < kSignalWords.size(); ++i) {
    lowest_[i] = kSignalWords[i].lowest;
    highest_[i] = kSignalWords[i].highest;
  }
  // At its end the sensor knows no more; the regular over-pressure rule takes what is below.
  const double end = 1.15 * car.map_high.from_zero.si;
  double& highest_map = highest_[static_cast<std::size_t>(S::map)];
  if (end > 0) highest_map = std::min(highest_map, end);
}

void Guard::add(RuleKind kind, Signal signal) {
  EXPECTS(count_ < watches_.size());
  const Rule& rule = rules_.of(kind);
  watches_[count_++] = {.rule = kind,
                        .signal = signal,
                        .below = words_of(kind).below,
                        .limit = rule.limit,
                        .back_by = rule.back_by,
                        .dwell_s = rule.dwell.si};
}

double Guard::ambient() const {
  const double read = held(Signal::ambient);
  return std::isnan(read) ? car_.ambient.from_zero.si : read;
}

void Guard::report(const Watch& w) {
  if (out_count_ < out_.size()) out_[out_count_++] = w.firing;
}

// (guard.1): counted up between two moments that break the limit, down otherwise, to nothing once
// back inside by back_by.
void Guard::judge(Watch& w, double value, double limit, bool applies) {
  const double over = w.below ? limit - value : value - limit;
  const bool broken = applies && over > 0;
  const double now = now_->seconds;
  if (broken) {
    if (!w.broken && w.over_s <= 0 && !w.on) {
      w.firing = {
          .rule = w.rule, .signal = w.signal, .began = {now}, .value = value, .limit = limit};
    }
    if (w.broken) w.over_s += dt_s_;
    const double worst =
        w.below ? w.firing.limit - w.firing.value : w.firing.value - w.firing.limit;
    if (over >= worst) {
      w.firing.value = value;
      w.firing.limit = limit;
      w.firing.speed = {held(Signal::rpm)};
      w.firing.map = {{held(Signal::map)}};
    }
    w.firing.until = {now};
    if (!w.on && w.over_s >= w.dwell_s) {
      w.on = true;
      ++on_;
      w.firing.fired = {now};
      w.firing.over = false;
      report(w);
    }
  } else if (w.on || w.over_s > 0) {
    const bool back = !applies || over <= -w.back_by;
    w.over_s = back ? 0 : std::max(w.over_s - dt_s_, w.on ? 1e-9 : 0.0);
    if (w.on && back) {
      w.on = false;
      --on_;
      w.firing.over = true;
      report(w);
    }
  }
  w.broken = broken;
}

bool Guard::outside(Signal signal) const {
  const auto i = static_cast<std::size_t>(signal);
  return held_[i] < lowest_[i] || held_[i] > highest_[i];
}

void Guard::judge_impossible(Watch& w) {
  const bool cannot_be = outside(w.signal);
  judge(w, cannot_be ? 1.0 : 0.0, 0.5, true);
  if (cannot_be) w.firing.value = held(w.signal);
}

// All sensors at once; one by one only if there is something to say.
void Guard::judge_sensors() {
  bool odd = faults_open_;
  for (std::size_t i = 0; i < held_.size(); ++i) {
    odd |= (held_[i] < lowest_[i]) | (held_[i] > highest_[i]);
  }
  if (odd) {
    faults_open_ = false;
    for (std::size_t i = first_fault_; i < first_lost_; ++i) {
      Watch& w = watches_[i];
      if (fresh(w.signal)) judge_impossible(w);
      faults_open_ |= w.on || w.broken || w.over_s > 0;
    }
  }
  for (std::size_t i = first_lost_; i < count_; ++i) judge_lost(watches_[i]);
}

void Guard::judge_lost(Watch& w) {
  const double for_s = now_->seconds - seen_s_[static_cast<std::size_t>(w.signal)];
  const bool lost = for_s > w.dwell_s;
  if (lost == w.on) {
    if (lost) w.firing.until = {now_->seconds};
    return;
  }
  if (lost) {
    w.firing = {.rule = w.rule,
                .signal = w.signal,
                .began = {now_->seconds - for_s},
                .fired = {now_->seconds},
                .until = {now_->seconds},
                .value = NAN,
                .limit = w.dwell_s};
  }
  w.on = lost;
  on_ += lost ? 1 : -1;
  w.firing.over = !lost;
  report(w);
}

void Guard::evaluate(Watch& w) {
  const double v = held(w.signal);
  const bool running = running_s_ > 0;
  switch (w.rule) {
    case RuleKind::lean_under_load: {
      const Rule& rule = rules_.of(w.rule);
      // A rev limiter cuts fuel on purpose: what it leaves reads lean and burns nothing.
      judge(w, v, w.limit, loaded_s_ >= rule.settled.si && since_cut_s_ > kAfterCut_s);
      return;
    }
    case RuleKind::fuel_pressure: {
      const double reference = car_.regulated_to_manifold ? held(Signal::map) - ambient() : 0.0;
      const double asked = car_.regulator.si + reference;
      const double under = (asked - v) / std::max(car_.regulator.si, kLeastOnRail_pa);  // (guard.2)
      judge(w, under, w.limit, running && !std::isnan(under));
      return;
    }
    case RuleKind::duty: {
      const double share = w.signal == Signal::duty
                               ? v
                               : v * car_.squirts_per_cycle * held(Signal::rpm) / 120;  // (guard.3)
      judge(w, share, w.limit, running && !std::isnan(share));
      return;
    }
    case RuleKind::oil_pressure: {
      const double up_to = rules_.of(w.rule).while_above;
      const double speed = std::min(held(Signal::rpm), up_to);
      judge(w, v, w.limit * speed / 1000, running_s_ > kRunningFor_s);  // (guard.4)
      return;
    }
    case RuleKind::battery_low:
    case RuleKind::battery_high:
      judge(w, v, w.limit, running_s_ > kRunningFor_s);
      return;
    default:
      judge(w, v, w.limit, true);
  }
}

void Guard::start_afresh() {
  for (std::size_t i = 0; i < count_; ++i) {
    watches_[i].broken = false;
    if (!watches_[i].on) watches_[i].over_s = 0;
  }
}

std::span<const Firing> Guard::step(const Moment& moment) {
  out_count_ = 0;
  now_ = &moment;
  dt_s_ = started_ ? moment.seconds - last_s_ : 0.0;
  const bool pause = !started_ || !(dt_s_ >= 0 && dt_s_ <= kPause_s);
  if (pause) {
    dt_s_ = 0;
    loaded_s_ = running_s_ = 0;
    since_cut_s_ = kPause_s;
    seen_s_.fill(moment.seconds);
  }
  for (std::size_t i = 0; i < held_.size(); ++i) {
    if (moment.si[i] == moment.si[i]) {
      held_[i] = moment.si[i];
      seen_s_[i] = moment.seconds;
    } else if (moment.seconds - seen_s_[i] > kHeld_s &&
               i != static_cast<std::size_t>(Signal::ambient)) {
      held_[i] = NAN;
    }
  }
  const double load = held(Signal::map);
  loaded_s_ = load > rules_.of(RuleKind::lean_under_load).while_above ? loaded_s_ + dt_s_ : 0.0;
  since_cut_s_ = held(Signal::pulse_width) < kNoPulse_s ? 0.0 : since_cut_s_ + dt_s_;
  const double speed = held(Signal::rpm);
  running_s_ = speed > kRunning_rpm ? running_s_ + dt_s_ : 0.0;
  if (pause) start_afresh();
  for (std::size_t i = 0; i < first_fault_; ++i) {
    Watch& w = watches_[i];
    if (fresh(w.signal)) evaluate(w);  // without a new reading nothing is counted
  }
  judge_sensors();
  started_ = true;
  last_s_ = moment.seconds;
  return {out_.data(), out_count_};
}

std::span<const Firing> Guard::finish() {
  out_count_ = 0;
  for (std::size_t i = 0; i < count_; ++i) {
    if (!watches_[i].on) continue;
    watches_[i].on = false;
    watches_[i].firing.over = true;
    report(watches_[i]);
  }
  on_ = 0;
  return {out_.data(), out_count_};
}

}  // namespace fuelwright::advice
