// The air of engines against what is known of them from outside: inlet Mach index, tuned runners,
// altitude and charge temperature. Where the model misses, the test holds the miss it has, and
// docs/theory/outside_checks.md states it.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include <cmath>
#include <numbers>

#include "car/build/sheet_file.h"
#include "physics/breathing/breathing.h"
#include "physics/breathing/internal/parts.h"

namespace fuelwright::physics {
namespace {

car::Sheet sheet(const std::string& text) {
  const auto s = car::read_sheet(text, "sheet.toml");
  EXPECT_TRUE(s.ok()) << (s.ok() ? "" : s.error().line());
  return *s;
}
constexpr const char* kRest =
    "[injection]\ninjector_flow = \"36 lb/h at 43.5 psi\"\n[fuel]\nname = \"petrol\"\n";

// One cylinder of 86 x 86 mm with a valve too small for it, pipes too short to tune.
car::Sheet choking(double valve_mm, double duration) {
  return sheet(fmt::format(
      "[engine]\ndisplacement = \"0.5 l\"\ncylinders = 1\ncompression = 9\nbore = \"86 "
      "mm\"\nstroke = \"86 mm\"\n[heads]\nvalves_per_cylinder = 2\nintake_valve = \"{} mm\"\n"
      "[cam]\nintake_duration_050 = \"{} deg\"\nlobe_separation = \"114 deg\"\n"
      "[intake]\narrangement = \"individual_throttles\"\nrunner_length = \"100 "
      "mm\"\nrunner_diameter = \"45 mm\"\n[exhaust]\nprimary_length = \"150 mm\"\nback_pressure = "
      "\"0 kPa\"\n{}[wishes]\nrev_limit = \"9000 rpm\"\n",
      valve_mm, duration, kRest));
}

struct Knee {
  double taylor, mean_mach;  // where ve is 90 % of its best
};
// Z = (b/D)^2 s/(C_i a): mean piston speed s, C_i the flow coefficient of the valve's head averaged
// over its opening (Taylor, from memory). Mean inlet Mach number: V_d ve over mean effective area,
// opening time and speed of sound (as in the JSME dictionary, from memory); = Z ve 180/opening.
Knee knee_of(const car::Sheet& s) {
  const EngineModel model = *engine_model(s);
  const auto& p = model.parts();
  double area = 0;
  int open = 0;
  for (const double a : p.intake.forward) {
    area += a;
    open += a > 0;
  }
  area /= open;
  std::vector<EngineSpeed> speeds;
  for (double n = 1500; n <= 12'000; n += 500) speeds.push_back(rpm(n));
  const AirMap map =
      air_map(model, {speeds, {absolute(100 * kPa)}, {absolute(100 * kPa), celsius(25)}});
  double best = 0;
  for (const AirNode& n : map.nodes) best = std::max(best, n.ve);
  const double bore_area = std::numbers::pi / 4 * p.bore_m * p.bore_m;
  constexpr double kSound = 346.1;  // air at 25 degC [m/s]
  double before = best, at = 0;
  for (std::size_t i = 0; i < speeds.size(); ++i) {
    const double ve = map.node(i, 0).ve;
    if (ve < 0.9 * best && before >= 0.9 * best) {
      const double u = (before - 0.9 * best) / (before - ve);
      at = speeds[i].rpm - 500 * (1 - u);
    }
    before = ve;
  }
  const double z = bore_area * 2 * p.stroke_m * at / 60 / (area * kSound);
  return {z, z * 0.9 * best * 180 / open};
}

// "Falls quickly above about 0.5" (Taylor; JSME). Reached: 0.48 to 0.50 as mean Mach number. On
// Taylor's own index we stand at 0.87 to 0.98, later than his 0.5 to 0.6 (90 % near 0.75, from
// memory): his C_i may be taken over other angles than the whole opening.
TEST(OutsideAir, FillingFallsQuicklyAboveAMeanInletMachNumberOfOneHalf) {
  for (const double valve : {34.4, 29.2}) {
    for (const double duration : {210.0, 230.0}) {
      const Knee knee = knee_of(choking(valve, duration));
      EXPECT_GT(knee.mean_mach, 0.45) << valve << " " << duration;
      EXPECT_LT(knee.mean_mach, 0.60) << valve << " " << duration;
      EXPECT_GT(knee.taylor, 0.7) << valve << " " << duration;
      EXPECT_LT(knee.taylor, 1.15) << valve << " " << duration;
    }
  }
}

struct Tuned {
  double rpm, engelman;
};
// Engelman's resonator (from memory): half the swept volume stands for the cylinder, and the tuned
// speed is that where its natural frequency is 2.1 times the engine's,
//   f = a/(2 pi) sqrt(A/(L V_d/2 (r + 1)/(r - 1)))
Tuned tuned(double runner_mm) {
  const EngineModel model = *engine_model(sheet(fmt::format(
      "[engine]\ndisplacement = \"2.0 l\"\ncylinders = 4\ncompression = 10\n[heads]\n"
      "valves_per_cylinder = 4\n[cam]\nintake_duration_050 = \"225 deg\"\n[intake]\nrunner_length "
      "= \"{} mm\"\nplenum_volume = \"8 l\"\n{}[wishes]\nrev_limit = \"8000 rpm\"\n",
      runner_mm, kRest)));
  const auto& p = model.parts();
  std::vector<EngineSpeed> speeds;
  for (double n = 2000; n <= 8000; n += 250) speeds.push_back(rpm(n));
  const AirMap map =
      air_map(model, {speeds, {absolute(101 * kPa)}, {absolute(101.3 * kPa), celsius(35)}});
  // Where the top 3 % of the hill has its middle: flat tops have no sharp peak.
  double best = 0, sum = 0, weight = 0;
  for (const AirNode& n : map.nodes) best = std::max(best, n.ve);
  for (const AirNode& n : map.nodes) {
    const double w = std::max(0.0, n.ve / best - 0.97);
    sum += w * n.speed.rpm;
    weight += w;
  }
  const double r = p.compression;
  const double sound = std::sqrt(1.4 * 287.05 * 308.15);
  const double f =
      sound / (2 * std::numbers::pi) *
      std::sqrt(p.runner_area_m2 / (p.runner_mean_m * p.swept_m3 / 2 * (r + 1) / (r - 1)));
  return {sum / weight, f * 60 / 2.1};
}

// Reached: within 20 % of Engelman's speed; long runners tune 15 to 20 % higher than he says.
TEST(OutsideAir, LongerRunnersFillBestAtLowerSpeeds) {
  double before = 1e9;
  for (const double runner : {250.0, 350.0, 500.0, 650.0, 800.0}) {
    const Tuned t = tuned(runner);
    EXPECT_LT(t.rpm, before) << runner;
    EXPECT_NEAR(t.rpm / t.engelman, 1, 0.22) << runner;
    before = t.rpm;
  }
}

struct Place {
  double ambient_kpa = 101.325, intake_c = 25, back_kpa = 20;
};
// Full throttle of a 6.2-litre V8 with a stock and with a big cam.
std::vector<AirNode> full_throttle(double duration, const Place& at) {
  car::Sheet s = sheet(fmt::format(
      "[engine]\ndisplacement = \"6.2 l\"\ncylinders = 8\ncompression = 10\n[cam]\ntappet = "
      "\"hydraulic_roller\"\nintake_duration_050 = \"{} deg\"\n{}",
      duration, kRest));
  s.exhaust.back_pressure.value.above_ambient = at.back_kpa * kPa;
  return air_map(*engine_model(s), {{rpm(2000), rpm(3500), rpm(5000)},
                                    {absolute(0.99 * at.ambient_kpa * kPa)},
                                    {absolute(at.ambient_kpa * kPa), celsius(at.intake_c)}})
      .nodes;
}
double mean_change(double duration, const Place& other, double (*of)(const AirNode&)) {
  const auto a = full_throttle(duration, {}), b = full_throttle(duration, other);
  double sum = 0;
  for (std::size_t i = 0; i < a.size(); ++i) sum += of(b[i]) / of(a[i]) - 1;
  return sum / static_cast<double>(a.size());
}
double air(const AirNode& n) { return n.trapped_air.si; }
double work(const AirNode& n) { return n.indicated.si; }

// U.S. Standard Atmosphere 1976: 89.875 kPa at 1000 m. Common practice: -11 +- 1.5 %.
TEST(OutsideAir, AThousandMetresCostElevenPercentOfTheAir) {
  for (const double cam : {204.0, 236.0})
    EXPECT_NEAR(mean_change(cam, {.ambient_kpa = 89.875}, air), -0.11, 0.015) << cam;
}

// Common practice: -5 to -9 % (density alone: -9.1 %). Reached: -3.9 to -4.5 %: we are short by up
// to 1 %. A warmer charge takes less heat from the walls, and ours take much.
TEST(OutsideAir, ThirtyDegreesOfChargeCostAlmostFivePercentOfTheAir) {
  for (const double cam : {204.0, 236.0}) {
    EXPECT_LT(mean_change(cam, {.intake_c = 55}, air), -0.035) << cam;
    EXPECT_GT(mean_change(cam, {.intake_c = 55}, air), -0.09) << cam;
  }
}

// Common practice: -1 to -3 % of the torque. Reached, of the indicated work: -0.6 to -0.9 % on the
// mean, -0.7 (big cam) and -1.1 % (stock) at 5000 rpm: short of it by up to 0.5 %. The stated
// pressure is that at full power and grows with the square of the flow.
TEST(OutsideAir, TenKilopascalOfExhaustPressureCostAboutOnePercentOfTheWork) {
  for (const double cam : {204.0, 236.0}) {
    EXPECT_LT(mean_change(cam, {.back_kpa = 30}, work), -0.004) << cam;
    EXPECT_GT(mean_change(cam, {.back_kpa = 30}, work), -0.03) << cam;
    const double at_5000 =
        full_throttle(cam, {.back_kpa = 30})[2].indicated / full_throttle(cam, {})[2].indicated - 1;
    EXPECT_LT(at_5000, -0.005) << cam;
    EXPECT_GT(at_5000, -0.03) << cam;
  }
}

}  // namespace
}  // namespace fuelwright::physics
