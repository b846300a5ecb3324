// Key on, engine off: rows written by hand, one thing wrong at a time.
#include <fmt/format.h>
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "advice/sensor_checks/sensor_checks.h"
#include "car/build/sheet_file.h"
#include "signals/recording/recording.h"

namespace fuelwright::advice::key_on_test {
namespace {

using testing::HasSubstr;

car::Sheet a_sheet(const std::string& place = "") {
  const auto sheet = car::read_sheet(
      "[engine]\ndisplacement = \"5.7 l\"\ncylinders = 8\n[cam]\nintake_duration_050 = \"214 "
      "deg\"\n[injection]\ninjector_flow = \"34 lb/h at 43.5 psi\"\nregulator_pressure = \"300 "
      "kPa\"\n[fuel]\nname = \"E10\"\n" +
          place,
      "a.toml");
  EXPECT_TRUE(sheet.ok()) << (sheet.ok() ? "" : sheet.error().line());
  return *sheet;
}

struct Rest {
  double map_kpa = 100.3, coolant = 18.2, intake = 17.6, battery = 12.6, lambda = 1.6, rail = 300;
  double closed = 0, open = 100, fall = 2;  // %, kPa in 10 s
};

signals::Recording rows(const Rest& x) {
  std::string csv =
      "Time (s),RPM,MAP (kPa),TPS (%),Coolant (degC),Intake air (degC),Lambda,Battery (V),Fuel "
      "pressure (kPa gauge)\n";
  for (int i = 0; i < 600; ++i) {
    const double t = 0.05 * i;
    const double press = std::clamp(std::min((t - 10) / 2, (16 - t) / 2), 0.0, 1.0);
    csv +=
        fmt::format("{:.2f},0,{:.1f},{:.1f},{:.1f},{:.1f},{:.3f},{:.2f},{:.1f}\n", t,
                    x.map_kpa + 0.1 * (i % 3 - 1), x.closed + press * (x.open - x.closed),
                    x.coolant + 0.1 * (i % 2), x.intake, t < 5 ? 0.7 : x.lambda, x.battery,
                    t < 0.5 ? 600 * t * x.rail / 300 : x.rail - x.fall * std::max(0.0, t - 3) / 10);
  }
  signals::Answers answers;
  for (const char* one :
       {"MAP=map:kPa", "TPS=throttle:%", "Coolant=coolant:degC", "Intake air=intake_air:degC",
        "Battery=battery:V", "RPM=rpm:rpm", "Fuel pressure=fuel_pressure:kPa gauge"}) {
    EXPECT_TRUE(signals::add_channel_answer(answers, one).ok());
  }
  auto r = signals::read_recording(csv, "key_on.csv", answers);
  EXPECT_TRUE(r.ok()) << (r.ok() ? "" : r.error().line());
  return *r;
}

SensorReport report_of(const Rest& x, WeatherReport weather = {.station = absolute(100.0 * kPa)}) {
  static const car::Sheet sheet = a_sheet();
  return check_key_on(rows(x), {.sheet = sheet, .weather = weather});
}

TEST(KeyOn, ASoundCarHasNothingAgainstIt) {
  const SensorReport r = report_of({});
  EXPECT_EQ(r.worst(), Grade::fine);
  EXPECT_EQ(r.findings.size(), 7U);
  for (const Finding& f : r.findings) EXPECT_FALSE(f.seen.empty());
}

TEST(KeyOn, AManifoldPressureOffByFiveKilopascalIsAStopAndRefused) {
  const SensorReport r = report_of({.map_kpa = 105.2});
  const Finding* f = r.find(Check::ambient_pressure);
  ASSERT_TRUE(f);
  EXPECT_EQ(f->grade, Grade::stop);
  EXPECT_NEAR(f->evidence.size, 5200, 60);
  EXPECT_LT(f->evidence.false_alarm, 1e-6);
  EXPECT_TRUE(r.masks.refused(signals::Quantity::map).has_value());
}

// U.S. Standard Atmosphere 1976: 1500 m has 84.56 kPa where sea level has 101.325 (table).
TEST(KeyOn, AWeatherReportIsBroughtToTheAltitudeOfThePlace) {
  const car::Sheet sheet = a_sheet();
  const PlacePressure p =
      place_pressure({.sea_level = absolute(101.325 * kPa), .altitude = 1500.0 * metre}, sheet);
  EXPECT_NEAR(p.pressure.from_zero.in(kPa), 84.56, 0.02);
  EXPECT_NEAR(2 * p.sd.in(kPa), 2.0, 1e-9);
}

TEST(KeyOn, TheSeaLevelFigureTakenForTheStationsIsNamed) {
  const SensorReport r =
      report_of({.map_kpa = 84.5}, {.station = absolute(101.3 * kPa), .altitude = 1500.0 * metre});
  const Finding* f = r.find(Check::ambient_pressure);
  ASSERT_TRUE(f);
  EXPECT_EQ(f->grade, Grade::stop);
  EXPECT_THAT(f->seen, HasSubstr("sea-level"));
}

TEST(KeyOn, WithoutABarometerTwoKilopascalProveNothing) {
  const SensorReport r = report_of({.map_kpa = 101.3 + 2.0},
                                   {.sea_level = absolute(101.3 * kPa), .altitude = 0.0 * metre});
  EXPECT_EQ(r.find(Check::ambient_pressure)->grade, Grade::fine);
}

TEST(KeyOn, CoolantTenDegreesOffAfterANightIsNamedWithTheSensorAtFault) {
  const SensorReport r =
      report_of({.coolant = 7.9},
                {.station = absolute(100.0 * kPa), .air = celsius(18), .stood = 12.0 * hour});
  const Finding* f = r.find(Check::temperatures_agree);
  ASSERT_TRUE(f);
  EXPECT_NE(f->grade, Grade::fine);
  EXPECT_EQ(f->sensor, signals::Quantity::coolant);
  EXPECT_NEAR(f->evidence.size, -9.7, 0.2);
}

TEST(KeyOn, AnEngineStillWarmIsAskedAboutAndNotAccused) {
  const SensorReport r = report_of({.coolant = 70});
  EXPECT_EQ(r.find(Check::temperatures_agree), nullptr);
  EXPECT_THAT(r.not_checked[0].because, HasSubstr("how long the car has stood"));
}

TEST(KeyOn, ThrottleEndsAreJudged) {
  EXPECT_EQ(report_of({.closed = 8}).find(Check::throttle_ends)->grade, Grade::doubt);
  EXPECT_EQ(report_of({.closed = 20}).find(Check::throttle_ends)->grade, Grade::stop);
  EXPECT_EQ(report_of({.open = 80}).find(Check::throttle_ends)->grade, Grade::doubt);
  EXPECT_THAT(report_of({.open = 2}).find(Check::throttle_ends)->seen, HasSubstr("not pressed"));
}

TEST(KeyOn, AFlatBatteryAndAFullOneAreToldApart) {
  EXPECT_EQ(report_of({.battery = 11.7}).find(Check::battery_at_rest)->grade, Grade::stop);
  EXPECT_EQ(report_of({.battery = 12.4}).find(Check::battery_at_rest)->grade, Grade::fine);
}

TEST(KeyOn, FreeAirMustReadFullLeanUnlessTheGaugeEndsThere) {
  EXPECT_EQ(report_of({}).find(Check::mixture_in_free_air)->grade, Grade::fine);
  // Standing at exactly one value, its highest: the end of a gauge.
  EXPECT_EQ(report_of({.lambda = 1.22}).find(Check::mixture_in_free_air)->grade, Grade::fine);
  EXPECT_EQ(report_of({.lambda = 1.02}).find(Check::mixture_in_free_air)->grade, Grade::stop);
}

// 0.3 bar of 3 bar: the flow is off by 1 - sqrt(0.9) = 5.1 % (exact).
TEST(KeyOn, StaticFuelPressureAndItsDecayAreJudged) {
  EXPECT_EQ(report_of({.rail = 270}).find(Check::fuel_pressure_static)->grade, Grade::stop);
  EXPECT_EQ(report_of({.rail = 297}).find(Check::fuel_pressure_static)->grade, Grade::fine);
  EXPECT_EQ(report_of({.fall = 80}).find(Check::fuel_pressure_decay)->grade, Grade::doubt);
  EXPECT_EQ(report_of({.fall = 8}).find(Check::fuel_pressure_decay)->grade, Grade::fine);
}

}  // namespace
}  // namespace fuelwright::advice::key_on_test
