// Outside checks: real recordings, read from the folder that FUELWRIGHT_OUTSIDE_DATA names. What
// they hold was found by looking at the files themselves; the gears by a histogram drawn
// beforehand.
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <string>
#include <vector>

#include "signals/channels/gears.h"
#include "signals/channels/steadiness.h"
#include "signals/recording/recording.h"

namespace fuelwright::signals::outside_test {
namespace {

using Q = Quantity;

class OutsideRecordings : public ::testing::Test {
 protected:
  void SetUp() override {
    const char* folder = std::getenv("FUELWRIGHT_OUTSIDE_DATA");
    if (folder == nullptr) GTEST_SKIP() << "FUELWRIGHT_OUTSIDE_DATA is not set";
    folder_ = std::string(folder) + "/recordings/";
  }

  std::string bytes(const std::string& name) const {
    auto b = read_file(folder_ + name + ".csv");
    EXPECT_TRUE(b.ok()) << (b.ok() ? "" : b.error().line());
    return b.ok() ? std::move(*b) : std::string{};
  }

  Recording read(const std::string& name, const Answers& answers = {}) const {
    auto r = read_recording(bytes(name), name, answers);
    EXPECT_TRUE(r.ok()) << (r.ok() ? "" : r.error().line());
    return r.ok() ? std::move(*r) : Recording{};
  }

