// Sensor checks and guard on recordings of real cars, made by other people's programs: no false
// stop, and what is odd about them named. Checks of the data: polled in turn about every half
// second, and a long-term trim of +14.5 % on the small car.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cstdlib>

#include "advice/guard/guard_recording.h"
#include "advice/sensor_checks/sensor_checks.h"
#include "car/build/sheet_file.h"
#include "signals/recording/recording.h"

namespace fuelwright::advice {
namespace {

struct Looked {
  SensorReport sensors;
  GuardReport guard;
};

class OutsideRealSensors : public testing::Test {
 protected:
  void SetUp() override {
    const char* folder = std::getenv("FUELWRIGHT_OUTSIDE_DATA");
    if (!folder) GTEST_SKIP() << "FUELWRIGHT_OUTSIDE_DATA is not set";
    data_ = folder;
  }
  Looked look(const std::string& file, const std::string& litres) const {
    const auto bytes = signals::read_file(data_ + "/recordings/" + file);
    EXPECT_TRUE(bytes) << file;
    const auto r = signals::read_recording(*bytes, file, {});
    EXPECT_TRUE(r) << r.error().line();
    const auto sheet = car::read_sheet(
        "[engine]\ndisplacement = \"" + litres +
            "\"\ncylinders = 4\n[cam]\nintake_duration_050 = \"196 deg\"\n[injection]\n"
            "injector_flow = \"140 cc/min at 3.8 bar\"\n[fuel]\nname = \"E5\"\n",
        "real.toml");
    EXPECT_TRUE(sheet);
    return {check_running(*r, {.sheet = *sheet}), guard_recording(*r, safe_rules(*sheet), *sheet)};
  }
  static void expect_no_stop(const Looked& l, const std::string& file) {
    for (const Finding& f : l.sensors.findings) {
      EXPECT_NE(f.grade, Grade::stop) << file << ": " << f.seen;
    }
    for (const Firing& f : l.guard.firings) ADD_FAILURE() << file << ": " << in_words(f);
  }
  std::string data_;
};

TEST_F(OutsideRealSensors, TheSmallCarsTrimOfFourteenPercentIsNamedAndNothingStopsIt) {
  const Looked l = look("small_car_1200.csv", "1.229 l");
  expect_no_stop(l, "small_car_1200.csv");
  const Finding* trim = l.sensors.find(Check::standing_correction);
  ASSERT_NE(trim, nullptr);
  EXPECT_EQ(trim->grade, Grade::doubt) << trim->seen;
  EXPECT_THAT(trim->seen, testing::HasSubstr("+14.5 %"));
}

TEST_F(OutsideRealSensors, TheCompactCarsSkewOfPollingIsNamedAndNothingStopsIt) {
  for (const char* file : {"compact_1500_drive1.csv", "compact_1500_idle10.csv",
                           "compact_1500_live1.csv", "compact_1500_long2.csv"}) {
    const Looked l = look(file, "1.5 l");
    expect_no_stop(l, file);
    const Finding* polled = l.sensors.find(Check::polled);
    ASSERT_NE(polled, nullptr) << file;
    EXPECT_EQ(polled->grade, Grade::doubt) << polled->seen;
    EXPECT_GT(polled->evidence.size, 3) << file;  // rows from one renewal to the next
    EXPECT_EQ(l.sensors.find(Check::rate)->grade, Grade::doubt) << file;
    // Its trims are within a few percent: no standing correction.
    EXPECT_EQ(l.sensors.find(Check::standing_correction)->grade, Grade::fine) << file;
  }
}

}  // namespace
}  // namespace fuelwright::advice
