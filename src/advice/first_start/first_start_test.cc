#include "advice/first_start/first_start.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>

#include "advice/first_start/test_cars.h"

namespace fuelwright::advice::first_start_test {
namespace {

using testing::HasSubstr;

std::vector<std::string> ids(const FirstStart& list) {
  std::vector<std::string> out;
  for (const StartStep& s : list.steps) out.push_back(s.id);
  return out;
}
std::size_t place_of(const FirstStart& list, const char* id) {
  const auto all = ids(list);
  return static_cast<std::size_t>(std::ranges::find(all, id) - all.begin());
}
const Expected& figure_of(const FirstStart& list, const char* id, const std::string& what) {
  static const Expected kNone;
  const StartStep* step = list.find(id);
  EXPECT_NE(step, nullptr) << id;
  if (!step) return kNone;
  const auto at = std::ranges::find_if(
      step->expect, [&](const Expected& e) { return e.what.find(what) != std::string::npos; });
  EXPECT_NE(at, step->expect.end()) << id << ": " << what;
  return at == step->expect.end() ? kNone : *at;
}
std::string all_text(const StartStep& s) {
  std::string out = s.title;
  for (const auto* part : {&s.act, &s.if_not, &s.stop, &s.cautions}) {
    for (const std::string& line : *part) out += "\n" + line;
  }
  for (const Expected& e : s.expect) out += "\n" + e.what + ": " + e.says;
  return out;
}

// Common practice, no source: a new flat-tappet cam is run in at 2000 to 2500 rpm for 20 to 30
// minutes and must not idle before.
TEST(FirstStart, ANewFlatTappetCamIsRunInBeforeItIdles) {
  const FirstStart list = test_cars::list_of(test_cars::flat_v8(), test_cars::all_new());
  EXPECT_TRUE(list.run_in);
  ASSERT_NE(list.find("cam_run_in"), nullptr);
  EXPECT_LT(place_of(list, "start"), place_of(list, "cam_run_in"));
  EXPECT_LT(place_of(list, "cam_run_in"), place_of(list, "first_idle"));
  const Expected& speed = figure_of(list, "cam_run_in", "engine speed");
  EXPECT_EQ(speed.low, 2000);
  EXPECT_EQ(speed.high, 2500);
  const Expected& time = figure_of(list, "cam_run_in", "time");
  EXPECT_EQ(time.low, 20 * 60);
  EXPECT_EQ(time.high, 30 * 60);
  EXPECT_THAT(list.sentence, HasSubstr("must not idle"));
}

TEST(FirstStart, AnEngineThatMustNotBeCrankedIsPrimedByItsPumpAndLeakedDownByHand) {
  const FirstStart list = test_cars::list_of(test_cars::flat_v8(), test_cars::all_new());
  EXPECT_EQ(list.find("compression"), nullptr);
  EXPECT_EQ(list.find("oil_pressure_cranking"), nullptr);
  ASSERT_NE(list.find("leak_down"), nullptr);
  // When nothing is turned by hand any more.
  EXPECT_LT(place_of(list, "leak_down"), place_of(list, "oil_primed"));
  EXPECT_LT(place_of(list, "trigger_offset"), place_of(list, "oil_primed"));
  EXPECT_LT(place_of(list, "oil_primed"), place_of(list, "cranking"));
  EXPECT_THAT(all_text(*list.find("oil_primed")), HasSubstr("not by the starter"));
  EXPECT_LT(place_of(list, "run_in_table"), place_of(list, "cranking"));
}

TEST(FirstStart, ARollerCamHasNoRunInAndIsCrankedForItsCompression) {
  const FirstStart list = test_cars::list_of(test_cars::roller_six(), test_cars::all_new());
  EXPECT_FALSE(list.run_in);
  EXPECT_EQ(list.find("cam_run_in"), nullptr);
  EXPECT_EQ(list.find("run_in_table"), nullptr);
  ASSERT_NE(list.find("compression"), nullptr);
  EXPECT_LT(place_of(list, "oil_primed"), place_of(list, "compression"));
  EXPECT_LT(place_of(list, "oil_pressure_cranking"), place_of(list, "cranking"));
  EXPECT_LT(place_of(list, "start"), place_of(list, "first_idle"));
}

TEST(FirstStart, AnOldFlatTappetCamIsNotRunInAgain) {
  StartAnswers a = test_cars::all_new();
  a.new_cam = false;
  EXPECT_EQ(test_cars::list_of(test_cars::flat_v8(), a).find("cam_run_in"), nullptr);
}

TEST(FirstStart, TappetsThatNobodyKnowsAreTreatedAsFlat) {
  StartAnswers a = test_cars::all_new();
  a.tappets = TappetAnswer::not_known;
  const FirstStart list = test_cars::list_of(test_cars::plain_four(), a);
  EXPECT_TRUE(list.run_in);
  EXPECT_THAT(list.because.front(), HasSubstr("nobody can say"));
}

TEST(FirstStart, AFuelSystemThatWasNotOpenedHasAShorterLeakTest) {
  StartAnswers a = test_cars::all_old();
  const FirstStart shut = test_cars::list_of(test_cars::roller_six(), a);
  a.fuel_opened = true;
  const FirstStart opened = test_cars::list_of(test_cars::roller_six(), a);
  EXPECT_LT(shut.find("fuel_leak_test")->act.size(), opened.find("fuel_leak_test")->act.size());
  EXPECT_THAT(opened.find("fuel_leak_test")->act.back(), HasSubstr("5 minutes"));
}

TEST(FirstStart, AnEngineThatRanLatelyHasAShorterListThanAFreshOne) {
  const FirstStart fresh = test_cars::list_of(test_cars::roller_six(), test_cars::all_new());
  const FirstStart old = test_cars::list_of(test_cars::roller_six(), test_cars::all_old());
  EXPECT_LT(old.steps.size(), fresh.steps.size());
  EXPECT_EQ(old.find("coolant_bled"), nullptr);
  EXPECT_EQ(old.find("trigger_offset"), nullptr);
  EXPECT_NE(fresh.find("coolant_bled"), nullptr);
}

TEST(FirstStart, OnlyADistributorHasARotorToPhase) {
  EXPECT_NE(test_cars::list_of(test_cars::flat_v8(), test_cars::all_new()).find("rotor_phasing"),
            nullptr);
  const FirstStart coils = test_cars::list_of(test_cars::roller_six(), test_cars::all_new());
  EXPECT_EQ(coils.find("rotor_phasing"), nullptr);
  // Wasted spark fires cylinders half the order apart together: 1-5-3-6-2-4 gives 1/6, 5/2, 3/4.
  EXPECT_EQ(figure_of(coils, "firing_order", "pairs").says, "1 with 6, 5 with 2, 3 with 4");
}

TEST(FirstStart, TheFiringOrderIsTheSheetsOwn) {
  const FirstStart list = test_cars::list_of(test_cars::flat_v8(), test_cars::all_new());
  const Expected& order = figure_of(list, "firing_order", "firing order");
  EXPECT_EQ(order.says, "1-8-4-3-6-5-7-2");
  EXPECT_EQ(order.from, FigureFrom::stated);
  const FirstStart four = test_cars::list_of(test_cars::plain_four(), test_cars::all_old());
  EXPECT_EQ(figure_of(four, "firing_order", "firing order").from, FigureFrom::typical);
}

// U.S. Standard Atmosphere 1976: 84,556 Pa at 1500 m (its table, from memory); a MAP sensor with
// the engine off reads the pressure of its place.
TEST(FirstStart, At1500MetresTheKeyOnReadingIsThatOfTheStandardAtmosphere) {
  const FirstStart high = test_cars::list_of(test_cars::high_four(), test_cars::all_old());
  const Expected& map = figure_of(high, "key_on_sensors", "manifold pressure");
  EXPECT_NEAR(*map.middle, 84'556, 60);
  EXPECT_GT(*map.high - *map.low, 2e3);
  const FirstStart low = test_cars::list_of(test_cars::plain_four("[place]\naltitude = \"0 m\"\n"),
                                            test_cars::all_old());
  EXPECT_NEAR(*figure_of(low, "key_on_sensors", "manifold pressure").middle, 101'325, 1);
}

TEST(FirstStart, AfterANightCoolantAndIntakeAirAgreeWithTheAir) {
  const FirstStart list =
      test_cars::list_of(test_cars::roller_six(), test_cars::all_old(), [](FirstStartInput& in) {
        in.air = celsius(7);
        in.stood = 10.0 * hour;
      });
  EXPECT_NEAR(*figure_of(list, "key_on_sensors", "coolant and intake").middle, 280.15, 1e-9);
  const FirstStart warm = test_cars::list_of(test_cars::roller_six(), test_cars::all_old(),
                                             [](FirstStartInput& in) { in.stood = 1.0 * hour; });
  EXPECT_FALSE(figure_of(warm, "key_on_sensors", "coolant and intake").middle.has_value());
}

TEST(FirstStart, WhatWasNotPredictedIsSaidInWordsAndTheListStillComes) {
  const FirstStart list =
      test_cars::list_of(test_cars::flat_v8(), test_cars::all_new(), [](FirstStartInput& in) {
        in.running = nullptr;
        in.calibration = nullptr;
        in.not_computed = "not computed yet: run predict";
      });
  EXPECT_GT(list.steps.size(), 15U);
  EXPECT_THAT(list.not_known, HasSubstr("pulse width"));
  const Expected& mixture = figure_of(list, "run_in_table", "mixture");
  EXPECT_FALSE(mixture.known);
  EXPECT_THAT(mixture.says, HasSubstr("run predict"));
  EXPECT_FALSE(figure_of(list, "cranking", "pulse width").known);
}

TEST(FirstStart, ACamThatNobodyCanPredictIsToBeLearned) {
  Running r = test_cars::running(0.4);
  const FirstStart list = test_cars::list_of(test_cars::roller_six(), test_cars::all_old(),
                                             [&](FirstStartInput& in) { in.running = &r; });
  const Expected& idle = figure_of(list, "first_idle", "idle pressure");
  EXPECT_FALSE(idle.known);
  EXPECT_THAT(idle.says, HasSubstr("to be learned"));
  EXPECT_THAT(list.sentence, HasSubstr("to be learned"));
}

TEST(FirstStart, ATableThatMayBeLeanAtTheRunInIsMadeRicherBeforehand) {
  Running r = test_cars::running(1.0);
  for (auto& p : r.run_in) {
    p.table->richer = 0.07;
    p.table->chance_lean = 0.12;
  }
  const FirstStart list = test_cars::list_of(test_cars::flat_v8(), test_cars::all_new(),
                                             [&](FirstStartInput& in) { in.running = &r; });
  EXPECT_THAT(list.sentence, HasSubstr("7 % richer"));
  EXPECT_THAT(all_text(*list.find("run_in_table")), HasSubstr("7 % richer from 1800 to 2700 rpm"));
}

TEST(FirstStart, FuelAboveTheThrottleIsLookedForThere) {
  const FirstStart body = test_cars::list_of(test_cars::throttle_body_v8(), test_cars::all_old());
  EXPECT_THAT(all_text(*body.find("fuel_leak_test")), HasSubstr("down the throttle body"));
  EXPECT_THAT(all_text(*body.find("vacuum_leaks")), HasSubstr("base plate"));
}

TEST(FirstStart, EveryCarHasItsOwnListAndEveryListItsCautionsAndStops) {
  std::vector<std::string> seen;
  for (const car::Sheet& sheet :
       {test_cars::flat_v8(), test_cars::roller_six(), test_cars::high_four(),
        test_cars::throttle_body_v8(), test_cars::plain_four()}) {
    const FirstStart list = test_cars::list_of(sheet, test_cars::all_new());
    std::string all;
    int number = 0;
    for (const StartStep& s : list.steps) {
      EXPECT_EQ(s.number, ++number);
      EXPECT_FALSE(s.act.empty()) << s.id;
      all += all_text(s) + "\n";
    }
    EXPECT_EQ(std::ranges::find(seen, all), seen.end());
    seen.push_back(all);
    for (const std::string& c : list.cautions) all += c + "\n";
    for (const char* word :
         {"sprays", "exhaust gas", "Belts and fan", "ignition voltage", "Ears"}) {
      EXPECT_THAT(all, HasSubstr(word));
    }
    EXPECT_THAT(list.cautions.back(), HasSubstr("Local codes"));
    const StartStep* runs = list.find(list.run_in ? "cam_run_in" : "first_idle");
    ASSERT_NE(runs, nullptr);
    std::string stops;
    for (const auto& line : runs->stop) stops += line;
    for (const char* word : {"Oil pressure", "Coolant", "Fuel", "knock"}) {
      EXPECT_THAT(stops, HasSubstr(word));
    }
    EXPECT_EQ(stops.find("leaner") != std::string::npos, list.run_in);
  }
}

// Common practice, no source: 10 psi of oil for each 1000 rpm.
TEST(FirstStart, OilPressureAtTheRunInIsTenPsiForEachThousandRpm) {
  const FirstStart list = test_cars::list_of(test_cars::flat_v8(), test_cars::all_new());
  EXPECT_NEAR(*figure_of(list, "cam_run_in", "oil pressure").low, 2 * 10 * 6894.757, 1);
}

TEST(FirstStart, PhasesFollowEachOtherAndNothingIsCrankedBeforeFuelWasTested) {
  for (const StartAnswers& a : {test_cars::all_new(), test_cars::all_old()}) {
    const FirstStart list = test_cars::list_of(test_cars::flat_v8(), a);
    const auto until = list.steps.begin() + static_cast<std::ptrdiff_t>(place_of(list, "warm_up"));
    EXPECT_TRUE(std::ranges::is_sorted(list.steps.begin(), until + 1, {}, &StartStep::phase));
    EXPECT_GT(place_of(list, "look_again"), place_of(list, "warm_up"));
    EXPECT_LT(place_of(list, "fuel_leak_test"), place_of(list, "cranking"));
    EXPECT_LT(place_of(list, "base_timing"), place_of(list, "start"));
  }
}

}  // namespace
}  // namespace fuelwright::advice::first_start_test
