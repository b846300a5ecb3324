#include <fmt/format.h>
#include <gtest/gtest.h>

#include <cmath>
#include <fstream>
#include <set>
#include <sstream>

#include "car/build/derived.h"
#include "car/build/internal/keys.h"
#include "car/build/sheet_file.h"

namespace fuelwright::car::typical_test {
namespace {

std::string five(double litres, int cylinders, double duration,
                 const char* flow = "36 lb/h at 43.5 psi", const char* fuel = "E10") {
  return fmt::format(
      "[engine]\ndisplacement = \"{} l\"\ncylinders = {}\n[cam]\nintake_duration_050 = \"{} deg\"\n"
      "[injection]\ninjector_flow = \"{}\"\n[fuel]\nname = \"{}\"\n",
      litres, cylinders, duration, flow, fuel);
}

Sheet read(const std::string& text) {
  auto sheet = read_sheet(text, "sheet.toml");
  EXPECT_TRUE(sheet.ok()) << (sheet.ok() ? "" : sheet.error().line()) << "\n" << text;
  return sheet.ok() ? *sheet : Sheet{};
}

// Every number of a sheet lies within its key's limits, and every spread is a number.
void expect_sound(const Sheet& s) {
  for (const Key& key : all_keys()) {
    const Held held = key.at.get(s, 0);
    if (key.at.form == Form::text || key.at.form == Form::choice) {
      EXPECT_FALSE(held.text.empty()) << key.path();
      continue;
    }
    EXPECT_FALSE(held.numbers.empty()) << key.path();
    EXPECT_TRUE(held.tolerance >= 0 && held.tolerance < 1e9) << key.path();
    if (key.by_load_axis) continue;
    const double slack =
        1e-9 * (std::abs(to_si(key.low, key.kind, key.unit)) + to_si(key.high, key.kind, key.unit));
    for (const double si : held.numbers) {
      EXPECT_GE(si, to_si(key.low, key.kind, key.unit) - slack) << key.path();
      EXPECT_LE(si, to_si(key.high, key.kind, key.unit) + slack) << key.path();
    }
  }
}

TEST(Typical, FiveAnswersMakeACompleteSheetForEveryEngineTheyCanName) {
  int engines = 0;
  for (const int cylinders : {1, 2, 3, 4, 5, 6, 8, 10, 12, 16}) {
    for (const double one : {0.07, 0.2, 0.31, 0.5, 0.75, 0.9, 1.4}) {
      if (one * cylinders > 15) continue;
      for (const double duration : {150.0, 180.0, 214.0, 236.0, 262.0, 300.0, 330.0}) {
        for (const char* fuel : {"petrol", "E85", "methanol"}) {
          expect_sound(
              read(five(one * cylinders, cylinders, duration, "36 lb/h at 43.5 psi", fuel)));
          ++engines;
        }
      }
    }
  }
  EXPECT_GT(engines, 1000);
}

TEST(Typical, OnlyTheFiveAnswersAreNotTypical) {
  const Sheet s = read(five(5.7, 8, 214));
  int given = 0;
  for (const Line& line : describe(s, UnitSystem::metric)) {
    if (line.source == Source::stated) {
      ++given;
    } else {
      EXPECT_TRUE(line.source == Source::typical || line.source == Source::computed) << line.key;
      EXPECT_FALSE(line.reason.empty()) << line.key;
    }
  }
  EXPECT_EQ(given, 6);  // displacement, cylinders, duration, flow, its pressure, fuel
}

// A street V8 as the trade knows it (common practice, no source): the fill lies within its own
// spread of these.
TEST(Typical, AStreetV8ComesOutAsTheTradeKnowsIt) {
  const Sheet s = read(five(5.7, 8, 222));
  const auto near = [](double value, double known, double tolerance) {
    return std::abs(value - known) <= tolerance;
  };
  EXPECT_TRUE(near(s.engine.bore.value.in(inch), 4.00, s.engine.bore.tolerance.in(inch)));
  EXPECT_TRUE(near(s.engine.stroke.value.in(inch), 3.48, s.engine.stroke.tolerance.in(inch)));
  EXPECT_TRUE(
      near(s.heads.intake_valve.value.in(inch), 1.94, s.heads.intake_valve.tolerance.in(inch)));
  EXPECT_TRUE(
      near(s.heads.exhaust_valve.value.in(inch), 1.50, s.heads.exhaust_valve.tolerance.in(inch)));
  EXPECT_TRUE(near(s.cam.intake_lift.value.in(inch), 0.45, s.cam.intake_lift.tolerance.in(inch)));
  EXPECT_TRUE(
      near(s.cam.lobe_separation.value.degrees(), 112, s.cam.lobe_separation.tolerance.degrees()));
  EXPECT_TRUE(near(s.cam.intake_advertised.value.degrees(), 272,
                   s.cam.intake_advertised.tolerance.degrees()));
  EXPECT_GE(s.wishes.rev_limit.value.rpm, 5600);  // such engines are limited at 5800 to 6500
  EXPECT_LE(s.wishes.rev_limit.value.rpm, 6500);
  const Length half_inch = 0.5 * inch;  // stock heads flow about 200 cfm there
  double flow = 0;
  for (std::size_t i = 0; i < s.heads.flow_lift.values.size(); ++i) {
    if (s.heads.flow_lift.values[i] <= half_inch) flow = s.heads.flow_intake.values[i].si;
  }
  EXPECT_NEAR(flow / to_si(1, Kind::volume_flow, "cfm"), 200, 30);
}

TEST(Typical, BoreAndStrokeTogetherMakeTheDisplacement) {
  for (const double litres : {0.5, 1.229, 2.0, 6.6}) {
    const Sheet s = read(five(litres, litres > 3 ? 8 : 4, 210));
    EXPECT_NEAR(swept_volume(s.engine.bore.value, s.engine.stroke.value, s.engine.cylinders.value)
                    .in(litre),
                litres, 1e-9);
  }
}

TEST(Typical, ABiggerCamIdlesFasterAndStandsCloser) {
  const Sheet mild = read(five(5.7, 8, 214));
  const Sheet big = read(five(5.7, 8, 242));
  EXPECT_GT(big.wishes.idle_speed.value, mild.wishes.idle_speed.value);
  EXPECT_LT(big.cam.lobe_separation.value, mild.cam.lobe_separation.value);
  EXPECT_GT(overlap_050(big), overlap_050(mild));
  EXPECT_GT(big.wishes.rev_limit.value, mild.wishes.rev_limit.value);
}

TEST(Typical, AGivenValueMovesWhatFollowsFromIt) {
  std::string text = five(5.7, 8, 214);
  text += "[place]\naltitude = \"2000 m\"\n";
  const Sheet high = read(text);
  EXPECT_NEAR(high.place.pressure.value.from_zero.in(kPa), 79.5, 0.05);
  EXPECT_EQ(high.place.pressure.source, Source::computed);
  const Sheet throttle =
      read(five(5.7, 8, 214) + "[intake]\narrangement = \"individual_throttles\"\n");
  EXPECT_EQ(throttle.wishes.load_axis.value, LoadAxis::throttle);
  EXPECT_EQ(throttle.intake.throttle_count.value, 8);
}

TEST(Typical, RunnersOfTwoPlanesDifferAboutTheirMean) {
  const Sheet even = read(five(5.7, 8, 214));
  ASSERT_EQ(even.intake.runner_lengths.values.size(), 8u);
  for (const Length one : even.intake.runner_lengths.values)
    EXPECT_EQ(one, even.intake.runner_length.value);
  const Sheet s = read(five(5.7, 8, 214) +
                       "[intake]\narrangement = \"two_plane\"\nrunner_length = \"300 mm\"\n");
  const auto& all = s.intake.runner_lengths.values;
  ASSERT_EQ(all.size(), 8u);
  double sum = 0;
  for (const Length one : all) sum += one.in(mm);
  EXPECT_NEAR(sum / 8, 300, 1e-9);
  EXPECT_GT(all[0], all[2]);  // cylinder 1 stands at an end, cylinder 3 in the middle
  EXPECT_NEAR(all[0].in(mm), all[7].in(mm), 1e-9);
}

TEST(Typical, ListedRunnersSayTheirMean) {
  const Sheet s = read(five(2.0, 4, 214) +
                       "[intake]\nrunner_lengths = [\"300 mm\", \"320 mm\", "
                       "\"340 mm\", \"360 mm\"]\n");
  EXPECT_NEAR(s.intake.runner_length.value.in(mm), 330, 1e-9);
  EXPECT_EQ(s.intake.runner_length.source, Source::computed);
}

TEST(Typical, TheExhaustFollowsWhatIsKnownOfItsPipes) {
  EXPECT_EQ(read(five(5.7, 8, 214)).exhaust.arrangement.value, ExhaustArrangement::four_into_one);
  EXPECT_EQ(
      read(five(2, 4, 214) + "[exhaust]\nprimary_length = \"120 mm\"\n").exhaust.arrangement.value,
      ExhaustArrangement::log);
  const Sheet pairs = read(five(2, 4, 214) + "[exhaust]\nsecondary_length = \"500 mm\"\n");
  EXPECT_EQ(pairs.exhaust.arrangement.value, ExhaustArrangement::four_two_one);
  EXPECT_GT(pairs.exhaust.secondary_diameter.value, pairs.exhaust.primary_diameter.value);
}

// Flow-bench figures of stock V8 heads as the trade knows them, 28 inH2O: 65 cfm at 0.1 in, 128 at
// 0.2 in, 185 at 0.3 in (common practice, no source); the fill lies above them where the lift is
// low because benches differ most there.
TEST(Typical, APortFlowsAsItsCurtainAreaAtLowLift) {
  const Sheet s = read(five(5.7, 8, 214));
  const double one_cfm = to_si(1, Kind::volume_flow, "cfm");
  const auto& lift = s.heads.flow_lift.values;
  const auto& flow = s.heads.flow_intake.values;
  EXPECT_NEAR(flow[0].si / one_cfm, 65 * lift[0].in(inch) / 0.1, 10);
  EXPECT_NEAR(flow[1].si / one_cfm, 128 * lift[1].in(inch) / 0.2, 18);
  EXPECT_NEAR(flow[2].si / one_cfm, 185 * lift[2].in(inch) / 0.3, 22);
}

TEST(Typical, AStatedValueIsTighterThanATypicalOne) {
  const Sheet guess = read(five(5.7, 8, 214));
  std::string text = five(5.7, 8, 214);
  text.insert(text.find("[cam]"), "compression = 9.5\n");
  EXPECT_LT(read(text).engine.compression.tolerance, guess.engine.compression.tolerance);
  EXPECT_GT(read(text).engine.compression.tolerance, 0);
}

TEST(Typical, NoMixtureSensorIsInvented) {
  EXPECT_TRUE(read(five(5.7, 8, 214)).sensors.mixture.empty());
}

TEST(KeyTable, EveryKeyIsExplainedInTheManual) {
  std::ifstream in(std::string(FUELWRIGHT_SOURCE_DIR) + "/docs/sheet.md");
  std::stringstream manual;
  manual << in.rdbuf();
  const auto expect_row = [&](const Key& key) {
    EXPECT_NE(manual.str().find(fmt::format("| `{}` | {} |", key.key, key.about)),
              std::string::npos)
        << key.path();
  };
  for (const Key& key : all_keys()) expect_row(key);
  for (const Key& key : sensor_keys()) expect_row(key);
}

TEST(KeyTable, EveryKeyIsUniqueAndHasItsUnitAndAboutText) {
  std::set<std::string> paths;
  for (const Key& key : all_keys()) {
    EXPECT_TRUE(paths.insert(key.path()).second) << key.path();
    EXPECT_NE(std::string(key.about), "");
    EXPECT_EQ(key.at.form == Form::choice, !key.choices.empty()) << key.path();
    if (!key.by_load_axis && (key.at.form == Form::number || key.at.form == Form::numbers)) {
      EXPECT_LT(key.low, key.high) << key.path();
      EXPECT_TRUE(find_unit(key.unit, key.kind).has_value()) << key.path();
    }
  }
}

}  // namespace
}  // namespace fuelwright::car::typical_test
