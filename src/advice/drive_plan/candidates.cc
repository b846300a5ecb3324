#include "advice/drive_plan/internal/candidates.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "advice/drive_plan/internal/allowed.h"
#include "advice/dynamic_estimate/dynamic_estimate.h"

namespace fuelwright::advice::internal {
namespace {

// What a driver does without strain (common practice, no source).
constexpr double kSlowest_rpm = 1100, kOverIdle = 1.35;
constexpr double kFastestHold = 0.80, kFastestSweep = 0.92;  // of the rev limit
constexpr double kLimitMargin = 0.97;                        // of the road's limit: feet err
constexpr double kSlowestRoad_m_s = 4;
constexpr double kHoldStep_rpm = 200, kSweepStep_rpm = 500;
constexpr double kLongestSweep_rpm = 2500;
constexpr std::array kHolds_s{8.0, 15.0};
constexpr double kLongerWet_s = 3;
constexpr double kShortest_s = 4, kLongest_s = 25;
constexpr double kLeastGain_m_s2 = 0.08, kMostGain_m_s2 = 3.5;
constexpr std::array kLoads{0.38, 0.45, 0.52, 0.60, 0.68, 0.76, 0.84, 0.92};  // of ambient
constexpr std::array kEases{0.28, 0.32, 0.36, 0.40, 0.46};  // of ambient, below most road loads
constexpr double kLeastLoss_m_s2 = 0.08, kMostLoss_m_s2 = 1.0;
// The pressure that the road asks for is known to a tenth or so: it slows down with that more, too.
constexpr double kSlowsAt = 1.1;
constexpr std::array kIdles_s{10.0, 20.0};
// Until readings belong to the step: exhaust delay, sensor lag, and the foot coming to rest.
constexpr double kSettle_s = 1.5;
// Fuel on a wet manifold's walls: three times its time, 1.5 s (docs/theory/dynamic_estimate.md).
constexpr double kSettleWet_s = 4.5;
// Human error, one standard deviation, share (from memory).
constexpr double kSpeedSpread = 0.015, kPressureSpread = 0.04, kIdleSpread = 0.04;
constexpr double kMovingSweep = 1.5, kMovingSweepWet = 2.5, kMovingIdle = 1.5, kMovingCoast = 2.5;
constexpr double kVisitEvery_rpm = 350;
constexpr double kFootOff = 0.22, kFull = 0.97;  // of ambient pressure (from memory)
constexpr double kPullBelow_rpm = 700, kPullOver = 1.03, kUnderLimit = 0.97;
constexpr double kShortestPull_s = 1.0, kLongestPull_s = 10;
// Changing over.
constexpr double kApproach_m_s2 = 1.3, kPerGear_s = 0.8, kTold_s = 1.0;
constexpr double kDyno_pa_s = 20e3;  // the foot on a dyno, from pressure to pressure
// Over what turning the rollers asks: the pressure is known to a tenth only (OnRoad).
constexpr double kOverRollers = 1.15, kLoadsApart = 0.04;

class Maker {
 public:
  Maker(const PlanInput& in, const PlanOptions& o)
      : in_(in),
        o_(o),
        road_(in.sheet, in.ve, in.seen),
        allowed_(in),
        dilution_(Dilution::of(in.sheet)) {}

  Candidates make() {
    idle();
    if (o_.dyno) {
      dyno_holds();
    } else {
      holds();
      sweeps();
      eases();
      coasts();
    }
    ladder();
    return std::move(out_);
  }

