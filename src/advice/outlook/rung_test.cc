// Each step of full throttle is itself a test.
#include "advice/outlook/rung.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "advice/outlook/internal/test_car.h"
#include "advice/proposal/invented_estimate.h"
#include "physics/ensemble/sample.h"

namespace fuelwright::advice::rung_test {
namespace {

using car::NodeMark;
using ::testing::HasSubstr;
using ::testing::Not;

const car::Grid kGrid = test_grid();
const car::Surface kTable = car::Surface::flat(kGrid, 0.80);
const car::Surface kAim = car::Surface::flat(kGrid, 0.80);
constexpr std::size_t kStep = 6 * kFullRow + 3;  // 4000 rpm

Outlook look(const MapEstimate& e, std::vector<RungCheck> climbed = {}) {
  const auto o =
      look_ahead({e, test_sheet(), kTable, kAim, physics::FamilyTest{}, std::move(climbed)}, {});
  EXPECT_TRUE(o) << o.error().line();
  return *o;
}
MapEstimate known() { return invented_estimate(kGrid, 0.80, 0.015, NodeMark::inferred); }

// sd 1.5 %, reading 2 %: together 2.5 %, 2.576 of it 6.44 %; 0.80 exp(-0.0644) = 0.7501 and
// 0.80 exp(0.0644)/0.97 = 0.8796, since up to 3 % of the fuel may be missing at a new flow.
TEST(RungCheck, ItsIntervalHoldsTheReadingsOwnErrorToo) {
  const Outlook before = look(known());
  const auto at = [&](double read) { return *check_rung(before, kStep, car::lambda(read), 0.02); };
  EXPECT_NEAR(at(0.8).rich.value, 0.7501, 1e-4);
  EXPECT_NEAR(at(0.8).lean.value, 0.8796, 1e-4);
  EXPECT_EQ(at(0.80).speed.rpm, 4000);
  EXPECT_EQ(at(0.86).came, Came::as_predicted);
  EXPECT_EQ(at(0.77).came, Came::as_predicted);
  EXPECT_EQ(at(0.89).came, Came::leaner);
  EXPECT_EQ(at(0.74).came, Came::richer);
}

TEST(RungCheck, ARefutedStepStopsTheClimbFromItsSpeedOn) {
  MapEstimate e = known();
  const RungCheck lean = *check_rung(look(e), kStep, car::lambda(0.92), 0.01);
  for (std::size_t ix = 1; ix <= 3; ++ix)
    set_node(e, 6 * kFullRow + ix, 0.80, 0.01, NodeMark::measured);
  EXPECT_TRUE(look(e).ladder.next);
  const Outlook o = look(e, {lean});
  EXPECT_FALSE(o.ladder.next);
  EXPECT_EQ(o.ladder.rungs[3].step, Step::closed);
  for (std::size_t ix = 4; ix < 6; ++ix) {
    EXPECT_EQ(o.nodes[6 * kFullRow + ix].go, Go::not_predicted);
    EXPECT_EQ(o.nodes[6 * kFullRow + ix].because, Because::rung_refuted);
    EXPECT_FALSE(o.nodes[6 * kFullRow + ix].mixture);
    EXPECT_EQ(o.nodes[6 + ix].go, Go::fine);  // light load
  }
  EXPECT_EQ(o.nodes[6 * 3 + 1].because, look(e).nodes[6 * 3 + 1].because);  // 85 kPa, 2000 rpm
}

TEST(RungCheck, TheLowestRefutedStepCounts) {
  const Outlook before = look(known());
  const RungCheck high = *check_rung(before, kStep + 1, car::lambda(0.92), 0.01);
  const RungCheck low = *check_rung(before, kStep - 1, car::lambda(0.70), 0.01);
  const RungCheck good = *check_rung(before, kStep - 2, car::lambda(0.80), 0.01);
  EXPECT_EQ(look(known(), {good, high, low}).refuted->speed.rpm, 3000);
  EXPECT_FALSE(look(known(), {good}).refuted);
}

TEST(RungCheck, TheWordsSayStopAndWhereToLook) {
  const Outlook before = look(known());
  const auto text = [&](double read) {
    std::string out;
    const RungCheck c = *check_rung(before, kStep, car::lambda(read), 0.01);
    for (const auto& l :
         words(look(known(), {c}), {UnitSystem::metric, *car::MixtureScale::parse("afr 14.7")}))
      out += l + "\n";
    return out;
  };
  EXPECT_THAT(text(0.92), HasSubstr("Stop climbing: full throttle at 4000 rpm read lambda 0.920"));
  EXPECT_THAT(text(0.92), HasSubstr("Fuel pressure and delivery come first"));
  EXPECT_THAT(text(0.70), HasSubstr("holds back air or exhaust"));
  EXPECT_THAT(text(0.92), Not(HasSubstr("The next step at full throttle is")));
  EXPECT_THAT(text(0.80), HasSubstr("The next step at full throttle is"));
}

// Of engines that are what was believed 5 of 1000 are called richer, and as many leaner if all the
// fuel is missing that may be; 4000 draws, four sd of a count of 0.5 %: 0.45 %.
TEST(RungCheck, OfEnginesThatAreWhatWasBelievedOneInAHundredIsCalledWrongly) {
  constexpr int kEngines = 4000;
  constexpr double kReading = 0.01;
  const Outlook before = look(known());
  const NodeOutlook& n = before.nodes[kStep];
  const Eigen::MatrixXd z = physics::normal_draws(kEngines, 2, 9);
  int leaner = 0, richer = 0;
  for (int k = 0; k < kEngines; ++k) {
    const double ln = std::log(n.mixture->middle.value) + n.sd * z(k, 0) + kReading * z(k, 1);
    const auto came = [&](double missing) {
      return check_rung(before, kStep, car::lambda(std::exp(ln) / (1 - missing)), kReading)->came;
    };
    leaner += came(0.03) == Came::leaner ? 1 : 0;
    richer += came(0.0) == Came::richer ? 1 : 0;
  }
  EXPECT_NEAR(leaner / 4000.0, 0.005, 0.0045);
  EXPECT_NEAR(richer / 4000.0, 0.005, 0.0045);
}

TEST(RungCheck, WhatWasNotPredictedOrIsNoReadingIsRefused) {
  MapEstimate e = known();
  set_node(e, kStep, 0.80, 0.01, NodeMark::measured);
  const Outlook before = look(e);
  EXPECT_FALSE(check_rung(before, kStep, car::lambda(0.8), 0.01).ok());
  EXPECT_FALSE(check_rung(before, kStep + 1, car::lambda(std::nan("")), 0.01).ok());
  EXPECT_FALSE(check_rung(before, kStep + 1, car::lambda(0.8), 0).ok());
  EXPECT_TRUE(check_rung(before, kStep + 1, car::lambda(0.8), 0.01).ok());
}

}  // namespace
}  // namespace fuelwright::advice::rung_test
