// A drive made by formula, sound or with one thing wrong: speed, load and mixture that move, and
// noise.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <random>

#include "advice/sensor_checks/sensor_checks.h"
#include "car/build/sheet_file.h"
#include "signals/channels/steadiness.h"

namespace fuelwright::advice::running_test {
namespace {

using Q = signals::Quantity;
using signals::Recording;

constexpr double kStep_s = 0.05;
constexpr std::size_t kRows = 12000;  // ten minutes

car::Sheet a_sheet() {
  const auto sheet = car::read_sheet(
      "[engine]\ndisplacement = \"5.7 l\"\ncylinders = 8\n[cam]\nintake_duration_050 = \"214 "
      "deg\"\n[injection]\ninjector_flow = \"34 lb/h at 43.5 psi\"\nregulator_pressure = \"300 "
      "kPa\"\nregulator_reference = \"manifold\"\n[fuel]\nname = \"E10\"\n[place]\npressure = "
      "\"100 "
      "kPa +- 2 kPa\"\n",
      "a.toml");
  EXPECT_TRUE(sheet.ok()) << (sheet.ok() ? "" : sheet.error().line());
  return *sheet;
}

std::vector<double>& of(Recording& r, Q q) {
  for (auto& c : r.channels) {
    if (c.what == q) return c.si;
  }
  throw std::runtime_error("no such channel");
}

Recording a_drive() {
  Recording r;
  r.name = "formula";
  r.rows = kRows;
  r.pace = signals::Pace::timed;
  r.row_step = kStep_s * second;
  r.segments = {{0, kRows, "1"}};
  const auto add = [&](Q q) {
    signals::Channel c;
    c.what = q;
    c.kind = signals::info(q).kind;
    c.header = signals::info(q).name;
    c.confidence = 1;
    c.si.resize(kRows);
    r.channels.push_back(c);
  };
  for (const Q q : {Q::rpm, Q::map, Q::throttle, Q::coolant, Q::intake_air, Q::lambda, Q::target,
                    Q::correction, Q::battery, Q::fuel_pressure, Q::speed, Q::pulse_width}) {
    add(q);
  }
  std::mt19937_64 g(5);
  std::normal_distribution<> n;
  double phi = 1;
  for (std::size_t i = 0; i < kRows; ++i) {
    const double t = kStep_s * static_cast<double>(i);
    r.time_s.push_back(t);
    const double phase = std::fmod(t, 60);
    const bool idle = phase < 15;
    const bool pull = phase > 40 && phase < 44;
    const bool cut = phase > 50 && phase < 55;
    const double slow = std::sin(0.21 * t) + 0.4 * std::sin(1.3 * t);
    const double rpm =
        idle ? 780 + 6 * n(g) : (pull ? 2200 + 350 * (phase - 40) : 2000 + 300 * slow + 6 * n(g));
    const double map = idle ? 36 : (pull ? 98.4 : (cut ? 26 : 55 + 14 * slow));
    const double lambda = pull ? 0.88 : (cut ? 1e3 : 1.0);
    const double before = std::fmod(t - 0.35, 60);  // delay
    const double arriving =
        before > 40 && before < 44 ? 0.88 : (before > 50 && before < 55 ? 1e3 : 1.0);
    phi += (1 / arriving - phi) * (1 - std::exp(-kStep_s / 0.1));
    of(r, Q::rpm)[i] = rpm;
    of(r, Q::map)[i] = 1e3 * (map + 0.25 * n(g));
    of(r, Q::throttle)[i] = pull ? 1.0 : (idle || cut ? 0.0 : 0.2 + 0.05 * slow);
    of(r, Q::coolant)[i] = 361 + 0.5 * std::sin(0.01 * t);
    of(r, Q::intake_air)[i] = 300 + (idle ? 2 : 0);
    of(r, Q::lambda)[i] = std::min(1 / std::max(phi, 1e-3), 1.6) * (1 + 0.005 * n(g));
    of(r, Q::lambda)[i] = std::min(of(r, Q::lambda)[i], 1.6);
    of(r, Q::target)[i] = cut ? 1.0 : lambda;
    of(r, Q::correction)[i] = 0.01 * std::sin(0.05 * t);
    of(r, Q::battery)[i] = 13.9 + 0.03 * n(g);
    of(r, Q::fuel_pressure)[i] = 300e3 + 1e3 * (map - 100) + 1e3 * n(g);
    of(r, Q::speed)[i] = idle ? 0 : 16 + slow;
    of(r, Q::pulse_width)[i] = cut ? 0 : 1e-3 + 9e-5 * map;
  }
  signals::judge_simultaneity(r);
  return r;
}

SensorReport report_of(const Recording& r) {
  static const car::Sheet sheet = a_sheet();
  return check_running(r, {.sheet = sheet});
}

void expect(const Recording& r, Check check, Grade least) {
  const SensorReport report = report_of(r);
  const Finding* f = report.find(check);
  ASSERT_TRUE(f) << words_of(check).name;
  EXPECT_GE(f->grade, least) << f->seen;
  EXPECT_FALSE(f->why.empty());
  EXPECT_FALSE(f->what_to_do.empty());
}

TEST(Running, ASoundDriveIsNeitherStoppedNorRefused) {
  const SensorReport r = report_of(a_drive());
  for (const Finding& f : r.findings) {
    EXPECT_NE(f.grade, Grade::stop) << words_of(f.check).name << ": " << f.seen;
  }
  EXPECT_FALSE(r.refused().has_value());
}

TEST(Running, AStuckPressureIsFoundMaskedAndItsOtherRowsStay) {
  Recording r = a_drive();
  auto& map = of(r, Q::map);
  for (std::size_t i = 4400; i < 4500; ++i) map[i] = map[4400];
  const SensorReport report = report_of(r);
  EXPECT_EQ(report.find(Check::stuck)->grade, Grade::stop);
  EXPECT_FALSE(report.masks.usable(4450, {Q::map}));
  EXPECT_TRUE(report.masks.usable(4600, {Q::map}));
  EXPECT_TRUE(report.masks.usable(4450, {Q::rpm}));
}

TEST(Running, SpikesLostTeethAndBlanksAreToldApart) {
  Recording spikes = a_drive();
  for (std::size_t i = 100; i < kRows; i += 50) of(spikes, Q::map)[i] = 5e3;
  expect(spikes, Check::spikes, Grade::stop);
  Recording teeth = a_drive();
  for (std::size_t i = 100; i < kRows; i += 30) of(teeth, Q::rpm)[i] *= 0.9;
  expect(teeth, Check::trigger, Grade::stop);
  EXPECT_EQ(report_of(teeth).find(Check::spikes)->grade, Grade::fine);
  Recording blanks = a_drive();
  for (std::size_t i = 100; i < kRows; i += 40) of(blanks, Q::map)[i] = NAN;
  expect(blanks, Check::dropouts, Grade::doubt);
}

TEST(Running, AnOffsetOfFiveKilopascalShowsWithTheThrottleOpen) {
  Recording r = a_drive();
  for (double& p : of(r, Q::map)) p += 5e3;
  const SensorReport report = report_of(r);
  EXPECT_EQ(report.find(Check::map_offset)->grade, Grade::stop);
  EXPECT_NEAR(report.find(Check::map_offset)->evidence.size, 5e3, 1.5e3);
  EXPECT_THAT(*report.refused(), testing::HasSubstr("kPa off"));
}

TEST(Running, ARegulatorOffAndARailThatSagsAreToldApart) {
  Recording off = a_drive();
  for (double& p : of(off, Q::fuel_pressure)) p -= 30e3;
  EXPECT_NE(report_of(off).find(Check::regulator)->grade, Grade::fine);
  EXPECT_EQ(report_of(off).find(Check::fuel_demand)->grade, Grade::fine);
  Recording sags = a_drive();
  for (std::size_t i = 0; i < kRows; ++i) {
    if (of(sags, Q::map)[i] > 90e3) of(sags, Q::fuel_pressure)[i] -= 30e3;
  }
  EXPECT_EQ(report_of(sags).find(Check::fuel_demand)->grade, Grade::stop);
  EXPECT_EQ(report_of(sags).find(Check::regulator)->grade, Grade::fine);
}

TEST(Running, AFuelCutThatDoesNotReadFullLeanStopsAndAGaugesEndDoesNot) {
  Recording wrong = a_drive();
  std::mt19937_64 g(3);
  std::normal_distribution<> n;
  for (double& v : of(wrong, Q::lambda)) {
    if (v > 1) v = (1 + 0.4 * (v - 1)) * (1 + 0.004 * n(g));
  }
  expect(wrong, Check::mixture_in_cut, Grade::stop);
  Recording end = a_drive();
  for (double& v : of(end, Q::lambda)) v = std::min(v, 1.25);
  EXPECT_EQ(report_of(end).find(Check::mixture_in_cut)->grade, Grade::fine);
}

TEST(Running, AStepOfFivePercentEverywhereIsAStepAndNoDrift) {
  Recording r = a_drive();
  for (std::size_t i = kRows / 2; i < kRows; ++i) of(r, Q::correction)[i] += 0.05;
  const SensorReport report = report_of(r);
  const Evidence step = report.find(Check::level_step)->evidence;
  EXPECT_NE(report.find(Check::level_step)->grade, Grade::fine);
  constexpr double kSway = 0.01;  // of the correction, besides
  EXPECT_NEAR(step.size, std::log(1.05), kSway + 1.96 * step.sd);
  EXPECT_LT(step.sd, 0.010);
  EXPECT_NEAR(report.find(Check::level_step)->from.si, 300, 25);
  EXPECT_EQ(report.find(Check::level_drift)->grade, Grade::fine);
}

TEST(Running, ALowVoltageAndASoundOneAreToldApart) {
  Recording r = a_drive();
  for (double& v : of(r, Q::battery)) v -= 1.2;
  expect(r, Check::voltage, Grade::doubt);
}

TEST(Running, CoolantThatJumpsTenDegreesIsNamed) {
  Recording r = a_drive();
  for (std::size_t i = 6000; i < kRows; ++i) of(r, Q::coolant)[i] -= 10;
  expect(r, Check::coolant_steps, Grade::doubt);
}

TEST(Running, CoarseStepsAndNoiseAreMeasured) {
  Recording coarse = a_drive();
  for (double& p : of(coarse, Q::map)) p = 3e3 * std::round(p / 3e3);
  const SensorReport report = report_of(coarse);
  EXPECT_EQ(report.find(Check::quantised)->grade, Grade::doubt);
  EXPECT_NEAR(report.find(Check::quantised)->evidence.size, 3e3, 1);
  Recording noisy = a_drive();
  std::mt19937_64 g(8);
  std::normal_distribution<> n;
  for (double& p : of(noisy, Q::map)) p += 2e3 * n(g);
  expect(noisy, Check::noise, Grade::doubt);
}

TEST(Running, GapsAndUnsteadyStampsAreMeasured) {
  Recording gaps = a_drive();
  for (std::size_t i = 5000; i < kRows; ++i) gaps.time_s[i] += 12;
  const SensorReport report = report_of(gaps);
  EXPECT_EQ(report.find(Check::clock_gaps)->grade, Grade::doubt);
  EXPECT_NEAR(report.find(Check::clock_gaps)->evidence.size, 12, 0.1);
  EXPECT_FALSE(report.masks.usable(5001, {Q::rpm}));
  Recording shaky = a_drive();
  std::mt19937_64 g(4);
  std::normal_distribution<> n;
  for (double& t : shaky.time_s) t += 0.015 * n(g);
  const SensorReport second_report = report_of(shaky);
  EXPECT_EQ(second_report.find(Check::clock_jitter)->grade, Grade::doubt);
  EXPECT_NEAR(second_report.find(Check::clock_jitter)->evidence.size, 0.015, 0.003);
}

TEST(Running, WithoutTimeNothingIsSaidAboutSecondsAndNothingIsAccused) {
  Recording r = a_drive();
  r.pace = signals::Pace::untimed;
  r.time_s.clear();
  r.row_step.reset();
  const SensorReport report = report_of(r);
  EXPECT_NE(report.worst(), Grade::stop);
  EXPECT_EQ(report.find(Check::clock_jitter), nullptr);
  EXPECT_FALSE(report.not_checked.empty());
}

TEST(Running, AnEmptyOrDumbRecordingIsRefusedWithAReason) {
  Recording r = a_drive();
  for (double& v : of(r, Q::rpm)) v = 0;
  const SensorReport report = report_of(r);
  EXPECT_THAT(*report.refused(), testing::HasSubstr("engine standing"));
}

}  // namespace
}  // namespace fuelwright::advice::running_test
