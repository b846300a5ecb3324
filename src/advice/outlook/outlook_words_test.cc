#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "advice/outlook/internal/test_car.h"
#include "advice/outlook/outlook.h"
#include "advice/proposal/invented_estimate.h"

namespace fuelwright::advice::outlook_words_test {
namespace {

using car::NodeMark;
using ::testing::HasSubstr;
using ::testing::Not;

const car::Grid kGrid = test_grid();
const car::Surface kTable = car::Surface::flat(kGrid, 0.80);
const car::Surface kAim = car::Surface::flat(kGrid, 0.80);

Outlook look(const MapEstimate& e,
             const std::optional<physics::FamilyTest>& family = physics::FamilyTest{}) {
  const auto o = look_ahead({e, test_sheet(), kTable, kAim, family}, {});
  EXPECT_TRUE(o) << o.error().line();
  return *o;
}
std::string text(const Outlook& o, UnitSystem units = UnitSystem::metric) {
  std::string out;
  for (const auto& l : words(o, {units, *car::MixtureScale::parse("afr 14.7")})) out += l + "\n";
  return out;
}

TEST(OutlookWords, TheyNameTheNextStepItsIntervalWhenToLiftAndWhatToWatch) {
  MapEstimate e = invented_estimate(kGrid, 0.80, 0.015, NodeMark::inferred);
  set_node(e, 6 * kFullRow + 1, 0.80, 0.01, NodeMark::measured);
  const std::string t = text(look(e));
  EXPECT_THAT(t,
              HasSubstr("The next step at full throttle is 3000 rpm: fine to try. From light load "
                        "and the steps below lambda 0.800 (11.8 AFR on the 14.7 scale) (95 % "
                        "between 0.777 and 0.849) is predicted."));
  EXPECT_THAT(t, HasSubstr("Lift at once if the mixture reads leaner than lambda 0.849"));
  EXPECT_THAT(t, HasSubstr("Watch fuel pressure: the regulator should hold 300 kPa above the "
                           "manifold's pressure."));
  EXPECT_THAT(t, HasSubstr("closed road"));
  EXPECT_THAT(text(look(e), UnitSystem::us), HasSubstr("43.5 psi above the manifold's pressure"));
}

TEST(OutlookWords, TheySendTheDriverToLightLoadFirst) {
  const std::string t = text(look(driven(kTable, row(1, 0, 1))));
  EXPECT_THAT(t, HasSubstr("Light load at every engine speed comes first; it is not known yet at"));
  EXPECT_THAT(t, HasSubstr("It would take the full throttle not driven yet from"));
}

TEST(OutlookWords, OutsideItsFamilyTheySaySoAndOfferNoStep) {
  physics::FamilyTest outside;
  outside.verdict = physics::Family::outside;
  outside.cells = 12;
  const std::string t =
      text(look(invented_estimate(kGrid, 0.8, 0.01, NodeMark::inferred), outside));
  EXPECT_THAT(t, HasSubstr("What was measured does not fit the parts on the sheet"));
  EXPECT_THAT(t, HasSubstr("do not try the next one on our word"));
  EXPECT_THAT(t, Not(HasSubstr("The next step at full throttle is")));
  EXPECT_THAT(t, Not(HasSubstr("Watch fuel pressure")));
}

TEST(OutlookWords, ANodeIsSaidInOneSentence) {
  const Outlook o = look(invented_estimate(kGrid, 0.80, 0.015, NodeMark::inferred));
  const std::string one = says(o, 6 * kFullRow + 2, {});
  EXPECT_THAT(one, HasSubstr("3000 rpm, 100.0 kPa: fine to try, because the whole interval"));
  EXPECT_THAT(one, HasSubstr("more fuel than was ever driven: watch fuel pressure"));
}

TEST(OutlookWords, EveryReasonHasWordsOfItsOwn) {
  Outlook o = look(invented_estimate(kGrid, 0.80, 0.015, NodeMark::inferred));
  std::vector<std::string> said;
  for (int b = 0; b <= static_cast<int>(Because::needs_boost); ++b) {
    o.nodes[0].go = b == 0 ? Go::driven : Go::with_care;
    o.nodes[0].because = static_cast<Because>(b);
    said.push_back(says(o, 0, {}));
  }
  std::sort(said.begin(), said.end());
  EXPECT_EQ(std::adjacent_find(said.begin(), said.end()), said.end());
}

}  // namespace
}  // namespace fuelwright::advice::outlook_words_test