 private:
  const car::Grid& grid() const { return in_.estimate.evidence.grid; }
  double ambient_pa() const { return road_.ambient().from_zero.si; }
  double limit_rpm() const { return in_.sheet.wishes.rev_limit.value.rpm; }
  double slowest_rpm() const {
    return std::max(kSlowest_rpm, kOverIdle * in_.sheet.wishes.idle_speed.value.rpm);
  }
  AbsolutePressure share(double of_ambient) const {
    return absolute(of_ambient * ambient_pa() * pascal);
  }
  bool on_road(double n, int gear) const {
    const double v = road_.road_speed(rpm(n), gear).si;
    return v >= kSlowestRoad_m_s && v <= kLimitMargin * o_.top_speed.si;
  }
  bool wet() const {
    return in_.sheet.injection.arrangement.value == car::InjectionArrangement::throttle;
  }
  double settle_s() const { return wet() ? kSettleWet_s : kSettle_s; }
  double moving_sweep() const { return wet() ? kMovingSweepWet : kMovingSweep; }
  Feel feel(AbsolutePressure p) const {
    const double s = allowed_.share(p);
    return s < 0.6 ? Feel::light : s < Allowed::kHighLoad ? Feel::moderate : Feel::high;
  }

  // A place, unless burnt gas of an overlap spoils the reading there.
  void visit(Candidate& c, double n, double p_pa, double seconds, double moving,
             double shared = 0) const {
    const Dilution::Lean lean = dilution_.at(n, p_pa);
    if (lean.mean > DynamicOptions{}.largest_lean || !(seconds > 0)) return;
    c.visits.push_back(
        {grid().shares(
             {.speed = rpm(n), .map = absolute(p_pa * pascal), .ambient = road_.ambient()}),
         seconds * second, moving, std::hypot(lean.sd, shared)});
  }
  // A hold: mostly in the middle, at times beside it.
  void visit_around(Candidate& c, double n, double p_pa, double seconds, double spread_n,
                    double moving) const {
    constexpr double kOut = 1.5, kBeside = 0.125;
    visit(c, n, p_pa, (1 - 4 * kBeside) * seconds, moving);
    for (const double side : {-kOut, kOut}) {
      visit(c, n * (1 + side * spread_n), p_pa, kBeside * seconds, moving);
      visit(c, n, p_pa * (1 + side * kPressureSpread), kBeside * seconds, moving);
    }
  }
  void add(Candidate c) {
    if (!c.visits.empty()) out_.all.push_back(std::move(c));
  }

  // Where it stands is not known before it was seen, and in gear burnt gas spoils less.
  void idle() {
    const std::size_t before = out_.all.size();
    for (const double seconds : kIdles_s) idle(seconds + (wet() ? kLongerWet_s : 0));
    if (out_.all.size() > before) return;
    out_.left_out.emplace_back(
        "idle: with this cam's overlap the mixture reading does not measure it");
  }

  void idle(double seconds) {
    const double n = in_.sheet.wishes.idle_speed.value.rpm;
    const auto places = road_.idle_pressures();
    Candidate c{.planned = {.step = car::idle_for(seconds * second),
                            .feel = Feel::idle,
                            .pressure = places.front(),
                            .time = seconds * second}};
    const double each = (seconds - settle_s()) / static_cast<double>(places.size());
    for (const AbsolutePressure p : places) {
      visit_around(c, n, p.from_zero.si, each, kIdleSpread, kMovingIdle);
    }
    add(std::move(c));
  }

  void hold(double n, int gear, AbsolutePressure p, double seconds) {
    if (!allowed_.at(rpm(n), p)) return;
    const Speed v = road_.road_speed(rpm(n), gear);
    const std::optional<AbsolutePressure> kept =
        o_.dyno ? std::optional(p) : std::optional<AbsolutePressure>{};
    Candidate c{.planned = {.step = car::hold_at(rpm(n), gear, seconds * second, kept),
                            .feel = feel(p),
                            .pressure = p,
                            .begins = v,
                            .ends = v,
                            .time = seconds * second}};
    visit_around(c, n, p.from_zero.si, seconds - settle_s(), kSpeedSpread, 1);
    add(std::move(c));
  }

  void holds() {
    const double first = std::ceil(slowest_rpm() / kHoldStep_rpm) * kHoldStep_rpm;
    for (int gear = 1; gear <= road_.gears(); ++gear) {
      for (double n = first; n <= kFastestHold * limit_rpm(); n += kHoldStep_rpm) {
        if (!on_road(n, gear)) continue;
        const auto p = road_.pressure_of_hold(rpm(n), gear, o_.grade);
        if (!p || allowed_.high(*p)) continue;
        for (const double s : kHolds_s) hold(n, gear, *p, s + (wet() ? kLongerWet_s : 0));
      }
    }
  }

