#include "advice/guard/guard.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "car/build/sheet_file.h"

namespace fuelwright::advice::guard_test {
namespace {

using S = Signal;

car::Sheet a_sheet() {
  const auto sheet = car::read_sheet(
      "[engine]\ndisplacement = \"5.7 l\"\ncylinders = 8\n[cam]\nintake_duration_050 = \"214 "
      "deg\"\n[injection]\ninjector_flow = \"34 lb/h at 43.5 psi\"\nregulator_pressure = \"300 "
      "kPa\"\nregulator_reference = \"manifold\"\nsquirts_per_cycle = 2\n[fuel]\nname = "
      "\"E10\"\n[wishes]\nrev_limit = \"6000 rpm\"\n",
      "a.toml");
  EXPECT_TRUE(sheet.ok());
  return *sheet;
}

SignalSet all_but_knock() {
  SignalSet s;
  s.set();
  s.reset(static_cast<std::size_t>(S::knock));
  return s;
}

// A healthy moment at full throttle; tests spoil one value.
Moment pull(double seconds) {
  Moment m;
  m.seconds = seconds;
  m[S::rpm] = 4000;
  m[S::map] = 98e3;
  m[S::lambda] = m[S::lambda_2] = 0.86;
  m[S::pulse_width] = 10e-3;
  m[S::duty] = 0.6;
  m[S::coolant] = 363;
  m[S::intake_air] = 303;
  m[S::battery] = 13.9;
  m[S::fuel_pressure] = 297e3;
  m[S::oil_pressure] = 400e3;
  m[S::throttle] = 1;
  m[S::ambient] = 101e3;
  return m;
}

struct Drive {
  Guard guard{safe_rules(a_sheet()), GuardedCar::of(a_sheet()), all_but_knock()};
  std::vector<Firing> began, ended;
  double now = 0;
  // Moments at 20 Hz, each spoiled by f.
  template <class F>
  void go(double for_s, F f) {
    for (const double until = now + for_s; now < until - 1e-9; now += 0.05) {
      Moment m = pull(now);
      f(m);
      for (const Firing& x : guard.step(m)) (x.over ? ended : began).push_back(x);
    }
  }
  void go(double for_s) {
    go(for_s, [](Moment&) {});
  }
};

TEST(Guard, AHealthyPullFiresNothing) {
  Drive d;
  d.go(60);
  EXPECT_TRUE(d.began.empty());
}

TEST(Guard, LeanUnderLoadFiresAfterItsDwellAndNotBefore) {
  Drive d;
  d.go(5);
  d.go(0.25, [](Moment& m) { m[S::lambda] = 0.99; });  // 0.20 s between the first and the last
  EXPECT_TRUE(d.began.empty());
  d.go(5);
  d.go(0.5, [](Moment& m) { m[S::lambda] = 0.99; });
  ASSERT_EQ(d.began.size(), 1U);
  EXPECT_EQ(d.began[0].rule, RuleKind::lean_under_load);
  EXPECT_NEAR(d.began[0].began.si, 10.25, 0.051);
  EXPECT_NEAR(d.began[0].fired.si - d.began[0].began.si, 0.3, 0.051);
  d.go(1);
  ASSERT_EQ(d.ended.size(), 1U);
  EXPECT_DOUBLE_EQ(d.ended[0].value, 0.99);
  EXPECT_DOUBLE_EQ(d.ended[0].limit, 0.92);
  EXPECT_NEAR(d.ended[0].lasted().si, 0.45, 0.06);
  EXPECT_DOUBLE_EQ(d.ended[0].speed.rpm, 4000);
  EXPECT_THAT(in_words(d.ended[0]), testing::HasSubstr("Lift off"));
}

TEST(Guard, TheLeanReadingOfAJustOpenedThrottleBelongsToTheCruiseBefore) {
  Drive d;
  d.go(5, [](Moment& m) { m[S::map] = 50e3, m[S::lambda] = 1.0; });
  d.go(0.6, [](Moment& m) { m[S::lambda] = 1.0; });
  d.go(5);
  EXPECT_TRUE(d.began.empty());
}

TEST(Guard, ARevLimiterReadsLeanAndIsNotLean) {
  Drive d;
  d.go(5);
  d.go(0.5, [](Moment& m) { m[S::pulse_width] = 0, m[S::duty] = 0, m[S::lambda] = 1.5; });
  d.go(1.2, [](Moment& m) { m[S::lambda] = 1.1; });
  EXPECT_TRUE(d.began.empty());
}

TEST(Guard, OneWildReadingFiresNothingAtAnyRate) {
  for (const double step : {0.05, 1.0}) {
    Guard guard(safe_rules(a_sheet()), GuardedCar::of(a_sheet()), all_but_knock());
    for (int i = 0; i < 200; ++i) {
      Moment m = pull(step * i);
      if (i % 20 == 10) {
        m[S::lambda] = 1.3;
        m[S::fuel_pressure] = 100e3;
        m[S::coolant] = 395;
        m[S::battery] = 9;
      }
      EXPECT_TRUE(guard.step(m).empty()) << i;
    }
  }
}

TEST(Guard, WhatHasFiredEndsOnlyInsideTheHysteresis) {
  Drive d;
  d.go(3);
  d.go(3, [](Moment& m) { m[S::coolant] = celsius(112).from_zero.si; });
  ASSERT_EQ(d.began.size(), 1U);
  d.go(3, [](Moment& m) { m[S::coolant] = celsius(109).from_zero.si; });
  EXPECT_TRUE(d.ended.empty());
  d.go(1, [](Moment& m) { m[S::coolant] = celsius(106).from_zero.si; });
  ASSERT_EQ(d.ended.size(), 1U);
  EXPECT_NEAR(in_celsius(kelvin(d.ended[0].value)), 112, 1e-9);
}

// Hand calculation: regulator 300 kPa referred to the manifold, MAP 98, ambient 101 kPa: asked are
// 297 kPa; 266 kPa is 31/300 = 10.3 % under, 268 kPa 9.7 %.
TEST(Guard, FuelPressureIsJudgedAgainstWhatTheRegulatorIsAskedFor) {
  Drive d;
  d.go(2);
  d.go(2, [](Moment& m) { m[S::fuel_pressure] = 268e3; });
  EXPECT_TRUE(d.began.empty());
  d.go(1, [](Moment& m) { m[S::fuel_pressure] = 266e3; });
  ASSERT_EQ(d.began.size(), 1U);
  EXPECT_EQ(d.began[0].rule, RuleKind::fuel_pressure);
  EXPECT_NEAR(d.began[0].value, 31.0 / 300, 1e-9);
  d.go(3, [](Moment& m) { m[S::fuel_pressure] = 230e3, m[S::map] = 30e3; });  // 229 kPa asked
  EXPECT_EQ(d.ended.size(), 1U);
}

// Hand calculation: two squirts a cycle of 13.8 ms at 4000 rpm: 0.0138 x 2 x 4000/120 = 92 %.
TEST(Guard, DutyComesFromPulseWidthWhereItIsNotRecorded) {
  SignalSet set = all_but_knock();
  set.reset(static_cast<std::size_t>(S::duty));
  Guard guard(safe_rules(a_sheet()), GuardedCar::of(a_sheet()), set);
  std::vector<Firing> began;
  for (int i = 0; i < 20; ++i) {
    Moment m = pull(0.05 * i);
    m[S::duty] = NAN;
    m[S::pulse_width] = 13.8e-3;
    for (const Firing& f : guard.step(m)) began.push_back(f);
  }
  ASSERT_EQ(began.size(), 1U);
  EXPECT_EQ(began[0].rule, RuleKind::duty);
  EXPECT_NEAR(began[0].value, 0.92, 1e-9);
}

// 10 psi for each 1000 rpm (common practice, no source): 276 kPa at 4000 rpm.
TEST(Guard, OilPressureMustRiseWithSpeed) {
  Drive d;
  d.go(5, [](Moment& m) { m[S::oil_pressure] = 280e3; });
  EXPECT_TRUE(d.began.empty());
  d.go(3, [](Moment& m) { m[S::oil_pressure] = 270e3; });
  ASSERT_EQ(d.began.size(), 1U);
  EXPECT_EQ(d.began[0].rule, RuleKind::oil_pressure);
}

TEST(Guard, BatteryIsJudgedOnlyWhileTheEngineRuns) {
  Drive d;
  d.go(20, [](Moment& m) { m[S::rpm] = 0, m[S::oil_pressure] = 0, m[S::battery] = 11.8; });
  EXPECT_TRUE(d.began.empty());
  d.go(10, [](Moment& m) { m[S::battery] = 11.8; });
  ASSERT_EQ(d.began.size(), 1U);
  EXPECT_EQ(d.began[0].rule, RuleKind::battery_low);
  d.go(10);
  d.go(10, [](Moment& m) { m[S::battery] = 15.6; });
  ASSERT_EQ(d.began.size(), 2U);
  EXPECT_EQ(d.began[1].rule, RuleKind::battery_high);
}

TEST(Guard, OverspeedAndOverPressureGoByTheSheet) {
  Drive d;
  d.go(1);
  d.go(1, [](Moment& m) { m[S::rpm] = 6200; });
  EXPECT_TRUE(d.began.empty());
  d.go(0.5, [](Moment& m) { m[S::rpm] = 6300; });
  d.go(0.5);
  d.go(0.5, [](Moment& m) { m[S::map] = 116e3; });
  ASSERT_EQ(d.began.size(), 2U);
  EXPECT_EQ(d.began[0].rule, RuleKind::overspeed);
  EXPECT_EQ(d.began[1].rule, RuleKind::over_pressure);
}

TEST(Guard, ASensorThatFallsSilentIsLostAndMayComeBack) {
  Drive d;
  d.go(2);
  d.go(2, [](Moment& m) { m[S::lambda] = NAN; });
  ASSERT_EQ(d.began.size(), 1U);
  EXPECT_EQ(d.began[0].rule, RuleKind::sensor_lost);
  EXPECT_EQ(d.began[0].signal, S::lambda);
  d.go(1);
  EXPECT_EQ(d.ended.size(), 1U);
}

TEST(Guard, AReadingThatCannotBeIsASensorFault) {
  Drive d;
  d.go(2);
  d.go(2, [](Moment& m) { m[S::coolant] = celsius(-45).from_zero.si; });
  ASSERT_EQ(d.began.size(), 1U);
  EXPECT_EQ(d.began[0].rule, RuleKind::sensor_fault);
  EXPECT_THAT(in_words(d.began[0]), testing::HasSubstr("coolant"));
}

TEST(Guard, APauseOfTheRecordingIsNoBreach) {
  Guard guard(safe_rules(a_sheet()), GuardedCar::of(a_sheet()), all_but_knock());
  for (int i = 0; i < 20; ++i) {
    Moment m = pull(10.0 * i);
    m[S::battery] = 11;  // always, but never seen for 2 s together
    EXPECT_TRUE(guard.step(m).empty());
  }
}

TEST(Guard, ARuleSwitchedOffIsSilent) {
  Rules rules = safe_rules(a_sheet());
  rules.of(RuleKind::coolant).on = false;
  Guard guard(rules, GuardedCar::of(a_sheet()), all_but_knock());
  for (int i = 0; i < 200; ++i) {
    Moment m = pull(0.05 * i);
    m[S::coolant] = celsius(120).from_zero.si;
    EXPECT_TRUE(guard.step(m).empty());
  }
}

TEST(Guard, WhatIsStillOnAtTheEndIsReported) {
  Drive d;
  d.go(2);
  d.go(3, [](Moment& m) { m[S::coolant] = celsius(115).from_zero.si; });
  const auto last = d.guard.finish();
  ASSERT_EQ(last.size(), 1U);
  EXPECT_TRUE(last[0].over);
  EXPECT_FALSE(d.guard.any_on());
}

}  // namespace
}  // namespace fuelwright::advice::guard_test
