/// The guard: one set of rules and one engine, for recordings now and for live data.
///
///   Guard guard(rules, GuardedCar::of(sheet), watched);
///   for (const Firing& f : guard.step(moment)) say(in_words(f));      // began or ended just now
///
/// A rule fires when its limit has been broken for its dwell, counted between moments that both
/// break it, and ends when the value is back inside by `back_by` (guard.1). step() allocates
/// nothing. Theory: docs/theory/guard.md.
#pragma once

#include <array>
#include <bitset>
#include <cmath>
#include <limits>
#include <span>
#include <string>
#include <vector>

#include "advice/guard/rules.h"
#include "base/units/points.h"
#include "car/build/sheet.h"

namespace fuelwright::advice {

/// What a moment may carry. SI; engine speed in rpm, lambda and duty as ratios.
enum class Signal {
  rpm,
  map,            ///< Pa absolute
  lambda,         ///< first bank
  lambda_2,       ///< second bank
  pulse_width,    ///< s; 0 in a fuel cut
  duty,           ///< share
  coolant,        ///< K
  intake_air,     ///< K
  battery,        ///< V
  fuel_pressure,  ///< Pa above ambient
  oil_pressure,   ///< Pa above ambient
  throttle,       ///< share
  ambient,        ///< Pa absolute
  knock,          ///< spark taken back for knock [rad]
};
inline constexpr int kSignals = 14;
const char* label_of(Signal signal);
Kind kind_of(Signal signal);
using SignalSet = std::bitset<kSignals>;

/// All signals at one time; NaN where there was no new reading.
struct Moment {
  double seconds = 0;
  std::array<double, kSignals> si{};
  Moment() { si.fill(std::numeric_limits<double>::quiet_NaN()); }
  double& operator[](Signal s) { return si[static_cast<std::size_t>(s)]; }
  double operator[](Signal s) const { return si[static_cast<std::size_t>(s)]; }
};

/// What the rules need to know of the car.
struct GuardedCar {
  PressureStep regulator;  ///< above its reference
  bool regulated_to_manifold = true;
  AbsolutePressure ambient;  ///< where no barometer is recorded
  double squirts_per_cycle = 1;
  AbsolutePressure map_high;  ///< end of the MAP sensor
  static GuardedCar of(const car::Sheet& sheet);
};

/// One firing of a rule.
struct Firing {
  RuleKind rule = RuleKind::lean_under_load;
  Signal signal = Signal::rpm;  ///< that broke the limit
  Duration began;               ///< when the limit was first broken
  Duration fired;               ///< when the dwell was over
  Duration until;               ///< last moment at which it was broken
  double value = 0;             ///< the worst, in the unit of the rule (SI)
  double limit = 0;             ///< at that moment
  EngineSpeed speed;            ///< at the worst moment
  AbsolutePressure map;
  bool over = false;  ///< ended; otherwise it is still on
  Duration lasted() const { return until - began; }
  const char* instruction() const { return words_of(rule).instruction; }
};
/// A value or limit of a rule: "lambda 0.92", "10 %", "230.0 degF"; manifold pressure in inHg or kPa.
std::string shown(RuleKind rule, double si, UnitSystem units);
/// The condition of a rule that has one: "26.6 inHg".
std::string shown_condition(const Rule& rule, UnitSystem units);
/// "lean under load at 132.4 s: mixture lambda 0.99, limit lambda 0.92, for 0.8 s (3200 rpm, ...)".
std::string in_words(const Firing& firing, UnitSystem units = UnitSystem::metric);

class Guard {
 public:
  /// `watched`: signals that are expected to come; only those can be lost. Rules must be valid.
  Guard(const Rules& rules, const GuardedCar& car, SignalSet watched);

  /// Takes one moment; times must not go back. Returns what began or ended in it: valid until the
  /// next call. After a pause of more than 3 s all counting starts afresh.
  std::span<const Firing> step(const Moment& moment);
  /// Ends what is still on, at the end of a recording.
  std::span<const Firing> finish();
  bool any_on() const { return on_ > 0; }

 private:
  struct Watch {  // one rule on one signal
    RuleKind rule = RuleKind::lean_under_load;
    Signal signal = Signal::rpm;
    bool below = false;
    double limit = 0, back_by = 0, dwell_s = 0;
    double over_s = 0;  // counted so far
    bool broken = false, on = false;
    Firing firing;
  };
  static constexpr std::size_t kMostWatches = kRules + 2 * kSignals + 2;

  void add(RuleKind rule, Signal signal);
  void judge(Watch& w, double value, double limit, bool applies);
  bool outside(Signal s) const;
  void judge_impossible(Watch& w);
  void judge_sensors();
  void start_afresh();
  void judge_lost(Watch& w);
  void evaluate(Watch& w);
  void report(const Watch& w);
  double held(Signal s) const { return held_[static_cast<std::size_t>(s)]; }
  bool fresh(Signal s) const { return now_->si[static_cast<std::size_t>(s)] == held(s); }
  double ambient() const;

  Rules rules_;
  GuardedCar car_;
  std::array<Watch, kMostWatches> watches_{};
  std::size_t first_fault_ = 0, first_lost_ = 0, count_ = 0;  ///< rules, faults, losses
  std::array<double, kSignals> lowest_{}, highest_{};         ///< that can be, by signal
  bool faults_open_ = false;
  std::array<double, kSignals> held_{}, seen_s_{};
  const Moment* now_ = nullptr;
  double dt_s_ = 0, last_s_ = 0;
  double loaded_s_ = 0, since_cut_s_ = 0, running_s_ = 0;
  bool started_ = false;
  int on_ = 0;
  std::array<Firing, kMostWatches> out_{};
  std::size_t out_count_ = 0;
};

}  // namespace fuelwright::advice
