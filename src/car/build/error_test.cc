#include <gtest/gtest.h>

#include "car/build/sheet_file.h"

namespace fuelwright::car::error_test {
namespace {

// Line 1 [engine], 2 displacement, 3 cylinders, 4 [cam], 5 duration, 6 [injection], 7 flow, 8
// [fuel], 9 name.
const std::string kFive =
    "[engine]\ndisplacement = \"5.7 l\"\ncylinders = 8\n[cam]\nintake_duration_050 = \"214 deg\"\n"
    "[injection]\ninjector_flow = \"36 lb/h at 43.5 psi\"\n[fuel]\nname = \"E10\"\n";

// The five answers with more lines put into one section (directly below its header).
std::string with(const std::string& section, const std::string& lines) {
  std::string out = kFive;
  const std::string header = "[" + section + "]\n";
  if (const auto at = out.find(header); at != std::string::npos)
    return out.insert(at + header.size(), lines);
  return out + header + lines;
}

Error error_of(const std::string& text) {
  auto sheet = read_sheet(text, "sheet.toml");
  EXPECT_FALSE(sheet.ok()) << text;
  return sheet.ok() ? Error{} : sheet.error();
}

struct Trap {
  std::string text;
  ErrorCode code;
  std::string says;  // the line, or a part of it
};

class SheetTraps : public ::testing::Test {
 protected:
  static void expect(const Trap& trap) {
    const Error e = error_of(trap.text);
    EXPECT_EQ(e.code, trap.code) << e.line();
    EXPECT_NE(e.line().find(trap.says), std::string::npos)
        << "came: " << e.line() << "\nexpected: " << trap.says;
  }
};

TEST_F(SheetTraps, AValueOutsideItsLimitsIsToldWithLineKeyValueAndLimits) {
  EXPECT_EQ(error_of(with("engine", "bore = \"20 mm\"\n")).line(),
            "sheet.toml:2: engine.bore: \"20 mm\" is outside 40 to 200 mm");
  expect({with("engine", "compression = 40\n"), ErrorCode::out_of_range,
          "sheet.toml:2: engine.compression: 40 is outside 5 to 20"});
  expect({with("intake", "runner_length = \"-300 mm\"\n"), ErrorCode::out_of_range,
          "sheet.toml:11: intake.runner_length: \"-300 mm\" is outside 30 to 1500 mm"});
  expect({with("engine", "compression = \"10 +- 30\"\n"), ErrorCode::out_of_range, "tolerance"});
}

TEST_F(SheetTraps, AnUnknownKeyIsToldWithTheNearestOrItsHome) {
  EXPECT_EQ(error_of(with("engine", "compresion = 10\n")).line(),
            "sheet.toml:2: engine.compresion: unknown key; did you mean \"compression\"?");
  expect({with("engine", "dead_time = \"1 ms\"\n"), ErrorCode::bad_input,
          "it belongs to [injection]"});
  expect({"[engin]\n" + kFive, ErrorCode::bad_input,
          "sheet.toml:1: engin: unknown section; did you mean [engine]?"});
  expect({"bore = 3\n" + kFive, ErrorCode::bad_input, "sheet.toml:1: bore"});
  expect({with("engine", "bore = { value = \"4 in\", sorce = \"measured\" }\n"),
          ErrorCode::bad_input, "did you mean \"source\"?"});
}

TEST_F(SheetTraps, AUnitThatIsMissingWrongOrUnknownIsNeverGuessed) {
  expect({with("engine", "bore = 101.6\n"), ErrorCode::unknown_unit,
          "101.6 needs a unit, in quotes: a length in mm, in"});
  expect({with("engine", "bore = \"101.6\"\n"), ErrorCode::unknown_unit, "needs a unit"});
  expect({with("engine", "bore = \"4 psi\"\n"), ErrorCode::out_of_range, "expected a length"});
  expect({with("engine", "bore = \"4 inn\"\n"), ErrorCode::unknown_unit, "unknown unit \"inn\""});
  expect({with("place", "pressure = \"14 psi gauge\"\n"), ErrorCode::out_of_range, "gauge"});
}

TEST_F(SheetTraps, WhatIsNoNumberIsRefused) {
  expect({with("engine", "compression = nan\n"), ErrorCode::bad_input, "nan is not a number"});
  expect({with("engine", "compression = \"nan\"\n"), ErrorCode::bad_input, "not a number"});
  expect({with("engine", "compression = inf\n"), ErrorCode::bad_input, "inf is not a number"});
  expect({with("engine", "compression = true\n"), ErrorCode::bad_input, "came true or false"});
  expect({with("engine", "compression = [9, 10]\n"), ErrorCode::bad_input, "came a list"});
  expect({with("engine", "compression = 1979-05-27\n"), ErrorCode::bad_input, "a date"});
  expect({with("engine", "banks = 1.5\n"), ErrorCode::bad_input, "whole number"});
}

TEST_F(SheetTraps, AKeyStatedTwiceIsRefused) {
  expect(
      {with("engine", "bore = \"4 in\"\nbore = \"4 in\"\n"), ErrorCode::bad_input, "sheet.toml:3"});
  expect(
      {with("injection", "injector_pressure = \"3 bar\"\n"), ErrorCode::conflict, "stated twice"});
  expect({kFive + "[engine]\nbore = \"4 in\"\n", ErrorCode::bad_input, "sheet.toml:10"});
}

TEST_F(SheetTraps, WhatIsNoTomlIsToldWithItsLine) {
  expect({kFive + "compression == 3\n", ErrorCode::bad_input, "sheet.toml:10: "});
  expect({"\xff\xfe", ErrorCode::bad_input, "sheet.toml:1: "});
  expect({kFive + std::string(1 << 20, '#'), ErrorCode::too_large, "sheet.toml:1: "});
}

TEST_F(SheetTraps, TheFiveAnswersAreAskedForWhenMissing) {
  for (const auto& [line, says] : std::vector<std::pair<std::string, std::string>>{
           {"displacement = \"5.7 l\"\n", "sheet.toml:1: engine.displacement: is missing"},
           {"cylinders = 8\n", "sheet.toml:1: engine.cylinders: is missing"},
           {"intake_duration_050 = \"214 deg\"\n", "cam.intake_duration_050: is missing"},
           {"injector_flow = \"36 lb/h at 43.5 psi\"\n", "injection.injector_flow: is missing"},
           {"name = \"E10\"\n", "fuel.name: is missing"}}) {
    std::string text = kFive;
    text.erase(text.find(line), line.size());
    expect({text, ErrorCode::needs_answer, says});
  }
  expect({"", ErrorCode::needs_answer, "sheet.toml:1: "});
}

TEST_F(SheetTraps, ThePressureOfAnInjectorFlowIsAskedForNotAssumed) {
  std::string text = kFive;
  text.replace(text.find(" at 43.5 psi"), 12, "");
  expect({text, ErrorCode::needs_answer, "injection.injector_pressure: is missing"});
}

TEST_F(SheetTraps, AnInjectorFlowThatNoInjectorHasIsRefused) {
  const auto flow = [](const std::string& text) {
    std::string out = kFive;
    return out.replace(out.find("36 lb/h at 43.5 psi"), 19, text);
  };
  expect({flow("36000 lb/h at 43.5 psi"), ErrorCode::out_of_range,
          "\"36000 lb/h\" is outside 0.2 to 80 g/s"});
  expect({flow("380000 cc/min at 3 bar"), ErrorCode::out_of_range,
          "\"380000 cc/min\" is outside 0.2 to 80 g/s"});
  expect({flow("380 cc/min +- 400 cc/min at 3 bar"), ErrorCode::out_of_range,
          "is wider than the flow"});
  expect({flow("36 mm at 3 bar"), ErrorCode::out_of_range, "is no injector flow"});
  expect({flow("36 lb/h at 3 mm"), ErrorCode::out_of_range, "expected a pressure difference"});
  expect({flow("36 at 3 bar"), ErrorCode::unknown_unit, "is no injector flow"});
}

TEST_F(SheetTraps, AMixtureWithoutItsScaleIsAskedFor) {
  expect({with("wishes", "full_throttle_mixture = 12.5\n"), ErrorCode::needs_answer,
          "sheet.toml:11: wishes.full_throttle_mixture: on which scale?"});
  expect(
      {with("wishes", "scale = \"afr\"\nidle_mixture = 13.5\n"), ErrorCode::needs_answer, "14.7"});
  expect({with("wishes", "scale = \"lambda\"\nidle_mixture = 13.5\n"), ErrorCode::out_of_range,
          "13.5 on the lambda scale is outside 0.6 to 1.4"});
  expect({with("wishes", "scale = \"afr 14.7\"\nidle_mixture = 0.9\n"), ErrorCode::out_of_range,
          "0.9, lambda 0.061 on AFR on the 14.7 scale, is outside"});
  expect({kFive + "[[sensors.mixture]]\nbank = 1\n", ErrorCode::needs_answer,
          "sheet.toml:10: sensors.mixture.1.scale: is missing"});
}

TEST_F(SheetTraps, AWrongScaleIsToldOnceAndNotBlamedOnTheMixture) {
  const auto all =
      problems_of(with("wishes", "idle_mixture = 13.5\nscale = \"afr\"\n"), "sheet.toml");
  ASSERT_EQ(all.size(), 1u);
  EXPECT_NE(all[0].where.find("wishes.scale"), std::string::npos);
}

TEST_F(SheetTraps, LoadPointsWithoutTheirAxisAreAskedFor) {
  expect({with("wishes", "load_points = [\"20 kPa\", \"100 kPa\"]\n"), ErrorCode::needs_answer,
          "points of what?"});
  expect({with("wishes", "load_axis = \"map\"\nload_points = [\"100 kPa\", \"20 kPa\"]\n"),
          ErrorCode::out_of_range, "sheet.toml:12: wishes.load_points"});
  expect({with("wishes", "load_axis = \"throtle\"\n"), ErrorCode::bad_input,
          "did you mean \"throttle\"?"});
}

TEST_F(SheetTraps, AFlowBenchNeedsItsLiftsAndItsDepression) {
  expect({with("heads", "flow_intake = { values = [100, 200], unit = \"cfm\" }\n"),
          ErrorCode::needs_answer, "at which lifts?"});
  expect({with("heads",
               "flow_lift = [\"0.1 in\", \"0.2 in\"]\nflow_intake = [\"100 cfm\", \"200 cfm\"]\n"),
          ErrorCode::needs_answer, "at which depression?"});
  const std::string bench =
      "flow_depression = \"28 inH2O\"\nflow_lift = [\"0.1 in\", \"0.2 in\"]\n";
  expect({with("heads", bench + "flow_intake = [\"100 cfm\"]\n"), ErrorCode::bad_input,
          "1 flows for 2 lifts"});
  expect({with("heads", "flow_lift = [\"0.2 in\", \"0.1 in\"]\n"), ErrorCode::bad_input,
          "must increase"});
  expect({with("heads", "flow_lift = [\"0.1 in\", 0.2]\n"), ErrorCode::unknown_unit, "entry 2: "});
}

TEST_F(SheetTraps, PartsThatContradictEachOtherAreToldTogether) {
  expect({with("engine", "bore = \"4.030 in\"\nstroke = \"3.8 in\"\n"), ErrorCode::bad_input,
          "sheet.toml:4: engine.displacement: displacement 5.7 l contradicts bore and stroke"});
  expect({with("cam", "intake_advertised = \"210 deg\"\n"), ErrorCode::bad_input,
          "cam.intake_advertised: 210 deg is not longer than cam.intake_duration_050 (214 deg)"});
  expect({with("cam", "lobe_separation = \"115 deg\"\nintake_centreline = \"90 deg\"\n"),
          ErrorCode::bad_input, "cam.intake_centreline: 90 deg"});
  expect({with("cam", "intake_duration_200 = \"220 deg\"\n"), ErrorCode::bad_input,
          "is not longer than cam.intake_duration_200"});
  expect({with("engine", "rod_length = \"60 mm\"\nstroke = \"88 mm\"\n"), ErrorCode::bad_input,
          "engine.rod_length"});
  expect({with("engine", "firing_order = \"1-2-3-4\"\n"), ErrorCode::bad_input,
          "each of the 8 cylinders once"});
  expect({with("engine", "firing_order = [1, 1, 2, 3, 4, 5, 6, 7]\n"), ErrorCode::bad_input,
          "each of the 8 cylinders once"});
  expect({with("heads",
               "valves_per_cylinder = 2\nintake_valve = \"2.3 in\"\nexhaust_valve = \"2.1 in\"\n"),
          ErrorCode::bad_input, "does not fit"});
  expect({with("injection", "arrangement = \"ports\"\ninjector_count = 4\n"), ErrorCode::bad_input,
          "4 injectors at the ports of 8 cylinders"});
  expect({with("car", "gears = [1.0, 2.0]\n"), ErrorCode::bad_input, "car.gears"});
  expect(
      {with("wishes", "rev_limit = \"14000 rpm\"\n"), ErrorCode::bad_input, "mean piston speed"});
  expect({kFive + "[[sensors.mixture]]\nscale = \"lambda\"\ncylinders = [1, 9]\n",
          ErrorCode::bad_input, "cylinder 9 of 8"});
}

TEST_F(SheetTraps, LobesThatOverlapMoreThanAnyCamAreRefused) {
  std::string text =
      with("cam", "exhaust_duration_050 = \"330 deg\"\nlobe_separation = \"95 deg\"\n");
  text.replace(text.find("214 deg"), 7, "320 deg");
  expect({text, ErrorCode::bad_input, "deg of overlap"});  // (320 + 330)/2 - 2 * 95 = 135
}

TEST_F(SheetTraps, PipesThatCannotBelongToOneEngineAreRefused) {
  expect({with("intake", "runner_lengths = [\"300 mm\", \"310 mm\"]\n"), ErrorCode::bad_input,
          "intake.runner_lengths: 2 lengths for 8 cylinders"});
  expect({with("intake",
               "runner_length = \"500 mm\"\nrunner_lengths = { values = [300, 310, 320, 330, 300, "
               "310, 320, 330], unit = \"mm\" }\n"),
          ErrorCode::bad_input, "500 mm is the mean of runner_lengths from 300 to 330 mm?"});
  expect({with("exhaust", "arrangement = \"four_one\"\n"), ErrorCode::bad_input,
          "exhaust.arrangement"});
  std::string three = with("exhaust", "arrangement = \"four_two_one\"\n");
  three.replace(three.find("cylinders = 8"), 13, "cylinders = 3");
  expect({three, ErrorCode::bad_input, "four_two_one with 3 cylinders"});
}

TEST_F(SheetTraps, PressureReducedToSeaLevelIsNoticedAtAltitude) {
  expect({with("place", "altitude = \"1500 m\"\npressure = \"1013 hPa\"\n"), ErrorCode::bad_input,
          "reduced to sea level"});
}

TEST_F(SheetTraps, ADisplacementThatNoSuchEngineHasIsRefused) {
  std::string text = kFive;
  text.replace(text.find("cylinders = 8"), 13, "cylinders = 1");
  expect({text, ErrorCode::bad_input, "makes 5.7 l a cylinder"});
}

TEST_F(SheetTraps, TypicalIsNotASourceThatCanBeStated) {
  expect({with("engine", "bore = { value = \"4 in\", source = \"typical\" }\n"),
          ErrorCode::bad_input, "filled in"});
  expect({with("engine", "bore = { source = \"measured\" }\n"), ErrorCode::bad_input,
          "without value"});
}

TEST_F(SheetTraps, EveryProblemIsListedInTheOrderOfItsLine) {
  const auto all = problems_of(with("cam", "lobe_separatoin = 3\n") + "[engin]\n", "sheet.toml");
  ASSERT_EQ(all.size(), 2u);
  EXPECT_NE(all[0].where.find(":5:"), std::string::npos) << all[0].line();
  EXPECT_NE(all[1].where.find(":11:"), std::string::npos) << all[1].line();
  EXPECT_TRUE(problems_of(kFive, "sheet.toml").empty());
}

TEST(SheetErrors, AnEscapedLineEndInAValueStaysInOneLine) {
  // Found by fuzzing: an escape put a carriage return into a choice, and the message into two
  // lines.
  const auto error = error_of(with("ignition", "kind = \"dis\\ribu\\n\\u0000tor\"\n"));
  EXPECT_FALSE(error.message.empty());
  for (const char c : error.line()) EXPECT_GE(static_cast<unsigned char>(c), 0x20U);
}

}  // namespace
}  // namespace fuelwright::car::error_test