  std::string folder_;
};

const std::vector<std::string> kCompact{"compact_1500_drive1", "compact_1500_live1",
                                        "compact_1500_long2", "compact_1500_idle10"};

struct Expected {
  const char* header;
  Q what;
  const char* unit;
};

void expect_channels(const Recording& r, const std::vector<Expected>& expected) {
  ASSERT_EQ(r.channels.size(), expected.size());
  for (std::size_t i = 0; i < expected.size(); ++i) {
    const Channel& c = r.channels[i];
    EXPECT_EQ(c.header, expected[i].header);
    EXPECT_EQ(c.what, expected[i].what) << c.header << " was taken for " << info(c.what).name;
    EXPECT_EQ(c.unit, expected[i].unit) << c.header;
    EXPECT_GE(c.confidence, kSure) << c.header;
    EXPECT_FALSE(c.reason.empty()) << c.header;
  }
}

TEST_F(OutsideRecordings, OfTheSmallCarNeedNoAnswer) {
  const Recording r = read("small_car_1200");
  EXPECT_EQ(r.rows, 43139U);
  expect_channels(r, {{"RPM", Q::rpm, "rpm"},
                      {"SPEED", Q::speed, "km/h"},
                      {"THROTTLE_POS", Q::throttle, "%"},
                      {"MAF", Q::maf, "g/s"},
                      {"COOLANT_TEMP", Q::coolant, "degC"},
                      {"INTAKE_TEMP", Q::intake_air, "degC"},
                      {"O2_B1S1", Q::oxygen_voltage, "V"},
                      {"ENGINE_LOAD", Q::engine_load, "%"},
                      {"INTAKE_PRESSURE", Q::map, "kPa"},
                      {"O2_B1S2", Q::oxygen_voltage, "V"},
                      {"SHORT_FUEL_TRIM_1", Q::short_trim, "% around 0"},
                      {"LONG_FUEL_TRIM_1", Q::long_trim, "% around 0"},
                      {"segment_id", Q::segment, ""}});
  EXPECT_NEAR(r.find(Q::maf)->si[0], 2.66e-3, 1e-12);
  EXPECT_NEAR(r.find(Q::map)->si[0], 26e3, 1e-9);
  EXPECT_NEAR(r.find(Q::long_trim)->si[0], 0.1797, 1e-12);
}

TEST_F(OutsideRecordings, OfTheSmallCarHaveSevenDrivesAndNoTime) {
  const Recording r = read("small_car_1200");
  EXPECT_EQ(r.pace, Pace::untimed);
  ASSERT_EQ(r.segments.size(), 7U);
  EXPECT_EQ(r.segments.front().label, "6");
  EXPECT_EQ(r.segments.back().label, "12");
  EXPECT_EQ(r.segments[1].first, 6804U);
  Answers stated;
  stated.row_step = *parse_row_step("5 s");
  EXPECT_EQ(read("small_car_1200", stated).pace, Pace::stated_rate);
}

// Both oxygen sensors hold each value three rows, the coolant six: they are polled less often than
// engine speed.
TEST_F(OutsideRecordings, OfTheSmallCarArePolledInTurn) {
  const Recording r = read("small_car_1200");
  EXPECT_EQ(r.simultaneity, Simultaneity::polled_in_turn);
  EXPECT_NEAR(r.find(Q::oxygen_voltage)->refresh.rows.value_or(0), 3, 0.05);
  EXPECT_NEAR(r.find(Q::coolant)->refresh.rows.value_or(0), 6, 0.1);
  EXPECT_NEAR(r.find(Q::rpm)->refresh.rows.value_or(0), 1, 0.01);
}

TEST_F(OutsideRecordings, OfTheCompactNeedNoAnswerForAnyOf27Channels) {
  for (const std::string& name : kCompact) {
    SCOPED_TRACE(name);
    const Recording r = read(name);
    expect_channels(r, {{"ENGINE_RUN_TINE", Q::run_time, "s"},
                        {"ENGINE_RPM", Q::rpm, "rpm"},
                        {"VEHICLE_SPEED", Q::speed, "km/h"},
                        {"THROTTLE", Q::throttle, "%"},
                        {"ENGINE_LOAD", Q::engine_load, "%"},
                        {"COOLANT_TEMPERATURE", Q::coolant, "degC"},
                        {"LONG_TERM_FUEL_TRIM_BANK_1", Q::long_trim, "% around 0"},
                        {"SHORT_TERM_FUEL_TRIM_BANK_1", Q::short_trim, "% around 0"},
                        {"INTAKE_MANIFOLD_PRESSURE", Q::map, "kPa"},
                        {"FUEL_TANK", Q::fuel_level, "%"},
                        {"ABSOLUTE_THROTTLE_B", Q::throttle_other, "%"},
                        {"PEDAL_D", Q::pedal, "%"},
                        {"PEDAL_E", Q::pedal, "%"},
                        {"COMMANDED_THROTTLE_ACTUATOR", Q::throttle_other, "%"},
                        {"FUEL_AIR_COMMANDED_EQUIV_RATIO", Q::commanded_ratio, "lambda"},
                        {"ABSOLUTE_BAROMETRIC_PRESSURE", Q::baro, "kPa"},
                        {"RELATIVE_THROTTLE_POSITION", Q::throttle_other, "%"},
                        {"INTAKE_AIR_TEMP", Q::intake_air, "degC"},
                        {"TIMING_ADVANCE", Q::spark, "deg"},
                        {"CATALYST_TEMPERATURE_BANK1_SENSOR1", Q::catalyst_temperature, "degC"},
                        {"CATALYST_TEMPERATURE_BANK1_SENSOR2", Q::catalyst_temperature, "degC"},
                        {"CONTROL_MODULE_VOLTAGE", Q::battery, "V"},
                        {"COMMANDED_EVAPORATIVE_PURGE", Q::purge, "%"},
                        {"TIME_RUN_WITH_MIL_ON", Q::counter, ""},
                        {"TIME_SINCE_TROUBLE_CODES_CLEARED", Q::counter, ""},
                        {"DISTANCE_TRAVELED_WITH_MIL_ON", Q::counter, ""},
                        {"WARM_UPS_SINCE_CODES_CLEARED", Q::counter, ""}});
    // The commanded ratio stands at zero in all four files, although it should be near 1.
    const Channel* ratio = r.find(Q::commanded_ratio);
    EXPECT_TRUE(ratio->constant);
    EXPECT_NE(ratio->reason.find("carries nothing"), std::string::npos);
    EXPECT_NE(ratio->reason.find("behaves as lambda"), std::string::npos);
  }
}

// Rows come 0.49 s apart, but one round of all channels takes 3.7 rows: no two values of a row need
// be of one instant.
TEST_F(OutsideRecordings, OfTheCompactTakeTurnsInRoundsOfTwoSeconds) {
  for (const std::string& name : kCompact) {
    SCOPED_TRACE(name);
    const Recording r = read(name);
    EXPECT_EQ(r.pace, Pace::timed);
    EXPECT_NEAR(r.row_step->si, 0.491, 0.003);
    EXPECT_EQ(r.segments.size(), 1U);
    EXPECT_EQ(r.simultaneity, Simultaneity::polled_in_turn);
    EXPECT_NEAR(r.round_rows, 3.7, 0.05);
    std::size_t steady = 0;
    const Channel& rpm = *r.find(Q::rpm);
    for (std::size_t i = 0; i < r.rows; ++i) steady += change_around(r, rpm, i) == 0 ? 1 : 0;
    EXPECT_LT(static_cast<double>(steady) / static_cast<double>(r.rows), 0.15)
        << "held values were taken for steady";
  }
}

void expect_gears(const Gears& found, const std::vector<double>& centres, double tolerance) {
  for (const double centre : centres) {
    EXPECT_TRUE(std::ranges::any_of(
        found.gears,
        [&](const Gear& g) { return std::abs(g.rpm_per_kmh / centre - 1) < tolerance; }))
        << "no gear at " << centre << " rpm per km/h; " << found.reason;
  }
}

TEST_F(OutsideRecordings, OfTheSmallCarShowItsGears) {
  constexpr double kTolerance = 0.015;  // the centres were read off a histogram of 2.5 % steps
  const Recording r = read("small_car_1200");
  const Gears found = find_gears(r.find(Q::rpm)->si, r.find(Q::speed)->si);
  expect_gears(found, {28, 35, 49.5, 73.5}, kTolerance);
  EXPECT_LE(found.gears.size(), 5U);  // and a lower one, seldom driven
}

TEST_F(OutsideRecordings, OfTheCompactShowItsGearsWhenPooled) {
  constexpr double kTolerance = 0.02;
  std::vector<double> n_rpm;
  std::vector<double> speed;
  for (const std::string& name : kCompact) {
    const Recording r = read(name);
    const auto add = [](std::vector<double>& to, const Channel& c) {
      to.insert(to.end(), c.si.begin(), c.si.end());
    };
    add(n_rpm, *r.find(Q::rpm));
    add(speed, *r.find(Q::speed));
  }
  const Gears found = find_gears(n_rpm, speed);
  expect_gears(found, {29, 35, 47}, kTolerance);
  ASSERT_EQ(found.gears.size(), 4U);
  EXPECT_GT(found.gears[3].rpm_per_kmh, 68);
  EXPECT_LT(found.gears[3].rpm_per_kmh, 75);
  EXPECT_GT(found.gears[3].spread, 3 * found.gears[0].spread) << "the lowest is a broad one";
}

TEST_F(OutsideRecordings, OfTheIdlingCompactShowNoGears) {
  const Recording r = read("compact_1500_idle10");
  const Gears found = find_gears(r.find(Q::rpm)->si, r.find(Q::speed)->si);
  EXPECT_TRUE(found.gears.empty());
  EXPECT_NE(found.reason.find("stands still"), std::string::npos);
}

TEST_F(OutsideRecordings, CutAtAnyPlaceGiveTheWholeRowsBefore) {
  const std::string whole = bytes("compact_1500_idle10");
  for (std::size_t cut = whole.size() / 2; cut < whole.size() / 2 + 700; cut += 13) {
    const std::string_view part(whole.data(), cut);
    const auto r = read_recording(part, "cut", {});
    ASSERT_TRUE(r.ok()) << r.error().line();
    EXPECT_EQ(r->rows + 1, static_cast<std::size_t>(std::ranges::count(part, '\n')));
  }
}

}  // namespace
}  // namespace fuelwright::signals::outside_test
