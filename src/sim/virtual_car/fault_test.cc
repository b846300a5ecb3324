// Every fault shows in the recording, in the channel where a mechanic would look for it.
#include <cmath>

#include "signals/recording/recording.h"
#include "sim/virtual_car/test_car.h"

namespace fuelwright::sim::virtual_car::fault_test {
namespace {

using F = car::FaultKind;
using Q = signals::Quantity;

constexpr double kFrom_s = 30;

struct Pair {
  signals::Recording healthy, sick;
};

signals::Recording recorded(const Truth& truth, const car::Sheet& sheet,
                            const std::variant<Cycle, car::Plan>& task,
                            std::vector<car::Fault> faults) {
  const Drive drive = driven(truth, sheet, {.task = task, .faults = std::move(faults)});
  signals::Answers answers;
  answers.afr_constant = 14.7;
  auto r = signals::read_recording(drive.recording, "drive.csv", answers);
  EXPECT_TRUE(r.ok());
  return *r;
}

Pair pair_of(F kind, const std::variant<Cycle, car::Plan>& task, const std::string& more = "",
             double severity = 1, double pump_l_per_h = 200) {
  const car::Sheet sheet = test_sheet();
  Truth truth = test_truth(sheet, kQuiet + more);
  truth.fuel.pump_flow = pump_l_per_h * litre_per_h;
  return {recorded(truth, sheet, task, {}),
          recorded(truth, sheet, task, {{kind, kFrom_s * second, severity}})};
}

/// Mean of a channel between two times.
double mean_of(const signals::Recording& r, Q what, double from_s, double until_s) {
  double sum = 0;
  int n = 0;
  for (std::size_t i = 0; i < r.rows; ++i) {
    if (r.time_s[i] < from_s || r.time_s[i] > until_s) continue;
    sum += r.find(what)->si[i];
    ++n;
  }
  return sum / n;
}

double change(const Pair& p, Q what, double from_s = 50, double until_s = 60) {
  return mean_of(p.sick, what, from_s, until_s) - mean_of(p.healthy, what, from_s, until_s);
}

const Cycle kStanding{{0, 60}, {0, 0}};
const Cycle kCruise = steps_of({18}, 60);
const std::string kOpenLoop = "[computer]\ncorrection_gain = 0\n";

TEST(FaultInTheCar, NothingShowsBeforeItsTime) {
  for (const car::FaultWords& w : car::all_faults()) {
    const Pair p = pair_of(w.kind, kStanding);
    for (const Q q : {Q::rpm, Q::map, Q::lambda, Q::coolant, Q::battery}) {
      EXPECT_EQ(mean_of(p.sick, q, 0, kFrom_s - 0.1), mean_of(p.healthy, q, 0, kFrom_s - 0.1))
          << w.name;
    }
  }
}

TEST(FaultInTheCar, AVacuumLeakRaisesTheIdle) {
  const Pair p = pair_of(F::vacuum_leak, kStanding);
  EXPECT_GT(change(p, Q::rpm, 31, 40), 50);
}

TEST(FaultInTheCar, AnExhaustLeakReadsLeanAtIdleAndMuchLessAtSpeed) {
  const double idle = change(pair_of(F::exhaust_leak, kStanding, kOpenLoop), Q::lambda);
  const double cruise = change(pair_of(F::exhaust_leak, kCruise, kOpenLoop), Q::lambda);
  EXPECT_GT(idle, 0.02);
  EXPECT_LT(cruise, 0.6 * idle);
  EXPECT_GT(cruise, 0);
}

TEST(FaultInTheCar, ADeadInjectorReadsLeanAndIsMadeUpByTheCorrection) {
  EXPECT_GT(change(pair_of(F::dead_injector, kCruise, kOpenLoop), Q::lambda), 0.15);
  EXPECT_GT(change(pair_of(F::dead_injector, kCruise), Q::correction), 0.10);
}

TEST(FaultInTheCar, CloggedInjectorsReadLean) {
  EXPECT_GT(change(pair_of(F::clogged_injectors, kCruise, kOpenLoop), Q::lambda), 0.15);
}

TEST(FaultInTheCar, AWeakPumpLosesPressureFlatOut) {
  const car::Plan pull{{car::idle_for(32.0 * second), car::sweep(rpm(2000), rpm(5500), 2),
                        car::idle_for(3.0 * second)}};
  const Pair p = pair_of(F::weak_pump, pull, "", 1, 60);
  const auto lowest = [](const signals::Recording& r) {
    double least = 1e9;
    for (std::size_t i = 0; i < r.rows; ++i) {
      if (r.find(Q::map)->si[i] > 85e3) least = std::min(least, r.find(Q::fuel_pressure)->si[i]);
    }
    return least;
  };
  EXPECT_LT(lowest(p.sick), lowest(p.healthy) - 30e3);
}

TEST(FaultInTheCar, ALazySensorBlursTheReading) {
  const Cycle busy = steps_of({14, 6, 15, 5, 16, 4, 15}, 4);
  const Pair p = pair_of(F::lazy_sensor, busy, kOpenLoop);
  const auto quickest = [](const signals::Recording& r) {
    double most = 0;
    for (std::size_t i = 1; i < r.rows; ++i) {
      if (r.time_s[i] < kFrom_s + 2) continue;
      most = std::max(most, std::abs(r.find(Q::lambda)->si[i] - r.find(Q::lambda)->si[i - 1]));
    }
    return most;
  };
  EXPECT_LT(quickest(p.sick), 0.4 * quickest(p.healthy));
}

TEST(FaultInTheCar, ADriftingSensorReadsLeanerAndLeaner) {
  const Cycle cruise = steps_of({18}, 150);
  const Pair p = pair_of(F::drifting_sensor, cruise, kOpenLoop);
  const double early = change(p, Q::lambda, 50, 60), late = change(p, Q::lambda, 140, 150);
  EXPECT_GT(late, early + 0.01);  // 1 % a minute
}

TEST(FaultInTheCar, AStuckPressureSensorDoesNotMove) {
  const Pair p = pair_of(F::stuck_map, steps_of({10, 20, 5}, 20));
  double low = 1e9, high = 0;
  for (std::size_t i = 0; i < p.sick.rows; ++i) {
    if (p.sick.time_s[i] < kFrom_s + 1) continue;
    low = std::min(low, p.sick.find(Q::map)->si[i]);
    high = std::max(high, p.sick.find(Q::map)->si[i]);
  }
  EXPECT_LT(high - low, 300);
}

TEST(FaultInTheCar, APressureReadingTooHighGivesARichMixture) {
  const Pair p = pair_of(F::map_offset, kCruise, kOpenLoop, 0.5);
  EXPECT_LT(change(p, Q::lambda), -0.08);
}

TEST(FaultInTheCar, AColdCoolantReadingEnriches) {
  const Pair p = pair_of(F::coolant_sensor, kCruise);
  EXPECT_NEAR(change(p, Q::coolant), -60, 1);
  EXPECT_GT(change(p, Q::warm_up), 0.1);
}

TEST(FaultInTheCar, AHotIntakeReadingLeansOut) {
  const Pair p = pair_of(F::intake_sensor, kCruise, kOpenLoop);
  EXPECT_NEAR(change(p, Q::intake_air), 50, 3);
  EXPECT_GT(change(p, Q::lambda), 0.08);
}

TEST(FaultInTheCar, MisfiringCyclesReadLean) {
  EXPECT_GT(change(pair_of(F::misfire, kCruise, kOpenLoop), Q::lambda), 0.03);
}

TEST(FaultInTheCar, ALowBatteryShowsInItsVoltage) {
  EXPECT_NEAR(change(pair_of(F::low_battery, kCruise), Q::battery), -4, 0.1);
}

}  // namespace
}  // namespace fuelwright::sim::virtual_car::fault_test