  AbsolutePressure whole_kpa(double of_ambient) const {
    return absolute(std::round(share(of_ambient).from_zero.in(kPa)) * kPa);
  }

  // Its brake takes up what the engine gives beyond turning the rollers, and cannot push: the least
  // load is theirs, well below that of a road, and from there up to what the outlook allows.
  void dyno_holds() {
    const double first = std::ceil(slowest_rpm() / kHoldStep_rpm) * kHoldStep_rpm;
    for (double n = first; n <= kFastestHold * limit_rpm(); n += kHoldStep_rpm) {
      const auto gear = dyno_gear(n);
      if (!gear) continue;
      const auto least = least_on_rollers(n, *gear);
      if (!least) continue;
      const double seconds = kHolds_s.front() + (wet() ? kLongerWet_s : 0);
      hold(n, *gear, whole_kpa(*least), seconds);
      for (const double load : kLoads) {
        if (load > *least + kLoadsApart) hold(n, *gear, whole_kpa(load), seconds);
      }
    }
  }
  // Share of ambient pressure; none if not even full throttle turns them.
  std::optional<double> least_on_rollers(double n, int gear) const {
    const Torque rolling = road_.asked_at(Speed{}, road_.ratio(gear), 0, 0);
    if (road_.torque(rpm(n), road_.ambient()) < rolling) return std::nullopt;
    const auto turning = road_.pressure_for(rpm(n), rolling).value_or(OnRoad::lowest_held());
    const double least = kOverRollers * allowed_.share(turning);
    return least < kLoads.back() ? std::optional(least) : std::nullopt;
  }
  // Direct drive, which heats a gearbox least; a lower one where the tyres would turn too fast.
  std::optional<int> dyno_gear(double n) const {
    for (int gear = nearest_direct(); gear >= 1; --gear) {
      if (on_road(n, gear)) return gear;
    }
    return std::nullopt;
  }
  int nearest_direct() const {
    const auto& gears = in_.sheet.car.gears.values;
    const auto at = std::ranges::min_element(gears, {}, [](double i) { return std::abs(i - 1); });
    return static_cast<int>(at - gears.begin()) + 1;
  }

  struct Run {
    std::vector<std::pair<double, double>> at;  // rpm, seconds
    double seconds = 0;
  };
  // Gaining speed (or losing it) at a manifold pressure; none if that takes too long, or is too
  // brisk.
  std::optional<Run> run(double from, double until, int gear, AbsolutePressure p, double least,
                         double most) const {
    const double way = until > from ? 1 : -1;
    const double whole = std::abs(until - from);
    const int parts = std::max(2, static_cast<int>(std::ceil(whole / kVisitEvery_rpm)));
    const double step = (until - from) / parts;
    Run out;
    for (int i = 0; i < parts; ++i) {
      const double n = from + (i + 0.5) * step;
      const double a = way * road_.acceleration(rpm(n), gear, p, o_.grade);
      if (a < least || a > most) return std::nullopt;
      const double seconds = road_.road_speed(rpm(way * step), gear).si / a;
      out.at.emplace_back(n, seconds);
      out.seconds += seconds;
    }
    return out;
  }

  Candidate sweep_of(const Run& r, double from, double until, int gear, AbsolutePressure p) const {
    Candidate c{.planned = {.step = car::sweep(rpm(from), rpm(until), gear, p),
                            .feel = feel(p),
                            .pressure = p,
                            .begins = road_.road_speed(rpm(from), gear),
                            .ends = road_.road_speed(rpm(until), gear),
                            .time = r.seconds * second}};
    const double used = std::max(0.0, 1 - settle_s() / r.seconds);
    double side = 1;
    for (const auto& [n, seconds] : r.at) {
      visit(c, n, p.from_zero.si * (1 + side * kPressureSpread), used * seconds, moving_sweep());
      side = -side;
    }
    return c;
  }

