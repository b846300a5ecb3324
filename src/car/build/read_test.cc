#include <gtest/gtest.h>

#include <algorithm>
#include <fstream>
#include <sstream>

#include "car/build/derived.h"
#include "car/build/sheet_file.h"

namespace fuelwright::car::read_test {
namespace {

constexpr double kTight = 1e-12;  // relative: one multiplication

std::string example(const std::string& name) {
  std::ifstream in(std::string(FUELWRIGHT_SOURCE_DIR) + "/examples/" + name);
  std::stringstream out;
  out << in.rdbuf();
  return out.str();
}

const std::string kFive =
    "[engine]\ndisplacement = \"5.7 l\"\ncylinders = 8\n[cam]\nintake_duration_050 = \"214 deg\"\n"
    "[injection]\ninjector_flow = \"36 lb/h at 43.5 psi\"\n[fuel]\nname = \"E10\"\n";

Sheet read(const std::string& text) {
  auto sheet = read_sheet(text, "sheet.toml");
  EXPECT_TRUE(sheet.ok()) << (sheet.ok() ? "" : sheet.error().line());
  return sheet.ok() ? *sheet : Sheet{};
}

TEST(ReadSheet, ValuesComeOutInTheirUnitWithToleranceAndSource) {
  const Sheet s = read(example("street_v8.toml"));
  EXPECT_NEAR(s.engine.bore.value.in(mm), 102.362, 1e-9);     // 4.030 * 25.4
  EXPECT_NEAR(s.engine.bore.tolerance.in(mm), 0.0508, 1e-9);  // 0.002 * 25.4
  EXPECT_EQ(s.engine.bore.source, Source::measured);
  EXPECT_DOUBLE_EQ(s.engine.compression.value, 9.6);
  EXPECT_DOUBLE_EQ(s.engine.compression.tolerance, 0.2);
  EXPECT_EQ(s.engine.compression.reason, "chambers and pistons were measured with a burette");
  EXPECT_EQ(s.engine.stroke.source, Source::stated);
  EXPECT_NEAR(s.cam.intake_duration_050.value.degrees(), 222, 1e-9);
  EXPECT_EQ(s.engine.firing_order.values, (std::vector<int>{1, 8, 4, 3, 6, 5, 7, 2}));
  EXPECT_EQ(s.injection.arrangement.value, InjectionArrangement::ports);
  EXPECT_NEAR(s.injection.injector_flow.value.in(lb_per_h), 36, 1e-9);
  EXPECT_NEAR(s.injection.injector_pressure.value.in(psi), 43.5, 1e-9);
  EXPECT_NEAR(s.heads.flow_intake.values[1].si, 128 * 0.3048 * 0.3048 * 0.3048 / 60, 1e-9);  // cfm
  EXPECT_NEAR(s.heads.flow_intake.tolerance, 0.04, kTight);
}

// By hand: pi/4 * 10.2362^2 * 9.19988 * 8 = 6056.8 cm3.
TEST(ReadSheet, DisplacementFollowsFromBoreAndStroke) {
  const Sheet s = read(example("street_v8.toml"));
  EXPECT_NEAR(s.engine.displacement.value.in(cm3), 6056.8, 0.1);
  EXPECT_EQ(s.engine.displacement.source, Source::computed);
  EXPECT_NEAR(cylinder_volume(s).in(cm3), 6056.8 / 8, 0.02);
}

TEST(ReadSheet, StrokeFollowsFromDisplacementAndBore) {
  const Sheet s = read(
      "[engine]\ndisplacement = \"2.0 l\"\nbore = \"86 mm\"\ncylinders = "
      "4\n[cam]\nintake_duration_050 "
      "= \"210 deg\"\n[injection]\ninjector_flow = \"250 cc/min at 3 bar\"\n[fuel]\nname = "
      "\"petrol\"\n");
  EXPECT_NEAR(s.engine.stroke.value.in(mm), 86.08, 0.01);  // 500 cm3 / (pi/4 * 8.6^2 cm2)
  EXPECT_EQ(s.engine.stroke.source, Source::computed);
}

TEST(ReadSheet, AMixtureStatedOnFourteenSevenIsLambdaWhateverTheFuel) {
  const Sheet s = read(example("street_v8.toml"));
  EXPECT_EQ(s.fuel.name.value, "E10");
  EXPECT_NEAR(s.wishes.full_throttle_mixture.value.value, 12.6 / 14.7, kTight);
  EXPECT_NEAR(s.fuel.stoichiometric.value, 14.014, 6e-4);
}

TEST(ReadSheet, AVolumeFlowOfInjectorsIsWeighedWithItsRatedFluid) {
  const std::string text =
      kFive.substr(0, kFive.find("[injection]")) +
      "[injection]\ninjector_flow = \"380 cc/min @ 3 bar\"\n[fuel]\nname = \"E10\"\n";
  const Sheet typical = read(text);
  EXPECT_EQ(typical.injection.rated_density.source, Source::typical);
  const double rho = typical.injection.rated_density.value.in(kg_per_litre);
  EXPECT_NEAR(typical.injection.injector_flow.value.in(g_per_s), 380 * rho / 60, 1e-9);
  EXPECT_NEAR(typical.injection.injector_pressure.value.in(kPa), 300, 1e-9);
  // The spread of the fluid counts: 3 % of the flow and 5.4 % of the density together.
  EXPECT_GT(typical.injection.injector_flow.tolerance / typical.injection.injector_flow.value,
            0.055);
  const Sheet rated = read(text + "[place]\naltitude = \"0 m\"\n");
  EXPECT_EQ(rated.injection.injector_flow.value, typical.injection.injector_flow.value);
  std::string given = text;
  given.insert(given.find("[fuel]"), "rated_density = \"0.684 kg/l\"\n");
  EXPECT_NEAR(read(given).injection.injector_flow.value.in(g_per_s), 380 * 0.684 / 60, 1e-9);
}

TEST(ReadSheet, FuelPressuresMayBeWrittenAsGaugeReadings) {
  const Sheet s = read(kFive + "[intake]\n[exhaust]\nback_pressure = \"2 psi\"\n");
  EXPECT_NEAR(s.exhaust.back_pressure.value.above_ambient.in(psi), 2, 1e-9);
  std::string gauge = kFive;
  gauge.insert(gauge.find("[fuel]"), "regulator_pressure = \"43.5 psi gauge\"\n");
  EXPECT_NEAR(read(gauge).injection.regulator_pressure.value.in(psi), 43.5, 1e-9);
}

TEST(ReadSheet, TheAxesOfTheUnitAreTheUsersOwn) {
  const Sheet vacuum = read(
      kFive +
      "[wishes]\nload_axis = \"vacuum\"\nload_points = [\"0 inHg\", \"10 inHg\", \"20 inHg\"]\n");
  const Grid grid = table_grid(vacuum);
  EXPECT_EQ(grid.y.kind(), AxisKind::vacuum);
  EXPECT_NEAR(grid.y[1], 33863.89, 1e-6);
  const Sheet throttle = read(kFive +
                              "[wishes]\nload_axis = \"throttle\"\nload_points = { values = [0, "
                              "50, 100], unit = \"%\" }\n");
  EXPECT_DOUBLE_EQ(table_grid(throttle).y[1], 0.5);
  std::string many = "[wishes]\nspeed_points = { unit = \"rpm\", values = [500";
  for (int i = 1; i < 64; ++i) many += ", " + std::to_string(500 + 100 * i);
  EXPECT_EQ(table_grid(read(kFive + many + "] }\n")).x.size(), 64u);
}

TEST(ReadSheet, AMixtureSensorSaysWhatItSeesAndOnWhichScale) {
  const Sheet s = read(example("street_v8.toml"));
  ASSERT_EQ(s.sensors.mixture.size(), 1u);
  const MixtureSensor& sensor = s.sensors.mixture[0];
  EXPECT_EQ(sensor.scale.value, MixtureScale::in_afr(14.7).value());
  EXPECT_EQ(sensor.cylinders.values, (std::vector<int>{1, 3, 5, 7}));
  EXPECT_NEAR(sensor.distance.value.in(inch), 38, 1e-9);
}

// By hand: 15 in / 2 = 190.5 mm, 225 * 0.60 = 135 mm; 0.965 * 325.5 = 314.1 mm.
TEST(ReadSheet, ATyresSizeGivesItsRollingRadius) {
  const Sheet s = read(kFive + "[car]\ntyre_radius = \"225/60R15\"\n");
  EXPECT_NEAR(s.car.tyre_radius.value.in(mm), 314.1, 0.05);
  EXPECT_EQ(s.car.tyre_radius.reason, "225/60R15");
  EXPECT_EQ(read(kFive + "[car]\ntyre_radius = \"225/60ZR15\"\n").car.tyre_radius.value,
            s.car.tyre_radius.value);
  EXPECT_FALSE(read_sheet(kFive + "[car]\ntyre_radius = \"225/60R150\"\n", "sheet.toml").ok());
  EXPECT_FALSE(read_sheet(kFive + "[car]\ntyre_radius = \"225/R15\"\n", "sheet.toml").ok());
}

TEST(ReadSheet, ASheetReadsTheSameWithCrLfLineEnds) {
  std::string crlf;
  for (const char c : kFive) crlf += c == '\n' ? std::string("\r\n") : std::string(1, c);
  EXPECT_EQ(read(crlf), read(kFive));
}

TEST(ReadSheet, EveryLineForPeopleHasAValueAndEveryFilledOneItsRule) {
  for (const char* name : {"street_v8.toml", "small_four.toml"}) {
    const Sheet s = read(example(name));
    for (const UnitSystem system : {UnitSystem::us, UnitSystem::metric}) {
      for (const Line& line : describe(s, system)) {
        EXPECT_FALSE(line.value.empty()) << line.section << "." << line.key;
        EXPECT_FALSE(line.about.empty()) << line.key;
        if (line.source == Source::typical || line.source == Source::computed) {
          EXPECT_FALSE(line.reason.empty()) << line.section << "." << line.key;
        }
      }
    }
  }
}

TEST(ReadSheet, ValuesAreShownInThePersonsUnits) {
  const auto lines = describe(read(example("street_v8.toml")), UnitSystem::us);
  const auto find = [&](const std::string& key) {
    return *std::find_if(lines.begin(), lines.end(),
                         [&](const Line& l) { return l.section + "." + l.key == key; });
  };
  EXPECT_EQ(find("engine.bore").value, "4.030 in");
  EXPECT_EQ(find("engine.bore").tolerance, "0.002 in");
  EXPECT_EQ(find("place.altitude").value, "820.0 ft");
  EXPECT_EQ(find("injection.dead_time").value, "0.9200 ms");
  EXPECT_EQ(find("injection.regulator_pressure").value, "43.50 psi");
  EXPECT_EQ(find("heads.flow_intake").value, "65, 128, 180, 212, 224 cfm");
  EXPECT_EQ(find("heads.flow_intake").tolerance, "4 %");
  EXPECT_EQ(find("exhaust.back_pressure").tolerance, "1.7 psi");
  EXPECT_EQ(find("wishes.full_throttle_mixture").value,
            "lambda 0.857 (12.6 AFR on the 14.7 scale)");
  EXPECT_EQ(find("engine.firing_order").value, "1, 8, 4, 3, 6, 5, 7, 2");
  EXPECT_EQ(find("injection.arrangement").value, "ports");
}

}  // namespace
}  // namespace fuelwright::car::read_test
