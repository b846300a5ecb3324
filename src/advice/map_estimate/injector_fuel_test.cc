#include "advice/map_estimate/injector_fuel.h"

#include <gtest/gtest.h>

#include <cmath>
#include <string>

#include "car/build/sheet_file.h"

namespace fuelwright::advice::injector_fuel_test {
namespace {

car::Sheet sheet_of(const char* more) {
  const auto sheet = car::read_sheet(
      std::string("[engine]\ndisplacement = \"2.0 l\"\ncylinders = 4\n[cam]\nintake_duration_050 = "
                  "\"205 deg\"\n[fuel]\nname = \"E10\"\n"
                  "[injection]\ninjector_flow = \"250 cc/min at 3 bar\"\n"
                  "regulator_pressure = \"3 bar\"\ndead_time = \"0.9 ms\"\n") +
          more,
      "test.toml");
  EXPECT_TRUE(sheet.ok()) << (sheet.ok() ? "" : sheet.error().line());
  return *sheet;
}

TEST(InjectorFuel, AManifoldReferencedRailKeepsItsPressureAcrossAPortInjector) {
  const car::Sheet s = sheet_of("regulator_reference = \"manifold\"\n");
  for (const double kpa : {30.0, 60.0, 100.0}) {
    const auto dp =
        pressure_across_injector(s.injection, absolute(kpa * kPa), absolute(100.0 * kPa));
    EXPECT_NEAR(dp.in(kPa), 300.0, 1e-9);
  }
}

TEST(InjectorFuel, AnAmbientReferencedRailFeedsHarderIntoVacuum) {
  // 300 kPa above 100 kPa ambient, tip at 40 kPa: 360 kPa; by hand the flow is sqrt(360/300).
  const car::Sheet s = sheet_of("regulator_reference = \"atmosphere\"\n");
  const auto dp =
      pressure_across_injector(s.injection, absolute(40.0 * kPa), absolute(100.0 * kPa));
  EXPECT_NEAR(dp.in(kPa), 360.0, 1e-9);
  EXPECT_NEAR(injector_flow(s, dp).si / injector_flow(s, 300.0 * kPa).si, 1.0954, 1e-4);
}

TEST(InjectorFuel, ASaggingBatteryOpensTheInjectorLater) {
  // (14/12)^1.6 = 1.280, by hand: 0.9 ms becomes 1.15 ms.
  const car::Sheet s = sheet_of("");
  const double at = s.injection.dead_time_voltage.si();
  EXPECT_NEAR(dead_time(s.injection, at * 12 / 14 * volt).in(ms), 1.152, 1e-3);
  EXPECT_NEAR(dead_time(s.injection, NAN * volt).in(ms), 0.9, 1e-12);
}

}  // namespace
}  // namespace fuelwright::advice::injector_fuel_test