  bool allowed_along(double from, double until, AbsolutePressure p) const {
    for (double n = from; n < until + 1; n += kVisitEvery_rpm) {
      if (!allowed_.at(rpm(std::min(n, until)), p)) return false;
    }
    return allowed_.at(rpm(until), p);
  }

  void sweeps() {
    const double first = std::ceil(slowest_rpm() / kSweepStep_rpm) * kSweepStep_rpm;
    const double last = kFastestSweep * limit_rpm();
    for (int gear = 1; gear <= road_.gears(); ++gear) {
      for (const double load : kLoads) {
        const AbsolutePressure p = whole_kpa(load);
        for (double from = first; from < last; from += kSweepStep_rpm) {
          for (double until = from + kSweepStep_rpm;
               until <= std::min(last, from + kLongestSweep_rpm); until += kSweepStep_rpm) {
            if (!on_road(from, gear) || !on_road(until, gear)) continue;
            if (!allowed_along(from, until, p)) continue;
            const auto r = run(from, until, gear, p, kLeastGain_m_s2, kMostGain_m_s2);
            if (!r || r->seconds < kShortest_s || r->seconds > kLongest_s) continue;
            add(sweep_of(*r, from, until, gear, p));
          }
        }
      }
    }
  }

  // A light foot while the road takes speed away: loads below those that can be held, where a car
  // comes to lights and corners.
  void eases() {
    const double slowest = std::ceil(slowest_rpm() / 100) * 100;
    for (int gear = 2; gear <= road_.gears(); ++gear) {
      for (const double load : kEases) {
        const AbsolutePressure p = whole_kpa(load);
        if (p < OnRoad::lowest_held()) continue;
        for (double from = slowest + kSweepStep_rpm; from <= slowest + kLongestSweep_rpm;
             from += kSweepStep_rpm) {
          for (double until = slowest; until < from; until += kSweepStep_rpm) {
            if (!on_road(from, gear) || !on_road(until, gear)) continue;
            const AbsolutePressure more = absolute(kSlowsAt * p.from_zero.si * pascal);
            if (!run(from, until, gear, more, kLeastLoss_m_s2, kMostLoss_m_s2)) continue;
            const auto r = run(from, until, gear, p, kLeastLoss_m_s2, kMostLoss_m_s2);
            if (!r || r->seconds < kShortest_s || r->seconds > kLongest_s) continue;
            add(sweep_of(*r, from, until, gear, p));
          }
        }
      }
    }
  }

  void coasts() {
    if (in_.overrun_cut) return;
    const AbsolutePressure p = share(kFootOff);
    for (int gear = 2; gear <= road_.gears(); ++gear) {
      const double until = std::ceil(slowest_rpm() / 100) * 100;
      for (double from = until + 1000; from <= kFastestHold * limit_rpm(); from += 1000) {
        if (!on_road(from, gear) || !on_road(until, gear)) continue;
        const double a = road_.acceleration(rpm(0.5 * (from + until)), gear, p, o_.grade);
        const double seconds = road_.road_speed(rpm(from - until), gear).si / std::max(-a, 0.1);
        if (seconds < kShortest_s || seconds > kLongest_s) continue;
        Candidate c{.planned = {.step = car::coast(rpm(from), rpm(until), gear),
                                .feel = Feel::overrun,
                                .pressure = p,
                                .begins = road_.road_speed(rpm(from), gear),
                                .ends = road_.road_speed(rpm(until), gear),
                                .time = seconds * second}};
        const int parts = static_cast<int>((from - until) / kVisitEvery_rpm) + 1;
        for (int i = 0; i < parts; ++i) {
          visit(c, until + (i + 0.5) * (from - until) / parts, p.from_zero.si,
                (seconds - settle_s()) / parts, kMovingCoast);
        }
        add(std::move(c));
      }
    }
  }

