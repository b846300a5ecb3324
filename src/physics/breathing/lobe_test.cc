#include "physics/breathing/internal/lobe.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>

#include "car/build/sheet_file.h"

namespace fuelwright::physics {
namespace {

// A street V8's hydraulic cam (common practice, no source): 214 deg at 0.050 in, 268 advertised,
// 0.450 in lift.
LobeCard street() {
  LobeCard c;
  c.valve_lift_m = 0.450 * 0.0254;
  c.rocker = 1.5;
  c.at_006_deg = 268;
  c.at_050_deg = 214;
  c.at_200_deg = 128;
  c.knows_200 = true;
  c.lost_m = 0.0002;
  c.centre_deg = 360 + 110;
  return c;
}

Lobe made(const LobeCard& card) {
  auto lobe = Lobe::make(card);
  EXPECT_TRUE(lobe.ok()) << (lobe.ok() ? "" : lobe.error().line());
  EXPECT_TRUE(lobe.ok());
  return *lobe;
}

// Crank degrees with the tappet above this lift.
double duration(const Lobe& lobe, double lift_in) {
  const auto edge = [&](double sign) {
    double inside = 0, outside = 360;
    for (int i = 0; i < 60; ++i) {
      const double x = (inside + outside) / 2;
      (lobe.tappet_m(sign * x) >= lift_in * 0.0254 ? inside : outside) = x;
    }
    return inside;
  };
  return edge(1) + edge(-1);
}

constexpr double kCard_deg = 0.5;  // what a card's degrees are worth at best

TEST(Lobe, TheDurationsOfTheCardComeBack) {
  for (const double at_050 : {180.0, 214.0, 236.0, 262.0, 300.0}) {
    for (const double ramps : {34.0, 48.0, 54.0, 80.0}) {
      for (const double flank : {65.0, 77.0, 90.0, 105.0}) {
        LobeCard c = street();
        c.at_050_deg = at_050;
        c.at_006_deg = at_050 + ramps;
        c.at_200_deg = at_050 - flank;
        const auto lobe = Lobe::make(c);
        ASSERT_TRUE(lobe.ok()) << lobe.error().line();
        EXPECT_NEAR(duration(*lobe, 0.006), c.at_006_deg, kCard_deg);
        EXPECT_NEAR(duration(*lobe, 0.050), c.at_050_deg, kCard_deg);
        EXPECT_NEAR(duration(*lobe, 0.200), c.at_200_deg, kCard_deg);
      }
    }
  }
}

TEST(Lobe, TheValveRisesAsFarAsTheCardSaysLessWhatIsLost) {
  LobeCard c = street();
  c.lash_m = 0.0003;
  const Lobe lobe = made(c);
  EXPECT_NEAR(lobe.tappet_m(0), 0.300 * 0.0254, 1e-12);  // 0.450 in over 1.5
  EXPECT_NEAR(lobe.valve_m(0), 0.450 * 0.0254 - 0.0003 - 0.0002, 1e-12);
  const LiftCurve lift = lift_curve(lobe);
  EXPECT_EQ(std::max_element(lift.begin(), lift.end()) - lift.begin(), 470);
}

TEST(Lobe, LiftFallsFromTheNoseOnBothSidesWithoutAJump) {
  for (const double shape : {-1.0, 0.0, 1.0}) {
    for (const double ramps : {10.0, 40.0, 54.0, 120.0}) {
      LobeCard c = street();
      c.shape = shape;
      c.at_006_deg = c.at_050_deg + ramps;
      const Lobe lobe = made(c);
      double before = lobe.tappet_m(0);
      for (double x = 0.1; x < 300; x += 0.1) {
        const double here = lobe.tappet_m(x);
        EXPECT_LE(here, before + 1e-15) << x;
        EXPECT_LT(before - here, 0.1 * 0.0004) << x;  // 0.4 mm a degree: no tappet is that quick
        EXPECT_GE(here, 0);
        EXPECT_NEAR(here, lobe.tappet_m(-x), 1e-15);
        before = here;
      }
      EXPECT_EQ(before, 0);
    }
  }
}

// A flat tappet follows up to about 0.0004 in per cam degree squared, rollers to about 0.0006
// (common practice, no source); a cam degree is two crank degrees. Steps of 1 deg, the joints of
// the pieces included.
TEST(Lobe, AStreetLobeAcceleratesAsOneThatCanBeGround) {
  constexpr double kMost_m_per_deg2 = 0.0006 * 0.0254 / 4;
  const Lobe lobe = made(street());
  for (double x = -200; x <= 200; x += 1) {
    const double second = lobe.tappet_m(x + 1) - 2 * lobe.tappet_m(x) + lobe.tappet_m(x - 1);
    EXPECT_LT(std::abs(second), kMost_m_per_deg2) << x;
  }
}

TEST(Lobe, LashAndLostMotionOpenLaterAndShutEarlier) {
  LobeCard loose = street();
  loose.lash_m = 0.0005;
  const Lobe tight = made(street()), wide = made(loose);
  const auto open = [](const Lobe& lobe) {
    const LiftCurve lift = lift_curve(lobe);
    return std::count_if(lift.begin(), lift.end(), [](double l) { return l > 0; });
  };
  EXPECT_GT(open(tight), open(wide) + 8);
  EXPECT_GT(open(wide), 180);
}

TEST(Lobe, AFullerFlankLiftsMoreWithTheSameCard) {
  LobeCard full = street(), lean = street();
  full.shape = 1;
  lean.shape = -1;
  const Lobe f = made(full), u = made(street()), l = made(lean);
  const double x = (214 + 268) / 4.0;  // middle of the flank
  EXPECT_GT(f.tappet_m(x), u.tappet_m(x));
  EXPECT_GT(u.tappet_m(x), l.tappet_m(x));
  EXPECT_NEAR(duration(f, 0.050), duration(l, 0.050), kCard_deg);
}

TEST(Lobe, ALaterClosingMovesOnlyTheClosingFlank) {
  LobeCard late = street();
  late.later_closing_deg = 10;
  const Lobe a = made(street()), b = made(late);
  EXPECT_NEAR(duration(b, 0.006) - duration(a, 0.006), 10, 1e-6);
  for (double x = -180; x <= 0; x += 5) EXPECT_EQ(a.tappet_m(x), b.tappet_m(x));
}

TEST(Lobe, ATypicalDurationAt200GivesWayToALobeThatCanBeGround) {
  LobeCard c = street();
  c.knows_200 = false;
  for (const double at_200 : {10.0, 60.0, 128.0, 205.0, 230.0, 0.0}) {
    c.at_200_deg = at_200;
    EXPECT_NEAR(duration(made(c), 0.050), 214, kCard_deg) << at_200;
  }
  c.valve_lift_m = 0.0060;  // 4 mm at the tappet: never reaches 0.200 in
  EXPECT_NEAR(duration(made(c), 0.050), 214, kCard_deg);
}

void expect_refused(const LobeCard& card, const std::string& key, const std::string& says) {
  const auto lobe = Lobe::make(card);
  ASSERT_FALSE(lobe.ok()) << key;
  EXPECT_EQ(lobe.error().code, ErrorCode::out_of_range);
  EXPECT_EQ(lobe.error().where, key);
  EXPECT_NE(lobe.error().message.find(says), std::string::npos) << lobe.error().line();
}

TEST(Lobe, ACardThatContradictsItselfIsRefusedByTheKeyThatDoesIt) {
  LobeCard c = street();
  c.valve_lift_m = 0.0018;
  expect_refused(c, "cam.intake_lift", "its duration is stated at 0.050 in");
  c = street();
  c.side = "exhaust";
  c.at_006_deg = 216;
  expect_refused(c, "cam.exhaust_advertised", "expected 8 deg more");
  c = street();
  c.at_200_deg = 214;
  expect_refused(c, "cam.intake_duration_200", "is not below");
  c.at_200_deg = 4;
  expect_refused(c, "cam.intake_duration_200", "no lobe that can be ground");
  c.at_200_deg = 210;
  expect_refused(c, "cam.intake_duration_200", "no lobe that can be ground");
  c = street();
  c.valve_lift_m = 0.0060;
  expect_refused(c, "cam.intake_duration_200", "the tappet rises 0.1575 in only");
  c = street();
  c.lash_m = 0.0112;
  expect_refused(c, "cam.intake_lash", "leaves nothing");
  c = street();
  c.valve_lift_m = std::nan("");
  expect_refused(c, "cam.intake_lift", "");
}

car::Sheet sheet(const std::string& cam) {
  auto s = car::read_sheet(
      "[engine]\ndisplacement = \"5.7 l\"\ncylinders = 8\n[cam]\nintake_duration_050 = \"214 "
      "deg\"\n" +
          cam + "[injection]\ninjector_flow = \"36 lb/h at 43.5 psi\"\n[fuel]\nname = \"E10\"\n",
      "sheet.toml");
  EXPECT_TRUE(s.ok()) << (s.ok() ? "" : s.error().line());
  return *s;
}

TEST(Lobe, TheSheetPlacesBothLobesAboutTheOverlap) {
  const car::Sheet s = sheet("lobe_separation = \"112 deg\"\nintake_centreline = \"108 deg\"\n");
  EXPECT_NEAR(intake_card(s, {}).centre_deg, 360 + 108, 1e-9);
  EXPECT_NEAR(exhaust_card(s, {}).centre_deg, 360 - 116, 1e-9);  // 112 = (108 + 116)/2
}

TEST(Lobe, DirectTappetsLoseHalfTheMotionOfPushrods) {
  const car::Sheet rods = sheet("tappet = \"hydraulic_flat\"\n"),
                   direct = sheet("tappet = \"direct\"\n");
  EXPECT_NEAR(intake_card(rods, {}).lost_m, 0.00020, 1e-12);
  EXPECT_NEAR(intake_card(direct, {}).lost_m, 0.00010, 1e-12);
}

}  // namespace
}  // namespace fuelwright::physics
