#include "advice/guard/guard_recording.h"

#include <fmt/format.h>
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "car/build/sheet_file.h"
#include "signals/recording/recording.h"

namespace fuelwright::advice::guard_recording_test {
namespace {

car::Sheet a_sheet() {
  const auto sheet = car::read_sheet(
      "[engine]\ndisplacement = \"5.7 l\"\ncylinders = 8\n[cam]\nintake_duration_050 = \"214 "
      "deg\"\n[injection]\ninjector_flow = \"34 lb/h at 43.5 psi\"\n[fuel]\nname = \"E10\"\n",
      "a.toml");
  EXPECT_TRUE(sheet.ok());
  return *sheet;
}

// Thirty seconds at 20 Hz: cruise, a pull from 10 s to 20 s that reads `lambda`, cruise.
signals::Recording a_pull(double lambda, bool timed = true) {
  std::string csv = timed
                        ? "Time (s),RPM,MAP (kPa),Lambda,Coolant (degC),Oil pressure (kPa gauge)\n"
                        : "RPM,MAP (kPa),Lambda,Coolant (degC)\n";
  for (int i = 0; i < 600; ++i) {
    const double t = 0.05 * i;
    const bool load = t >= 10 && t < 20;
    if (timed) csv += fmt::format("{:.2f},", t);
    csv += fmt::format(
        "{:.0f},{:.1f},{:.3f},{:.1f}", load ? 2500 + 200 * (t - 10) : 2000.0 + 10 * (i % 3),
        load ? 97.0 + 0.1 * (i % 4) : 45.0 + 0.2 * (i % 5),
        load && t > 10.4 ? lambda + 0.001 * (i % 3) : 1.0 + 0.001 * (i % 3), 88 + 0.005 * i);
    csv += timed ? ",420\n" : "\n";
  }
  auto r = signals::read_recording(csv, "pull.csv", {});
  EXPECT_TRUE(r.ok()) << (r.ok() ? "" : r.error().line());
  return *r;
}

TEST(GuardedRecording, ALeanPullIsFoundAndARichOneIsNot) {
  const car::Sheet sheet = a_sheet();
  EXPECT_FALSE(guard_recording(a_pull(0.86), safe_rules(sheet), sheet).stop());
  const GuardReport report = guard_recording(a_pull(0.97), safe_rules(sheet), sheet);
  ASSERT_EQ(report.firings.size(), 1U);
  EXPECT_EQ(report.firings[0].rule, RuleKind::lean_under_load);
  EXPECT_NEAR(report.firings[0].began.si, 10.6, 0.11);
  EXPECT_NEAR(report.firings[0].until.si, 19.95, 0.11);
  EXPECT_NEAR(report.seconds, 29.95, 0.1);
}

TEST(GuardedRecording, SaysWhatItCouldNotWatch) {
  const car::Sheet sheet = a_sheet();
  const auto report = guard_recording(a_pull(0.86), safe_rules(sheet), sheet);
  EXPECT_THAT(report.not_watched, testing::Contains("fuel pressure below demand: not recorded"));
  EXPECT_THAT(report.not_watched, testing::Contains("knock: not recorded"));
  EXPECT_THAT(report.watched, testing::Contains("oil pressure"));
  const auto untimed = guard_recording(a_pull(0.97, false), safe_rules(sheet), sheet);
  EXPECT_FALSE(untimed.stop());
  EXPECT_TRUE(untimed.watched.empty());
}

}  // namespace
}  // namespace fuelwright::advice::guard_recording_test