  // The gear for a pull that ends there: the highest that is short and within the limit.
  std::optional<std::pair<int, Run>> pull_gear(double from, double until) const {
    for (int gear = o_.dyno ? nearest_direct() : road_.gears(); gear >= 2; --gear) {
      if (!on_road(from, gear) || !on_road(until, gear)) continue;
      const auto r = run(from, until, gear, share(kFull), kLeastGain_m_s2, 20);
      if (r && r->seconds >= kShortestPull_s && r->seconds <= kLongestPull_s) {
        return std::pair{gear, *r};
      }
    }
    return std::nullopt;
  }

  void say_no_pull(std::string why) { out_.left_out.push_back("full throttle: " + std::move(why)); }

  void ladder() {
    if (in_.stop_finding) {
      return say_no_pull("a check of the sensors says stop; put that right first");
    }
    if (!in_.outlook) {
      return say_no_pull(
          "nothing predicts the mixture there yet; drive this plan, estimate, and plan again");
    }
    const Ladder& l = in_.outlook->ladder;
    if (!l.next) return say_no_pull("no step of the ladder is left to drive");
    int before = -1;
    for (std::size_t k = *l.next; k < l.rungs.size(); ++k) {
      const Rung& rung = l.rungs[k];
      const double until = std::min(kPullOver * rung.speed.rpm, kUnderLimit * limit_rpm());
      const std::string speed = fmt::format("{:.0f} rpm", rung.speed.rpm);
      const bool first = k == *l.next;
      const bool fine = allowed_.at(rung.speed, share(kFull)) && rung.light_load_known;
      if (first ? !rung.may_try : !fine) {
        if (first) say_no_pull(fmt::format("{} is not to be tried yet: {}", speed, why_not(rung)));
        return;
      }
      const double from = std::max(until - kPullBelow_rpm, slowest_rpm());
      if (!(until > from) || !allowed_.at(rpm(until), share(kFull), true)) return;
      const auto pull = pull_gear(from, until);
      if (!pull) {
        return say_no_pull(
            fmt::format("up to {} no gear does it in 1 to 10 s within the speed limit; a closed "
                        "track or a dyno can",
                        speed));
      }
      add_pull(rung, from, until, *pull, before);
      before = static_cast<int>(out_.all.size()) - 1;
    }
  }
  static const char* why_not(const Rung& rung) {
    return rung.light_load_known ? "its predicted mixture does not allow it"
                                 : "light load at that speed is not known yet";
  }

  void add_pull(const Rung& rung, double from, double until, const std::pair<int, Run>& pull,
                int before) {
    const auto& [gear, r] = pull;
    Candidate c{.planned = {.step = car::sweep(rpm(from), rpm(until), gear),
                            .feel = Feel::full,
                            .pressure = share(kFull),
                            .begins = road_.road_speed(rpm(from), gear),
                            .ends = road_.road_speed(rpm(until), gear),
                            .time = r.seconds * second,
                            .lift_at = rung.lift_at},
                .after = before};
    for (const auto& [n, seconds] : r.at) {
      visit(c, n, share(kFull).from_zero.si, seconds, moving_sweep(),
            DynamicOptions{}.discrepancy_short_pulls);
    }
    add(std::move(c));
  }

  const PlanInput& in_;
  const PlanOptions& o_;
  OnRoad road_;
  Allowed allowed_;
  Dilution dilution_;
  Candidates out_;
};

}  // namespace

Candidates candidates_of(const PlanInput& input, const PlanOptions& options) {
  return Maker(input, options).make();
}

Duration change_over(const PlannedStep* from, const PlannedStep& to, bool dyno) {
  const double load_pa =
      dyno && from ? std::abs(to.pressure.from_zero.si - from->pressure.from_zero.si) : 0.0;
  const double speed = std::abs(to.begins.si - (from ? from->ends.si : 0.0));
  const bool neutral = to.feel == Feel::idle || !from || from->feel == Feel::idle;
  const int gears = neutral ? 1 : std::abs(to.step.gear - from->step.gear);
  return (kTold_s + speed / kApproach_m_s2 + kPerGear_s * gears + load_pa / kDyno_pa_s) * second;
}

}  // namespace fuelwright::advice::internal
